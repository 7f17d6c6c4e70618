import { fireEvent, render, screen } from '@testing-library/svelte';
import { beforeEach, describe, expect, test } from 'vitest';
import * as fixtures from '../src/fixtures/views';
import type { Outcome } from '../src/desk.svelte';
import type { Command } from '../src/generated/Command';
import type { MeasureView } from '../src/generated/MeasureView';
import type { MeterView } from '../src/generated/MeterView';
import type { Reply } from '../src/generated/Reply';
import type { View } from '../src/generated/View';
import { setNumerals } from '../src/measure/numerals';
import Measure from '../src/measure/Measure.svelte';
import { speech } from '../src/words/speech.svelte';

let told: Command[] = [];
const tell = (command: Command): Promise<Outcome> => Promise.resolve({ done: told.push(command) > 0 } as Outcome);
const ask = (): Promise<Reply | null> => Promise.resolve(null);
let opened = 0;
const openMeter = (): void => void (opened += 1);

function show(view: View, change: Partial<MeasureView> = {}, meter: Partial<MeterView> = {}) {
  speech.language = view.language;
  const { bench } = view;
  if (!bench?.measure) throw new Error('the fixture has nothing to measure');
  const measured = { ...bench, measure: { ...bench.measure, ...change } };
  return render(Measure, { bench: measured, meter: { ...view.meter, ...meter }, ask, tell, openMeter });
}

const live = (): HTMLElement => screen.getByRole('region', { name: /Meter now|Messgerät jetzt/ });
const row = (container: HTMLElement, index: number): HTMLElement => {
  const found = container.querySelector<HTMLElement>(`[data-conductor="${index}"]`);
  if (!found) throw new Error(`no row ${index}`);
  return found;
};
const key = (name: string | RegExp): HTMLElement | null => screen.queryByRole('button', { name });

beforeEach(() => {
  told = [];
  opened = 0;
});

describe('the meter now', () => {
  test('shows the digits as the meter does, with unit, age and signs', () => {
    show(fixtures.measuring, {}, { display: { text: '0.350', unit: 'Ω', state: 'value', age_ms: 240, signs: ['hold'] } });
    expect(screen.getByRole('img', { name: '0.350 Ω' }).querySelectorAll('path')).toHaveLength(4);
    expect(live().textContent).toContain('0.2 s ago');
    expect(live().textContent).toContain('hold');
  });

  test('a stale meter shows words and no digits', () => {
    show(fixtures.stale);
    expect(live().querySelector('svg')).toBeNull();
    expect(live().textContent).not.toContain('0.3');
    expect(live().textContent).toContain(fixtures.stale.meter.words);
    expect(live().textContent).toContain(fixtures.stale.meter.remedy ?? 'missing');
  });

  test('a number is not shown when the view calls the meter not live', () => {
    show(fixtures.measuring, {}, { live: false, words: 'The meter is on hold.' });
    expect(live().querySelector('svg')).toBeNull();
    expect(live().textContent).toContain('The meter is on hold.');
  });

  test('tells how far settling is, and only while it settles', () => {
    const { unmount } = show(fixtures.measuring);
    expect(screen.getByRole('progressbar').getAttribute('aria-valuenow')).toBe('620');
    unmount();
    show(fixtures.unsteady);
    expect(screen.queryByRole('progressbar')).toBeNull();
  });

  test('a sign that has no numeral is set as type, never dropped', () => {
    const { numerals } = setNumerals('−1.2k');
    expect(numerals.map(({ sign, stroke, isPoint }) => [sign, stroke !== null, isPoint])).toEqual([
      ['−', true, false],
      ['1', true, false],
      ['.', false, true],
      ['2', true, false],
      ['k', false, false],
    ]);
    const places = numerals.map(({ x }) => x);
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect(new Set(places).size).toBe(5);
  });
});

describe('the table of conductors', () => {
  test('a touch taken back is struck through and does not fill a place', () => {
    const { container } = show(fixtures.measuring);
    const third = row(container, 2);
    expect([...third.querySelectorAll('del')].map((one) => one.textContent)).toEqual(['0.512']);
    expect(third.querySelectorAll('.to-come')).toHaveLength(0);
    const [first] = fixtures.measuring.bench?.measure?.rows ?? [];
    if (!first) throw new Error('no first row');
    const undone = { ...first, touches: first.touches.map((touch) => ({ ...touch, undone: true })) };
    const again = show(fixtures.measuring, { rows: [undone] });
    expect(row(again.container, 0).querySelectorAll('del')).toHaveLength(2);
    expect(row(again.container, 0).querySelectorAll('.to-come')).toHaveLength(2);
  });

  test('a row chooses its conductor; one that is never measured has no key and says why', async () => {
    const { container } = show(fixtures.measuring);
    const third = row(container, 2).querySelector('button');
    if (!third) throw new Error('row 3 has no key');
    await fireEvent.click(third);
    expect(told).toEqual([{ wish: 'choose-conductor', conductor: 2 }]);
    expect(row(container, 8).querySelector('button')).toBeNull();
    expect(row(container, 8).textContent).toContain('leads to an inflator');
  });

  test('marks the conductor to clip now', () => {
    const { container } = show(fixtures.measuring);
    expect([...container.querySelectorAll('[aria-current="step"]')].map((one) => one.getAttribute('data-conductor'))).toEqual(['5']);
  });

  test('says how a touch was taken', () => {
    const { container } = show(fixtures.allTaken);
    expect(row(container, 5).textContent).toContain('as it was');
    expect(row(container, 4).textContent).not.toContain('as it was');
  });
});

