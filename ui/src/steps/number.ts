import type { Language } from '../generated/Language';
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

/** A long row of noughts as it is said: 20000000 is 20 MΩ. Empty where a text is none, so that it needs no saying. */
export function large(ohm: string, language: Language): string {
  const digits = /^[1-9]\d{3,}$/.exec(ohm.trim())?.[0];
  if (!digits) return '';
  const [power, prefix] = digits.length > 6 ? [6, 'M'] : [3, 'k'];
  const rest = digits.slice(-power).replace(/0+$/, '');
  const sign = language === 'de' ? ',' : '.';
  return `${digits.slice(0, -power)}${rest && sign + rest} ${prefix}Ω`;
}

/** Why this text would not be sent; `null` when it would, or is empty. */
export function unreadOf(text: string): Unread | null {
  const read = quantityOf(text, 'ohm');
  return typeof read === 'string' ? read : null;
}
