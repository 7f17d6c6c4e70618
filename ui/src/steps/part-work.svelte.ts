import type { Part } from '../generated/Part';
import { unreadOf } from './number';

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
  /** Figures of limits as they were written, by place and line: "all.high", "3.low". The part holds what can be read. */
  figures: Record<string, string> = $state({});

  /** Turns to a job. What was written for another one is dropped. */
  turnTo(job: string, described: Part | null) {
    if (this.job === job) return;
    this.job = job;
    this.part = described && structuredClone(described);
    this.typing = false;
    this.keep = false;
    this.figures = {};
  }

  /** A figure cannot be read yet, at this place or, without one, anywhere. It is not left out in silence. */
  isUnread(place?: string): boolean {
    const at = Object.entries(this.figures).filter(([key]) => place === undefined || key.startsWith(`${place}.`));
    return at.some(([, text]) => unreadOf(text) !== null);
  }

  /** A conductor was removed: what was written about it and those behind it stands in no line any more. */
  forgetFrom(index: number) {
    const stays = (key: string) => !(Number.parseInt(key, 10) >= index);
    this.figures = Object.fromEntries(Object.entries(this.figures).filter(([key]) => stays(key)));
  }
}

export const partWork = new PartWork();
