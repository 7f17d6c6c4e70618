import type { BenchView } from '../generated/BenchView';
import type { Command } from '../generated/Command';
import type { ReadingView } from '../generated/ReadingView';
import type { StepFields } from '../generated/StepFields';

export type ReadingFields = Extract<StepFields, { kind: 'reading' }>;

/** What is read at a step: which key begins it follows from that. */
export type ReadingKind = 'zero' | 'isolation' | 'sweep' | 'conductors';

/** The view does not name the kind: pairs are isolation, wanted touches are conductors, one of no conductor is the leads. */
export function readingKind(fields: ReadingFields, bench: BenchView): ReadingKind {
  if (fields.parts.some(({ pair }) => pair)) return 'isolation';
  if ((bench.measure?.wanted ?? 0) > 0) return 'conductors';
  const names = bench.part?.part.conductors.map(({ name }) => name) ?? [];
  return fields.parts.every(({ a, name }) => names[a] === name) ? 'sweep' : 'zero';
}

/** What begins the reading. */
export function wishOf(kind: ReadingKind, part: ReadingView, bench: BenchView): Command {
  switch (kind) {
    case 'zero':
      return { wish: 'zero-leads' };
    case 'isolation':
      return { wish: 'measure-isolation', a: part.a, other: part.b };
    case 'sweep': {
      const plan = bench.proving?.plan ?? { movement: 'turns', each_side: 2, pace_s: 4 };
      return { wish: 'plan-sweep', conductor: part.a, plan };
    }
    case 'conductors':
      return { wish: 'choose-conductor', conductor: part.a };
  }
}
