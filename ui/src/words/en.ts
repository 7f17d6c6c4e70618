import { measuringEn } from './measuring.en';

/** The page's own words. Sentences about the domain come in the view. */
export const en = {
  measuring: measuringEn,
  home: { title: 'Jobs' },
};

/** Every key there has to be; a language that lacks one fails `svelte-check`. */
export type Words = typeof en;