describe('keys appear only when the view says so', () => {
  test('a contact that settles needs none but the way back', () => {
    show(fixtures.measuring);
    expect(key(/as it is|over-range|^Judge$/)).toBeNull();
    expect(key('Take back 0.348')).not.toBeNull();
    expect(document.querySelector('.main')).toBeNull();
  });

  test('unsteady: the main key says what it will take', async () => {
    show(fixtures.unsteady);
    await fireEvent.click(screen.getByRole('button', { name: 'Take 0.368 as it is' }));
    expect(told).toEqual([{ wish: 'take-as-it-is' }]);
    expect(key(/over-range/)).toBeNull();
  });

  test('over-range is a key of its own, never the main one and never focused by itself', async () => {
    show(fixtures.overRangeNow);
    const over = screen.getByRole('button', { name: 'Clips are on: take over-range' });
    expect(over.classList.contains('main')).toBe(false);
    expect(document.querySelector('.main')).toBeNull();
    expect(document.activeElement).toBe(document.body);
    await fireEvent.click(over);
    expect(told).toEqual([{ wish: 'take-over-range' }]);
  });

  test('over-range that would be refused has no key but says why', () => {
    show(fixtures.overRangeNotYet);
    expect(key(/over-range/)).toBeNull();
    expect(live().textContent).toContain('two seconds');
  });

  test('broken off without a meter: the one thing to do is to connect it, and only then', async () => {
    show(fixtures.stale);
    expect(key('Connect the meter')).toBeNull();
    document.body.innerHTML = '';
    show(fixtures.stale, {}, { name: null, source: null });
    const connect = key('Connect the meter');
    expect(connect).not.toBeNull();
    await fireEvent.click(connect as HTMLElement);
    expect([opened, told]).toEqual([1, []]);
  });

  test('judging is the main key when every touch is taken and it can be asked for', async () => {
    const { unmount } = show(fixtures.allTaken);
    const judge = screen.getByRole('button', { name: 'Judge' });
    expect(judge.classList.contains('main')).toBe(true);
    await fireEvent.click(judge);
    expect(told).toEqual([{ wish: 'judge' }]);
    unmount();
    show(fixtures.allTaken, { can_judge: false });
    expect(key('Judge')).toBeNull();
    expect(key('Judge what is there')).toBeNull();
  });

  test('the way back is there only while there is something to take back', async () => {
    const { unmount } = show(fixtures.measuring);
    await fireEvent.click(screen.getByRole('button', { name: 'Take back 0.348' }));
    expect(told).toEqual([{ wish: 'undo-touch', touch: fixtures.TOUCH }]);
    unmount();
    show(fixtures.measuring, { undo: null });
    expect(screen.queryByRole('button', { name: /^Take back/ })).toBeNull();
  });
});

describe('words', () => {
  test('the instruction and the newest touch are those of the view; the touch is announced', () => {
    show(fixtures.justTaken);
    expect(screen.getByRole('heading', { name: 'Clip conductor 6: A6 and B6.' })).toBeTruthy();
    expect(screen.getAllByRole('status').some((one) => one.textContent === 'Conductor 5: 0.348 Ω')).toBe(true);
  });

  test('in German', () => {
    const { container } = show(fixtures.messen);
    expect(live().textContent).toContain('vor 0.2 s');
    expect(row(container, 5).textContent).toContain('jetzt');
    expect(row(container, 1).textContent).toContain('über Bereich');
    expect(key('Urteilen mit dem, was da ist')).not.toBeNull();
  });

  test('a temperature that cannot be read is not sent', async () => {
    show(fixtures.measuring);
    const box = screen.getByLabelText('Bench temperature in °C');
    await fireEvent.input(box, { target: { value: '21,5 warm' } });
    await fireEvent.focusOut(box);
    expect(told).toEqual([]);
    expect(box.getAttribute('aria-invalid')).toBe('true');
    await fireEvent.input(box, { target: { value: '22,5' } });
    await fireEvent.focusOut(box);
    expect(told).toEqual([
      { wish: 'state-conditions', conditions: { leads_zeroed: true, temperature: { value: '22.5', unit: 'celsius' }, bars_open: null } },
    ]);
  });
});
