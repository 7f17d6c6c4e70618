/** Lists of the proofs that can be folded. */
export type Fold = 'zero' | 'check' | 'bars' | 'isolation' | 'sweeps' | 'bench';

const folded = (): Record<Fold, boolean> => ({ zero: false, check: false, bars: false, isolation: false, sweeps: false, bench: false });

/** Which lists and traces stand open. It outlives the screen: after a reading the page is as it was left. */
class Folds {
  open = $state(folded());
  traces: Record<string, boolean> = $state({});
  #job = '';

  /** Turns to a job; another one begins folded. */
  turnTo(job: string) {
    if (this.#job === job) return;
    this.#job = job;
    this.open = folded();
    this.traces = {};
  }
}

export const folds = new Folds();
