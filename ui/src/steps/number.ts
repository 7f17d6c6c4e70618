import type { Quantity } from '../generated/Quantity';
import type { Unit } from '../generated/Unit';

/** Why a text is not sent as a number. */
export type Unread = 'unreadable' | 'ambiguous';

/**
 * A typed number as it travels: with a point for the decimal sign, digits as they were written. One sign before
 * exactly three digits could stand for thousands; it is asked about, never guessed. `null` for an empty line.
 */
export function quantityOf(text: string, unit: Unit): Quantity | null | Unread {
  const plain = text.trim().replace('−', '-');
  if (plain === '') return null;
  if (/^[1-9]\d{0,2}[.,]\d{3}$/.test(plain)) return 'ambiguous';
  if (!/^-?\d{1,9}([.,]\d{1,9})?$/.test(plain)) return 'unreadable';
  return { value: plain.replace(',', '.'), unit };
}

/** Why this text would not be sent; `null` when it would, or is empty. */
export function unreadOf(text: string): Unread | null {
  const read = quantityOf(text, 'ohm');
  return typeof read === 'string' ? read : null;
}
