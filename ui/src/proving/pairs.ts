import type { ProvingView } from '../generated/ProvingView';

/** Two conductors, by their index in the part. */
export type Pair = { a: number; b: number };

/** A list that can be opened from elsewhere. */
export type Place = 'zero' | 'bars' | 'isolation';

/** Somebody said something about the bar of a pair: the question about all of them at once is out of place. */
export function spokenOf(proving: ProvingView | null): boolean {
  return proving?.bars.some(({ bar }) => bar.present !== null) ?? false;
}

/** The same two, whichever is named first. */
export function same(one: Pair, other: Pair): boolean {
  return (one.a === other.a && one.b === other.b) || (one.a === other.b && one.b === other.a);
}
