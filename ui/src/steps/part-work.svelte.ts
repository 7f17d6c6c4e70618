import type { Part } from '../generated/Part';

/**
 * The description being written for one job. It outlives the screen: a look at the meter, a call or a lost
 * link loses nothing.
 */
class PartWork {
  job = '';
  part: Part | null = $state(null);
  /** The person types it; otherwise it was picked from the list and is only looked at. */
  typing = $state(false);
  keep = $state(false);

  /** Turns to a job. What was written for another one is dropped. */
  turnTo(job: string, described: Part | null) {
    if (this.job === job) return;
    this.job = job;
    this.part = described && structuredClone(described);
    this.typing = false;
    this.keep = false;
  }
}

export const partWork = new PartWork();
