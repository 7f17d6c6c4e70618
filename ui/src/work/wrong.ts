import type { Outcome } from '../desk.svelte';
import type { Notice } from '../generated/Notice';

/** The field a refusal was about, with what was said of it. */
export type Wrong = { field: string; words: string };

/** What was refused at a step, where it names a field; else it is said where the page says refusals. */
export function wrongOf(outcome: Outcome, notice: Notice | null): Wrong | null {
  if (outcome.done || outcome.refusal?.code !== 'step' || notice === null) return null;
  const { refusal } = outcome.refusal;
  const field = 'field' in refusal ? refusal.field : refusal.why === 'evidence' ? refusal.evidence : null;
  return field === null ? null : { field, words: `${notice.words} ${notice.remedy}`.trim() };
}
