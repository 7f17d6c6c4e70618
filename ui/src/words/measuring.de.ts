import type { measuringEn } from './measuring.en';

/** As in `measuring.en.ts`. */
export const measuringDe: typeof measuringEn = {
  conductor: 'Leiter',
};
