import type { Command } from '../generated/Command';
import type { ProvingView } from '../generated/ProvingView';
import type { VerdictView } from '../generated/VerdictView';
import { nextToSweep } from '../sweep/next';
import { speech } from '../words/speech.svelte';

/** Where an action is done that needs more than a wish. */
export type Elsewhere = 'isolation' | 'bars' | 'part';
/** What the main key says, what it wishes, and where it leads. */
export type Main = { words: string; wishes: Command[]; place?: Elsewhere };

const PLACES: Partial<Record<string, Elsewhere>> = {
  CHECK_ISOLATION: 'isolation',
  OPEN_BARS: 'bars',
  ENTER_LIMIT: 'part',
  SET_GROUPS: 'part',
};

/** The sweep that is asked for: of the conductor that is named, else of the first that no sweep speaks for. */
function sweepOf(proving: ProvingView | null, conductor: number | null): Main | null {
  if (!proving?.can_sweep) return null;
  const row = proving.sweeps.find((one) => one.conductor === conductor) ?? nextToSweep(proving);
  if (!row) return null;
  return { words: speech.words.sweep.list.sweepOf(row.name), wishes: [{ wish: 'plan-sweep', conductor: row.conductor, plan: proving.plan }] };
}

/** The conductor no sweep speaks for yet, while a verdict waits to be given again: one key away, beside judging. */
export function sweepGoesOn(verdict: VerdictView, proving: ProvingView | null): Main | null {
  return verdict.outdated && verdict.action_code === 'SWEEP' && proving && nextToSweep(proving) ? sweepOf(proving, null) : null;
}

/** What the one key of the verdict does; `null` where only a person elsewhere can do what is asked. */
export function mainOf(
  verdict: VerdictView,
  canJudge: boolean,
  proving: ProvingView | null,
  go: ((place: Elsewhere) => void) | undefined,
): Main | null {
  const words = speech.words.measuring.verdict;
  const { action, action_code: code, action_conductor: conductor } = verdict;
  if (verdict.outdated) {
    return canJudge ? { words: words.judgeAgain, wishes: [{ wish: 'judge' }] } : null;
  }
  if (code === 'TOUCH_AGAIN' || code === 'MEASURE') {
    const chosen: Command[] = conductor === null ? [] : [{ wish: 'choose-conductor', conductor }];
    return { words: action, wishes: [{ wish: 'measure-more' }, ...chosen] };
  }
  if (code === 'SWEEP') return sweepOf(proving, conductor);
  if (code === 'ZERO_LEADS') return { words: speech.words.proving.zeroNow, wishes: [{ wish: 'zero-leads' }] };
  if (code === 'REPLACE' || code === 'DONE') return { words: words.finish, wishes: [{ wish: 'finish' }] };
  const place = PLACES[code];
  return go && place ? { words: words.places[place], wishes: [], place } : null;
}
