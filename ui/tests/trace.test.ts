import { render, screen } from '@testing-library/svelte';
import { beforeEach, describe, expect, test } from 'vitest';
import * as fixtures from '../src/fixtures/sweeps';
import type { EventKind } from '../src/generated/EventKind';
import type { TraceView } from '../src/generated/TraceView';
import { placeLabels, rowsFor, short, spotsOf, type Placed } from '../src/picture/labels';
import Trace from '../src/picture/Trace.svelte';
import TraceSign from '../src/picture/TraceSign.svelte';
import { speech } from '../src/words/speech.svelte';

const draw = (trace: TraceView, running = false): HTMLElement => render(Trace, { trace, running }).container;
const all = (within: HTMLElement, selector: string): HTMLElement[] => [...within.querySelectorAll<HTMLElement>(selector)];

beforeEach(() => {
  speech.language = 'en';
});

describe('a trace', () => {
  test('stands for its sentence, which is to be seen too, with what else is to be said', () => {
    const container = draw(fixtures.steady);
    expect(screen.getByRole('img', { name: fixtures.steady.sentence })).toBeTruthy();
    expect(container.querySelector('figcaption')?.textContent).toBe(fixtures.steady.sentence);
    expect(container.textContent).toContain(fixtures.steady.notes[0]);
    expect(all(container, '[data-event], [data-out], [data-place], table')).toEqual([]);
  });

  test('draws band, line and marks at the thousandths of the view, ohm upwards', () => {
    const container = draw({
      ...fixtures.steady,
      band: [200, 450],
      lines: [[[0, 300], [500, 320]], [[700, 310]]],
      marks: [{ at: 250, label: '+1 turn' }],
    });
    const band = container.querySelector('[data-band]');
    expect([band?.getAttribute('y'), band?.getAttribute('height')]).toEqual(['55%', '25%']);
    const paths = all(container, '.trace .line').map((one) => one.getAttribute('d'));
    // The lone reading is a dot, not nothing.
    expect(paths).toEqual(['M0 700 L500 680', 'M700 690 h0.01']);
    expect(container.querySelector('[data-mark="+1 turn"]')?.getAttribute('x1')).toBe('25%');
  });

  test('without a level nothing is called steady', () => {
    const container = draw({ ...fixtures.steady, band: null });
    expect(container.querySelector('[data-band]')).toBeNull();
    expect(container.textContent).not.toContain('Counts as steady');
  });

  test('a drop-out is a crossed block over the field, and the line is broken there', () => {
    const container = draw(fixtures.dropouts);
    const [first] = fixtures.dropouts.outs;
    if (!first) throw new Error('the fixture lost its drop-out');
    const blocks = all(container, '[data-out]');
    expect(blocks.map((block) => block.querySelectorAll('line').length)).toEqual([2, 2]);
    expect(blocks[0]?.style.insetInlineStart).toBe(`${first[0] / 10}%`);
    expect(blocks[0]?.style.width).toBe(`${(first[1] - first[0]) / 10}%`);
    expect(all(container, '.trace .line')).toHaveLength(3);
    expect(container.textContent).toContain('over');
  });

  test('every kind of event has a shape of its own', () => {
    const kinds: EventKind[] = ['jump', 'dropout', 'spike'];
    const shapes = kinds.map((kind) => {
      const { container, unmount } = render(TraceSign, { kind, number: 1 });
      const shape = container.querySelector('svg')?.innerHTML;
      unmount();
      return shape;
    });
    expect(new Set(shapes).size).toBe(3);
  });

  test('events bear the same number over the field, on the way and in the table', () => {
    const container = draw(fixtures.jumps);
    const numbers = (selector: string): string[] => all(container, selector).map((one) => one.textContent?.trim() ?? '');
    expect(numbers('[data-event]')).toEqual(['1', '2', '3']);
    expect(numbers('.said b')).toEqual(['1', '2', '3']);
    expect(all(container, '[data-event] [data-sign]').map((one) => one.dataset.sign)).toEqual(['jump', 'jump', 'spike']);
    const rows = screen.getAllByRole('row', { hidden: true }).slice(1);
    expect(rows[0]?.textContent).toMatch(/1.*Jump.*\+0\.35 Ω.*5\.0 s.*for 0\.8 s.*\+1\.3 ± 0\.3 turns, seen twice/s);
    expect(rows[2]?.querySelector('[data-sign]')?.getAttribute('data-sign')).toBe('spike');
  });

  test('events of one place are joined and the later one says "again"; others are not', () => {
    const container = draw(fixtures.jumps);
    const joins = all(container, '[data-join]');
    expect(joins.map((join) => join.dataset.join)).toEqual(['2']);
    const [first, second] = fixtures.jumps.places;
    expect(joins[0]?.getAttribute('x1')).toBe(`${(first?.at ?? 0) / 10}%`);
    expect(joins[0]?.getAttribute('x2')).toBe(`${(second?.at ?? 0) / 10}%`);
    expect(all(container, 'em').map((one) => one.textContent)).toEqual(['again']);
    const off = all(container, '.off')[0];
    expect([off?.getAttribute('x1'), off?.getAttribute('x2')]).toEqual([`${(first?.from ?? 0) / 10}%`, `${(first?.to ?? 0) / 10}%`]);
  });

  test('without marks there is no way and no column for it', () => {
    const bare = { ...fixtures.jumps, marks: [], way_ticks: [], places: [], rows: fixtures.jumps.rows.map((row) => ({ ...row, place: '' })) };
    const container = draw(bare);
    expect(container.querySelector('.way')).toBeNull();
    expect(screen.getAllByRole('columnheader', { hidden: true })).toHaveLength(2);
  });

  test('while it grows it says so for whoever listens, in both languages, and has no table yet', () => {
    const growing = { ...fixtures.jumps, sentence: '' };
    const container = draw(growing, true);
    expect(screen.getByRole('img', { name: 'Trace of conductor 4 so far. 3 events.' })).toBeTruthy();
    expect(container.querySelector('table')).toBeNull();
    expect(container.textContent).not.toContain(growing.notes[0]);
    speech.language = 'de';
    draw({ ...growing, events: [] }, true);
    expect(screen.getByRole('img', { name: 'Kurve von Leiter 4 bisher. Nichts fällt auf.' })).toBeTruthy();
  });

  test('one too short to prove anything is drawn, with the reason', () => {
    const container = draw(fixtures.tooShort);
    expect(container.textContent).toContain('proves nothing');
    expect(container.textContent).toContain('at least 10 s');
  });
});

