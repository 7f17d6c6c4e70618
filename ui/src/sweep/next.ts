import type { ProvingView } from '../generated/ProvingView';
import type { SweepRow } from '../generated/SweepRow';

/** The first conductor that no sweep speaks for yet: never swept, or only by sweeps that proved nothing. */
export function nextToSweep(proving: ProvingView): SweepRow | null {
  return proving.sweeps.find(({ line }) => line.state !== 'good' && line.state !== 'bad') ?? null;
}
