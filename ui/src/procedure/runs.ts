import type { WorkLine } from '../generated/WorkLine';

/** Lines that stand together: a long quiet run folds. */
export type Run = { kind: 'settled' | 'to-come' | 'loud'; from: number; lines: WorkLine[] };

const settled = ['done', 'skipped', 'untested'];

/** What asks for something, and what this page does not know, is never hidden in a fold. */
function kindOf(line: WorkLine, waiting: ReadonlySet<string>): Run['kind'] {
  if (waiting.has(line.step)) return 'loud';
  if (settled.includes(line.state)) return 'settled';
  return line.state === 'to-come' ? 'to-come' : 'loud';
}

/** Neighbours of one kind, numbered from `from`. */
export function runs(lines: WorkLine[], from: number, waiting: ReadonlySet<string>): Run[] {
  const all: Run[] = [];
  lines.forEach((line, index) => {
    const kind = kindOf(line, waiting);
    const last = all.at(-1);
    if (last?.kind === kind) last.lines.push(line);
    else all.push({ kind, from: from + index, lines: [line] });
  });
  return all;
}