describe('labels along an axis', () => {
  const apart = (labels: Placed[]): boolean => {
    const ends = labels.map(({ x, text, row }) => ({ row, from: x - text.length * 4.2, to: x + text.length * 4.2 }));
    return ends.every((one, index) => ends.slice(index + 1).every((other) => one.row !== other.row || one.to <= other.from || other.to <= one.from));
  };

  test.each([250, 320, 600, 1200])('none lies over another on %d pixels', (width) => {
    for (const { marks } of [fixtures.steady, fixtures.manyMarks]) {
      const placed = placeLabels(marks, width);
      expect(apart(placed)).toBe(true);
      expect(placed.length).toBeGreaterThan(3);
      // Where it began and where it ended are always named.
      expect(placed.filter(({ at }) => at === marks[0]?.at || at === marks.at(-1)?.at)).toHaveLength(2);
    }
  });

  test('stand in full in one row where there is room', () => {
    const placed = placeLabels(fixtures.steady.marks, 1200);
    expect(placed.map(({ text }) => text)).toContain('+1 turn');
    expect(placed.every(({ row }) => row === 0)).toBe(true);
    expect(placeLabels(fixtures.steady.marks, 320).map(({ text }) => text)).toContain('+2');
  });

  test('need more room when a person set larger letters', () => {
    const many = placeLabels(fixtures.manyMarks.marks, 600).length;
    document.documentElement.style.fontSize = '32px';
    const fewer = placeLabels(fixtures.manyMarks.marks, 600).length;
    document.documentElement.style.fontSize = '';
    expect(fewer).toBeLessThan(many);
  });

  test.each([['+1 turn', '+1'], ['−2 Umdrehungen', '−2'], ['centre', 'centre'], ['50 %', '50']])('%s is short %s', (label, text) => {
    expect(short(label)).toBe(text);
  });

  test('signs that would lie on each other stand in rows', () => {
    expect(rowsFor([100, 120, 140, 600], 320, 2.25)).toEqual([0, 1, 2, 0]);
    expect(rowsFor([1, 2, 3, 4, 5, 6], 320, 2.25).every((row) => row < 4)).toBe(true);
  });

  test('only events that repeat and may be at one place stand together', () => {
    const [first, second, third] = fixtures.jumps.places;
    if (!first || !second || !third) throw new Error('places are missing');
    expect(spotsOf([first, third, second]).map((spot) => spot.map(({ number }) => number))).toEqual([[1, 2], [3]]);
    const near = { ...first, number: 4, repeats: false };
    expect(spotsOf([first, near])).toHaveLength(2);
    expect(spotsOf([near, second])).toHaveLength(2);
  });
});
