import type { AtEnd } from '../generated/AtEnd';
import type { Conductor } from '../generated/Conductor';
import type { End } from '../generated/End';
import type { Part } from '../generated/Part';
import type { PartProblem } from '../generated/PartProblem';
import type { WordedProblem } from '../generated/WordedProblem';

// How a description grows while it is typed. Whether it is right is not decided here.

/** What may hang at an end, in the order it is offered; what is harmless first, what is not known last. */
export const atEnds: AtEnd[] = [
  'open-plug',
  'bare-terminal',
  'unpowered-load',
  'control-unit',
  'inflator',
  'tensioner',
  'unknown',
];

const letters = 'ABCDEFGH';

function end(connector: number, cavity: number, at: AtEnd = 'unknown'): End {
  return { connector, cavity, at };
}

/** A part of which nothing is known but that it has two connectors. What hangs on them is not assumed. */
export function unknownPart(): Part {
  const connector = (name: string) => ({ name, cavities: 8, rows: 2 });
  return { name: '', connectors: [connector('A'), connector('B')], conductors: [], touches_wanted: 2 };
}

export function addConnector(part: Part) {
  const taken = new Set(part.connectors.map((connector) => connector.name));
  const name = [...letters].find((letter) => !taken.has(letter)) ?? '';
  part.connectors.push({ name, cavities: 8, rows: 2 });
}

/** Conductors that ended on it keep their row but name no cavity any more, so that they are asked about. */
export function removeConnector(part: Part, index: number) {
  part.connectors.splice(index, 1);
  for (const conductor of part.conductors) {
    for (const at of [conductor.from, conductor.to]) {
      if (at.connector === index) Object.assign(at, end(0, 0));
      else if (at.connector > index) at.connector -= 1;
    }
  }
}

/** One more, going on from the last: next cavities, same connectors, same group, same ends. */
export function addConductor(part: Part) {
  const last = part.conductors.at(-1);
  const taken = new Set(part.conductors.map((conductor) => conductor.name));
  let number = part.conductors.length + 1;
  while (taken.has(String(number))) number += 1;
  const next = (at: End | undefined, connector: number): End =>
    at ? end(at.connector, at.cavity + 1, at.at) : end(connector, 1);
  const other = Math.min(1, Math.max(part.connectors.length - 1, 0));
  part.conductors.push({
    name: String(number),
    group: last?.group ?? null,
    from: next(last?.from, 0),
    to: next(last?.to, other),
    drawn_only: false,
  });
}

/** Without this one; pairs it belonged to are no pairs any more, the others go on naming the same two. */
export function removeConductor(part: Part, index: number) {
  part.conductors.splice(index, 1);
  const moved = (conductor: number) => (conductor > index ? conductor - 1 : conductor);
  const left = (part.bars ?? []).filter(([a, b]) => a !== index && b !== index);
  part.bars = left.map(([a, b]): [number, number] => [moved(a), moved(b)]);
}

/** One more pair, the lower one first; a pair stands there once. */
export function addBar(part: Part, a: number, b: number) {
  const pair: [number, number] = [Math.min(a, b), Math.max(a, b)];
  const known = (part.bars ?? []).some(([one, other]) => one === pair[0] && other === pair[1]);
  if (!known) part.bars = [...(part.bars ?? []), pair];
}

/** One conductor for each cavity of the first connector, to the same cavity of the second. */
export function straightThrough(part: Part) {
  const count = Math.min(part.connectors[0]?.cavities ?? 0, part.connectors[1]?.cavities ?? 0, 64);
  part.conductors = Array.from({ length: count }, (_, index): Conductor => {
    return { name: String(index + 1), group: null, from: end(0, index + 1), to: end(1, index + 1), drawn_only: false };
  });
}

/** Says of every conductor's end on this connector what hangs there. */
export function allEndsOn(part: Part, connector: number, at: AtEnd) {
  for (const conductor of part.conductors) {
    if (conductor.from.connector === connector) conductor.from.at = at;
    if (conductor.to.connector === connector) conductor.to.at = at;
  }
}

/** What hangs at all ends on this connector, if it is the same at all of them. */
export function sameOn(part: Part, connector: number): AtEnd | '' {
  const ends = part.conductors.flatMap(({ from, to }) => [from, to]).filter((at) => at.connector === connector);
  const first = ends[0]?.at;
  return first && ends.every((at) => at.at === first) ? first : '';
}

/** A whole number for the wire, from what stands in a number field; out of reach becomes 0, which is refused. */
export function whole(typed: unknown): number {
  const number = Number(typed);
  return Number.isInteger(number) && number >= 0 && number <= 255 ? number : 0;
}

/** The list a problem stands in, and its row there; `null` for the list as a whole. */
export function placeOf(problem: PartProblem): { list: string; index: number | null } {
  switch (problem.problem) {
    case 'name':
    case 'name-twice':
      return { list: problem.place, index: problem.place === 'part' ? null : problem.index };
    case 'count':
      return { list: problem.place, index: null };
    case 'face':
      return { list: 'connector', index: problem.index };
    case 'touches-wanted':
      return { list: 'part', index: null };
    case 'bar':
      return { list: 'bar', index: problem.index };
    case 'limit':
      return problem.index === null ? { list: 'limit', index: null } : { list: 'conductor', index: problem.index };
    default:
      return { list: 'conductor', index: problem.index };
  }
}

/** The sentences that belong to one row. */
export function sentencesAt(problems: WordedProblem[], list: string, index: number | null): string[] {
  return problems
    .filter(({ problem }) => {
      const place = placeOf(problem);
      return place.list === list && place.index === index;
    })
    .map(({ words }) => words);
}
