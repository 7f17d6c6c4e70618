import type { Words } from './en';
import { measuringDe } from './measuring.de';

export const de: Words = {
  measuring: measuringDe,
  home: { title: 'Aufträge' },
};
