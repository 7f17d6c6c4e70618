import { tick } from 'svelte';
import { said } from '../frame/said.svelte';
import type { Ask } from '../generated/Ask';
import type { Reply } from '../generated/Reply';
import type { StepCard } from '../generated/StepCard';

/** A step that is looked at in place of the one to do now, and its card once it came. */
export class LookedStep {
  step = $state<string | null>(null);
  #fetched = $state.raw<StepCard | null>(null);

  /** `null` while it is fetched, and while none is looked at. */
  get card(): StepCard | null {
    return this.step !== null && this.#fetched?.step === this.step ? this.#fetched : null;
  }

  /** Asks for the card again. A step that cannot be shown is not looked at any more. */
  async fetch(ask: (ask: Ask) => Promise<Reply | null>) {
    const step = this.step;
    if (step === null) return;
    const reply = await ask({ ask: 'step', step });
    if (step !== this.step) return;
    if (reply?.reply === 'step') this.#fetched = reply.card;
    if (reply?.reply === 'refused') {
      this.step = null;
      // Turning to another step hushes what was said of the one before.
      await tick();
      said.say('refused', reply.notice);
    }
  }
}
