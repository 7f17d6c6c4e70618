import { describe, expect, it } from 'vitest';
import { patterns, shaking } from '../src/signal/signals';

const all = Object.entries(patterns);

describe('the three signals', () => {
  it.each(all)('%s stays below 4 kHz, where worn ears still hear', (_signal, notes) => {
    for (const note of notes) {
      expect(note.hz).toBeGreaterThan(500);
      expect(note.hz).toBeLessThan(4000);
    }
  });

  it('differ in rhythm alone, for whoever only feels them', () => {
    const rhythms = [shaking('taken'), shaking('unsteady'), shaking('stop')].map((beats) => beats.join(' '));
    expect(new Set(rhythms).size).toBe(3);
    expect(shaking('taken')).toEqual([70, 20, 110]);
  });

  it('differ in length: stop is the longest by far', () => {
    const length = (signal: keyof typeof patterns) => shaking(signal).reduce((sum, beat) => sum + beat, 0);
    expect(length('stop')).toBeGreaterThan(2 * length('unsteady'));
    expect(length('unsteady')).toBeGreaterThan(2 * length('taken'));
  });
});
