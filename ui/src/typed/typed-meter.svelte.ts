import type { MeterSpecEntry } from '../generated/MeterSpecEntry';

const nothing: MeterSpecEntry = { label: '', step: '', accuracy_percent: '', accuracy_counts: '', top: '', calibration_due: '' };
const KEY = 'typed-meter';

function kept(): MeterSpecEntry {
  try {
    const text: unknown = JSON.parse(localStorage.getItem(KEY) ?? '{}');
    const found = typeof text === 'object' && text !== null ? (text as Record<string, unknown>) : {};
    const line = (name: keyof MeterSpecEntry) => (typeof found[name] === 'string' ? found[name] : '');
    return Object.fromEntries(Object.keys(nothing).map((name) => [name, line(name as keyof MeterSpecEntry)])) as MeterSpecEntry;
  } catch {
    return { ...nothing };
  }
}

/**
 * What was typed last about a meter without radio. It cannot tell it itself, so a person would write it anew for
 * every job: it is filled in again on this device. The record holds what was said in each job.
 */
class TypedMeter {
  spec: MeterSpecEntry = $state(kept());

  /** It was taken for a job: it is known from now on. */
  keep(spec: MeterSpecEntry) {
    this.spec = { ...spec };
    try {
      localStorage.setItem(KEY, JSON.stringify(spec));
    } catch {
      // A page that may store nothing still works; it is asked for again after it was closed.
    }
  }

  forget() {
    this.keep(nothing);
  }
}

export const typedMeter = new TypedMeter();
