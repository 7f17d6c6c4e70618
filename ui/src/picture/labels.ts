import type { Tick } from '../generated/Tick';
import type { TracePlace } from '../generated/TracePlace';

/** A label with its place in pixels and the row it stands in, 0 nearest to the picture. */
export type Placed = { at: number; text: string; x: number; row: number };

/** Width of a letter at the size labels have, and the room between two labels, in rem. */
const LETTER_REM = 0.53;
const APART_REM = 0.4;
/** A label at the end of an axis may stick out of it by so much. */
const OUT_PX = 14;
const ROWS = 2;
/** Rows of signs over a trace; what is more lies over each other, and the table has it all. */
const MOST_ROWS = 4;

/** "+1 turn" as "+1", where there is no room for more; a place without a number keeps its word. */
export function short(label: string): string {
  return /^[+−-]?\d[\d.,]*/.exec(label)?.[0] ?? label;
}

/** The order in which labels claim their room: both ends, then where the movement turns round, then the others. */
function claims(ticks: Tick[]): Tick[] {
  const turnsRound = (index: number): boolean => ticks[index - 1]?.label === ticks[index + 1]?.label;
  const rank = (index: number): number => (index === 0 || index === ticks.length - 1 ? 0 : turnsRound(index) ? 1 : 2);
  return ticks.map((tick, index) => ({ tick, rank: rank(index) })).sort((a, b) => a.rank - b.rank).map(({ tick }) => tick);
}

/** What a person set their letters to; labels grow with it and then need more room. */
function rem_px(): number {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) || 16;
}

function fit(ticks: Tick[], width_px: number, rows: number, textOf: (label: string) => string): Placed[] {
  const rem = rem_px();
  const taken: [number, number][][] = Array.from({ length: rows }, () => []);
  return claims(ticks).flatMap(({ at, label }): Placed[] => {
    const text = textOf(label);
    const half = ((text.length * LETTER_REM + APART_REM) * rem) / 2;
    const x = Math.max(half - OUT_PX, Math.min((at / 1000) * width_px, width_px + OUT_PX - half));
    const isFree = (row: [number, number][]): boolean => row.every(([from, to]) => x + half <= from || x - half >= to);
    const row = taken.findIndex(isFree);
    if (row < 0) return [];
    taken[row]?.push([x - half, x + half]);
    return [{ at, text, x, row }];
  });
}

/**
 * Labels along an axis `width_px` wide, none over another: in full if all fit in one row, else short in up to two
 * rows; what finds no room is left out and only its line remains.
 */
export function placeLabels(ticks: Tick[], width_px: number): Placed[] {
  const full = fit(ticks, width_px, 1, (label) => label);
  return full.length === ticks.length ? full : fit(ticks, width_px, ROWS, short);
}

/** Rows for signs `size_rem` wide at these thousandths, so that none lies on another while rows last. */
export function rowsFor(places: number[], width_px: number, size_rem: number): number[] {
  const size_px = size_rem * rem_px();
  const ends: number[] = [];
  return places.map((at) => {
    const x = (at / 1000) * width_px;
    const free = ends.findIndex((end) => x - end >= size_px);
    const row = free >= 0 ? free : ends.length < MOST_ROWS ? ends.length : MOST_ROWS - 1;
    ends[row] = x;
    return row;
  });
}

/** Events at one place of the part stand together, in order of their first; the others each alone. */
export function spotsOf(places: TracePlace[]): TracePlace[][] {
  const touch = (a: TracePlace, b: TracePlace): boolean => a.from <= b.to && b.from <= a.to;
  const found: TracePlace[][] = [];
  for (const place of places) {
    const spot = place.repeats ? found.find((others) => others.some((one) => one.repeats && touch(one, place))) : undefined;
    if (spot) spot.push(place);
    else found.push([place]);
  }
  return found;
}
