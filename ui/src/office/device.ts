import type { OfficeDevice } from '../generated/OfficeDevice';
import type { OfficeWords } from './words/en';

export type Kept = 'whole' | 'lacks' | 'nothing' | 'parted' | 'out';

/** How much of what a device brought is here. Never more than the hub said. */
export function kept(device: OfficeDevice): Kept {
  if (device.revoked !== null) return 'out';
  if (device.parted_at !== null) return 'parted';
  if (device.stored_through === 0) return 'nothing';
  return Object.values(device.missing).some((count) => count > 0) ? 'lacks' : 'whole';
}

/** "3 photos and 1 name". */
export function lacking({ missing }: OfficeDevice, words: OfficeWords['device']): string {
  const named = (['photos', 'samples', 'details', 'people'] as const).filter((kind) => missing[kind] > 0);
  const said = named.map((kind) => words[kind](missing[kind]));
  const last = said.pop() ?? '';
  return said.length === 0 ? last : `${said.join(', ')} ${words.and} ${last}`;
}
