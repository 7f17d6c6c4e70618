import { describe, expect, it } from 'vitest';
import { patterns, shaking } from '../src/signal/signals';

const all = Object.entries(patterns);

describe('the five signals', () => {
  it.each(all)('%s stays below 4 kHz, where worn ears still hear', (_signal, notes) => {
    for (const note of notes) {
      expect(note.hz).toBeGreaterThan(500);
      expect(note.hz).toBeLessThan(4000);
    }
  });

  it('differ in rhythm alone, for whoever only feels them', () => {
    const rhythms = [shaking('taken'), shaking('unsteady'), shaking('stop'), shaking('mark'), shaking('over')].map((beats) => beats.join(' '));
    expect(new Set(rhythms).size).toBe(5);
    expect(shaking('taken')).toEqual([70, 20, 110]);
  });

  it('differ in length: at the bench stop is the longest by far', () => {
    const length = (signal: keyof typeof patterns) => shaking(signal).reduce((sum, beat) => sum + beat, 0);
    expect(length('stop')).toBeGreaterThan(2 * length('unsteady'));
    expect(length('unsteady')).toBeGreaterThan(2 * length('taken'));
  });

  it('the mark of a sweep is one stroke higher than all others, and over before the next can be due', () => {
    const highest = (signal: keyof typeof patterns) => Math.max(...patterns[signal].map(({ hz }) => hz));
    expect(patterns.mark).toHaveLength(1);
    for (const other of ['taken', 'unsteady', 'stop'] as const) expect(highest('mark')).toBeGreaterThan(1.2 * highest(other));
    expect(shaking('mark').reduce((sum, beat) => sum + beat, 0)).toBeLessThan(2_000);
  });
});
