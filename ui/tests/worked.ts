import { render } from '@testing-library/svelte';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import * as works from '../src/fixtures/work';
import type { Command } from '../src/generated/Command';
import type { Reply } from '../src/generated/Reply';
import type { StepEntry } from '../src/generated/StepEntry';
import type { StepRefusal } from '../src/generated/StepRefusal';
import type { View } from '../src/generated/View';

/** The job of the fixtures. */
export const job = works.workBag.bench?.job as string;

/** Every command that was given. */
export const wishes = (backend: FixtureBackend): Command[] =>
  backend.asked.flatMap((ask) => (ask.ask === 'do' ? [ask.command] : []));

/** What was entered when a step was said to be done, the newest. */
export function entered(backend: FixtureBackend): StepEntry | null {
  const wish = wishes(backend).at(-1);
  return wish?.wish === 'at-step' && wish.act.act === 'done' ? wish.act.entry : null;
}

/** A refusal at a step. */
export function refused(refusal: StepRefusal, said: string): Reply {
  return { reply: 'refused', refusal: { code: 'step', refusal }, notice: { code: 'step', words: said, remedy: 'Put it right.' } };
}

/** The whole page at a view. */
export function shown(view: View) {
  const backend = new FixtureBackend(view);
  return { backend, ...render(App, { backend }) };
}
