import { speech } from '../../words/speech.svelte';
import { de } from './de';
import { en, type OfficeWords } from './en';

export const officeTongues = { en, de };

/** The office's words in the language spoken now; reactive wherever it is read in a component. */
export const office = {
  get words(): OfficeWords {
    return officeTongues[speech.language];
  },
};
