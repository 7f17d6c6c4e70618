import type { BenchView } from '../generated/BenchView';
import type { Command } from '../generated/Command';
import type { Reads } from '../generated/Reads';
import type { ReadingView } from '../generated/ReadingView';
import type { StepFields } from '../generated/StepFields';

export type ReadingFields = Extract<StepFields, { kind: 'reading' }>;

/** What begins the reading. */
export function wishOf(reads: Reads, part: ReadingView, bench: BenchView): Command {
  switch (reads) {
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
