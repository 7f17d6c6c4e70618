import type { Readable } from 'svelte/store';
import type { Ask } from '../generated/Ask';
import type { Pushed } from '../generated/Pushed';
import type { Reply } from '../generated/Reply';

/** Whether the program behind the page can be reached. `locked`: it is there, but refuses the key in the address. */
export type Link = 'up' | 'down' | 'locked';

/** The program behind the page, however it is reached. */
export interface Backend {
  /**
   * Asks once. Rejects with `Unanswered` when no answer will come; whether the wish was carried out is then
   * not known.
   */
  ask(ask: Ask): Promise<Reply>;
  /** Everything told without being asked, until the function given back is called. */
  watch(listener: (pushed: Pushed) => void): () => void;
  readonly link: Readable<Link>;
}

/** An ask to which no answer will come. */
export class Unanswered extends Error {
  /** `never-sent`: it cannot have had an effect. `lost`: it may have. */
  readonly how: 'never-sent' | 'lost';

  constructor(how: 'never-sent' | 'lost', cause?: unknown) {
    super(`unanswered: ${how}`, { cause });
    this.how = how;
  }
}
