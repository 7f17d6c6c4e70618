import type { Outcome } from '../desk.svelte';
import type { Notice } from '../generated/Notice';

/** The field a refusal was about, with what was said of it. */
export type Wrong = { field: string; words: string };

/** Fields that refusals are about which do not name one. */
const about: Record<string, string> = {
  code: 'list',
  'codes-and-none': 'list',
  'turns-unlike-published': 'total',
  'too-few-turns': 'left',
  'sides-unlike': 'right',
  'new-fastener': 'new_fastener',
  'angle-not-turned': 'angle_turned',
};

/** What was refused at a step, where it concerns a field; else it is said where the page says refusals. */
export function wrongOf(outcome: Outcome, notice: Notice | null): Wrong | null {
  if (outcome.done || outcome.refusal?.code !== 'step' || notice === null) return null;
  const { refusal } = outcome.refusal;
  const field = 'field' in refusal ? refusal.field : refusal.why === 'evidence' ? refusal.evidence : about[refusal.why];
  return field === undefined ? null : { field, words: `${notice.words} ${notice.remedy}`.trim() };
}

/** What was said of one field; empty when it is not the one. */
export const whyOf = (wrong: Wrong | null, field: string): string => (wrong?.field === field ? wrong.words : '');
