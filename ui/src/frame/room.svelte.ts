import { MediaQuery } from 'svelte/reactivity';

/** Where the style sheet lays the picture beside the card. */
const query = typeof matchMedia === 'function' ? new MediaQuery('(min-width: 64rem)') : null;

/** Whether there is room beside the card. */
export const room = {
  get wide(): boolean {
    return query?.current ?? false;
  },
};
