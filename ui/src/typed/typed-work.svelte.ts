import type { Outcome } from '../desk.svelte';
import type { Ask } from '../generated/Ask';
import type { Command } from '../generated/Command';
import type { Notice } from '../generated/Notice';
import type { Reply } from '../generated/Reply';

type ReadBack = Extract<Reply, { reply: 'read-back' }> & { text: string };

/** More signs than any display of a meter has. */
const MOST_SIGNS = 12;

/**
 * The reading being typed. It outlives the screen and every refusal; it is dropped when it was taken, and when
 * something else is asked for, because it was read on what was clipped before.
 */
class TypedWork {
  text = $state('');
  /** Why what stands there cannot be taken, or what is asked about it; said after a pause. */
  why: Notice | null = $state.raw(null);
  #answer: ReadBack | null = $state.raw(null);
  #for = '';
  #sending = false;
  #newest = 0;

  /** Turns to what is read now. */
  turnTo(what: string) {
    if (this.#for === what) return;
    this.#for = what;
    this.text = '';
    this.#answer = null;
  }

  press(sign: string) {
    if (this.text.length < MOST_SIGNS) this.text += sign;
  }

  erase() {
    this.text = this.text.slice(0, -1);
  }

  /** How the program reads what stands there now; `null` until it has said so of this very text. */
  get answer(): ReadBack | null {
    return this.#answer?.text === this.text ? this.#answer : null;
  }

  async readBack(text: string, ask: (ask: Ask) => Promise<Reply | null>) {
    const mine = ++this.#newest;
    if (text === '') return;
    const reply = await ask({ ask: 'read-back', text, confirmed: false });
    if (mine === this.#newest && reply?.reply === 'read-back') this.#answer = { ...reply, text };
  }

  async take(confirmed: boolean, tell: (command: Command) => Promise<Outcome>) {
    await this.#send({ wish: 'type-reading', text: this.text, confirmed }, tell);
  }

  async takeOverRange(tell: (command: Command) => Promise<Outcome>) {
    await this.#send({ wish: 'type-over-range' }, tell);
  }

  /** Pressed twice in a hurry it is still one reading. */
  async #send(wish: Command, tell: (command: Command) => Promise<Outcome>) {
    if (this.#sending) return;
    this.#sending = true;
    try {
      const outcome = await tell(wish);
      if (outcome.done) this.text = '';
    } finally {
      this.#sending = false;
    }
  }
}

export const typedWork = new TypedWork();
