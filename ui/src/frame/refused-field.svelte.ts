import { tick } from 'svelte';
import type { Outcome } from '../desk.svelte';
import { said } from './said.svelte';

/** The field that the last refusal was about, with what the program said of it. */
export class RefusedField {
  name = $state('');
  why = $state('');

  /** Takes the sentence from the stub to its field. `false`: it concerns none of these and stays where it is. */
  take(outcome: Outcome, names: readonly string[]): boolean {
    this.clear();
    if (outcome.done || outcome.refusal === null || !('field' in outcome.refusal)) return false;
    if (!names.includes(outcome.refusal.field)) return false;
    this.name = outcome.refusal.field;
    if (said.notice) this.why = `${said.notice.words} ${said.notice.remedy}`;
    said.moveOn();
    return true;
  }

  /** What was said of this field; empty when it is not the one. */
  of(name: string): string {
    return this.name === name ? this.why : '';
  }

  clear() {
    [this.name, this.why] = ['', ''];
  }
}

/** What has to be put right is brought into sight and under the keys, wherever the person scrolled to. */
export async function toFirstMark(within: ParentNode | null | undefined) {
  await tick();
  const mark = within?.querySelector<HTMLElement>('[data-marked], [aria-invalid="true"]');
  mark?.scrollIntoView?.({ block: 'center' });
  mark?.focus({ preventScroll: true });
}
