import type { StepEntry } from '../generated/StepEntry';

/** What was typed at a step and is not taken yet. */
export class StepDraft {
  words = $state('');
  entry: StepEntry | null = $state.raw(null);
}

/** Drafts of the job on the bench. They outlive the screen: a look at another step or at the meter loses nothing. */
class StepDrafts {
  #job = '';
  #drafts = new Map<string, StepDraft>();

  /** The draft of a step; turning to another job drops those of the one before. */
  of(job: string, step: string): StepDraft {
    if (this.#job !== job) [this.#job, this.#drafts] = [job, new Map()];
    const draft = this.#drafts.get(step) ?? new StepDraft();
    this.#drafts.set(step, draft);
    return draft;
  }

  drop(step: string) {
    this.#drafts.delete(step);
  }
}

export const stepDrafts = new StepDrafts();
