import type { Language } from '../generated/Language';
import { de } from './de';
import { en, type Words } from './en';

/** Both languages, by their code in the view. */
export const tongues: Record<Language, Words> = { en, de };

/**
 * The language spoken now. `speech.words.home.title` is reactive wherever it is read in a component.
 * The view decides the language; before the first view it is that of the browser.
 */
class Speech {
  language: Language = $state('en');

  get words(): Words {
    return tongues[this.language];
  }
}

export const speech = new Speech();
