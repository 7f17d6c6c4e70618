import { fireEvent, render, screen, waitFor, within } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import { barRow, isolatingFirst, proved, unproved } from '../src/fixtures/proofs';
import * as fixtures from '../src/fixtures/views';
import { said } from '../src/frame/said.svelte';
import type { Command } from '../src/generated/Command';
import type { ProvingView } from '../src/generated/ProvingView';
import type { Reply } from '../src/generated/Reply';
import type { View } from '../src/generated/View';
import ProofMark from '../src/proving/ProofMark.svelte';
import { checkWork } from '../src/proving/check-work.svelte';
import { speech } from '../src/words/speech.svelte';
import { awaited, key } from './keys';

function on(proving: ProvingView, view: View = fixtures.measuring): View {
  if (!view.bench) throw new Error('no bench');
  return { ...view, bench: { ...view.bench, proving } };
}
function shown(view: View) {
  const backend = new FixtureBackend(view);
  return { backend, ...render(App, { backend }) };
}
const wishes = (backend: FixtureBackend): Command[] => backend.asked.flatMap((ask) => (ask.ask === 'do' ? [ask.command] : []));
const refused = (refusal: Extract<Reply, { reply: 'refused' }>['refusal']): Reply => {
  return { reply: 'refused', refusal, notice: { code: refusal.code, words: 'Not yet.', remedy: 'Say more.' } };
};
const stub = (): HTMLElement => document.querySelector('div.stub') as HTMLElement;
const pair = (container: HTMLElement, name: string): HTMLElement => {
  const found = container.querySelector<HTMLElement>(`[data-pair="${name}"]`);
  if (!found) throw new Error(`no pair ${name}`);
  return found;
};

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  [checkWork.resistor, checkWork.tolerance] = ['', ''];
});

describe('how a proof stands', () => {
  it('has a shape and a word of its own for each state', () => {
    const seen = ['good', 'bad', 'open', 'none'].map((state) => {
      const { container, unmount } = render(ProofMark, { state });
      const one = { shape: container.querySelector('svg')?.innerHTML, word: container.textContent?.trim() };
      unmount();
      return one;
    });
    expect(new Set(seen.map(({ shape }) => shape)).size).toBe(4);
    expect(new Set(seen.map(({ word }) => word)).size).toBe(4);
  });

  it('is never in order when this page does not know it', () => {
    const { container } = render(ProofMark, { state: 'splendid' });
    expect(container.querySelector('[data-proof]')?.getAttribute('data-proof')).toBe('open');
  });

  it('stands folded, said in full where it is one line and counted where it is many; the least good stands for all', () => {
    const { container } = shown(on(proved));
    const lines = [...container.querySelectorAll('.proving summary')].map((one) => ({
      text: one.textContent?.replace(/\s+/g, ' ') ?? '',
      mark: one.querySelector('[data-proof]')?.getAttribute('data-proof'),
      open: (one.parentElement as HTMLDetailsElement).open,
    }));
    const line = (title: RegExp) => lines.find(({ text }) => title.test(text));
    expect(line(/Zero of the leads/)).toMatchObject({ mark: 'good', open: false });
    expect(line(/Zero of the leads/)?.text).toContain('Leads 0.21 Ω, taken off.');
    expect(line(/Isolation/)).toMatchObject({ mark: 'bad' });
    expect(line(/Isolation/)?.text).toContain('1 not in order, 13 not done, 1 in order');
    expect(line(/Shorting bars/)).toMatchObject({ mark: 'open' });
    expect(line(/Calibration/)?.text).toContain('was due on 2026-05-31');
  });
});

describe('the zero of the leads', () => {
  const start = (): View => {
    const view = on(unproved);
    if (!view.bench?.measure) throw new Error('nothing to measure');
    const conditions = { ...view.bench.conditions, leads_zeroed: false };
    return { ...view, bench: { ...view.bench, conditions, measure: { ...view.bench.measure, taken: 0, undo: null, last_taken: null } } };
  };

  it('is one key away before the first touch, and gone once there is one', async () => {
    const { backend } = shown(start());
    await fireEvent.click(key('Zero the leads', stub()) as HTMLElement);
    expect(wishes(backend)).toEqual([{ wish: 'zero-leads' }]);
    const next = start();
    if (!next.bench?.measure) throw new Error('nothing to measure');
    backend.show({ ...next, bench: { ...next.bench, measure: { ...next.bench.measure, taken: 1 } } });
    await waitFor(() => expect(key('Zero the leads', stub())).toBeNull());
  });

  it('is not asked for where the meter subtracts the leads itself', () => {
    const view = start();
    if (!view.bench) throw new Error('no bench');
    shown({ ...view, bench: { ...view.bench, conditions: { ...view.bench.conditions, leads_zeroed: true } } });
    expect(stub().textContent).not.toContain('Zero');
  });
});

describe('the meter check', () => {
  it('sends what was typed and marks the line that was refused, which stays', async () => {
    const { backend } = shown(on(unproved));
    await fireEvent.input(screen.getByLabelText(/^Value of the resistor/), { target: { value: '100,0' } });
    await fireEvent.input(screen.getByLabelText(/^Its tolerance/), { target: { value: 'one' } });
    backend.answers.push(refused({ code: 'number', field: 'tolerance_percent', ambiguous: false }));
    await fireEvent.click((key('Check the meter') as HTMLButtonElement));
    expect(wishes(backend)).toEqual([{ wish: 'check-meter', resistor: '100,0', tolerance_percent: 'one' }]);
    const tolerance = screen.getByLabelText(/^Its tolerance/) as HTMLInputElement;
    await waitFor(() => expect(tolerance.getAttribute('aria-invalid')).toBe('true'));
    expect(tolerance.value).toBe('one');
    await waitFor(() => expect(document.activeElement).toBe(tolerance));
  });
});

describe('shorting bars', () => {
  it('cannot be spoken of before the caution is read', async () => {
    const { backend, container } = shown(on(unproved));
    expect(container.querySelector('[data-caution="C7"]')).not.toBeNull();
    expect(pair(container, '6-7').querySelectorAll('button')).toHaveLength(0);
    const bars = container.querySelector<HTMLElement>('[data-place="bars"]') as HTMLElement;
    await fireEvent.click(key('I have read this', bars) as HTMLElement);
    expect(wishes(backend)).toEqual([{ wish: 'accept-cautions', cautions: ['C7'] }]);
  });

  it('are asked about, said to be held open, and said to be restored', async () => {
    const { backend, container } = shown(on({ ...proved, bars: [barRow(6, 7)] }));
    const bar = { a: 6, b: 7, present: null, opened: '', restored: false };
    await fireEvent.click(key('Yes, a bar', pair(container, '6-7')) as HTMLElement);
    backend.show(on({ ...proved, bars: [barRow(6, 7, { present: true })] }));
    const how = await screen.findByLabelText('How is it held open?');
    const held = key('It is held open like this') as HTMLButtonElement;
    expect(held.disabled).toBe(true);
    await fireEvent.input(how, { target: { value: 'adapter' } });
    await fireEvent.click(held);
    backend.show(on({ ...proved, bars: [barRow(6, 7, { present: true, opened: 'adapter' })] }));
    await fireEvent.click(await awaited('Closed again, it springs back'));
    expect(wishes(backend)).toEqual([
      { wish: 'state-bar', bar: { ...bar, present: true } },
      { wish: 'state-bar', bar: { ...bar, present: true, opened: 'adapter' } },
      { wish: 'state-bar', bar: { ...bar, present: true, opened: 'adapter', restored: true } },
    ]);
  });

  it('show what looks like a bar nobody spoke of', () => {
    const { container } = shown(on(proved));
    expect(pair(container, '2-3').textContent).toContain('a shorting bar?');
    expect(pair(container, '4-5').textContent).toContain('in order');
  });

  it('of any pair can be spoken of', async () => {
    const { container } = shown(on({ ...proved, bars: [] }));
    const bars = container.querySelector<HTMLElement>('[data-place="bars"]') as HTMLElement;
    const add = key('Add this pair', bars) as HTMLButtonElement;
    await fireEvent.change(within(bars).getByLabelText('Conductor'), { target: { value: '2' } });
    expect(add.disabled).toBe(true);
    await fireEvent.change(within(bars).getByLabelText('and'), { target: { value: '8' } });
    await fireEvent.click(add);
    expect(pair(container, '2-8').textContent).toContain('3 – S1');
  });

  it('all at once are asked about only while nobody spoke of a single pair', async () => {
    const { backend } = shown(on(unproved));
    expect(screen.queryByText('Shorting bars in the plugs')).not.toBeNull();
    backend.show(on(proved));
    await waitFor(() => expect(screen.queryByText('Shorting bars in the plugs')).toBeNull());
  });
});

describe('isolation', () => {
  it('is measured row by row and taken back', async () => {
    const { backend, container } = shown(on(proved));
    const rows = container.querySelector<HTMLElement>('[data-place="isolation"]') as HTMLElement;
    await fireEvent.click(key('Measure 8 – metal', rows) as HTMLElement);
    await fireEvent.click(key('Take back 4 – 5', rows) as HTMLElement);
    expect(wishes(backend)).toEqual([
      { wish: 'measure-isolation', a: 7, other: null },
      { wish: 'withdraw', reading: 'r2' },
    ]);
    expect(rows.textContent).toContain('> 20 MΩ (as entered for the meter)');
    expect(rows.textContent).toContain('They touch.');
  });

  it('asks about the bar of the pair by itself when that has to be said first', async () => {
    const { backend, container } = shown(on({ ...proved, bars: [] }));
    const bars = container.querySelector<HTMLElement>('[data-place="bars"]') as HTMLElement;
    backend.answers.push(refused({ code: 'bar-first', a: 4, b: 5 }));
    const rows = container.querySelector<HTMLElement>('[data-place="isolation"]') as HTMLElement;
    await fireEvent.click(key('Measure 5 – 6', rows) as HTMLElement);
    await waitFor(() => expect(bars.querySelector('details')?.open).toBe(true));
    expect(bars.querySelector('[data-pair="4-5"]')?.textContent).toContain('Does a shorting bar bridge this pair');
  });
});

describe('beside the conductors', () => {
  it('the leads are read in place of the measuring screen, with the way back', async () => {
    const { backend, container } = shown(fixtures.zeroingNow);
    expect(screen.getByRole('heading', { name: 'Zero the leads' })).toBeTruthy();
    expect(container.querySelector('tr[data-conductor]')).toBeNull();
    expect(screen.getByRole('img', { name: '0.352 Ω' })).toBeTruthy();
    await fireEvent.click((key('Back to the conductors') as HTMLButtonElement));
    expect(wishes(backend)).toEqual([{ wish: 'back-to-conductors' }]);
  });

  it('cautions come first, all with one key, and nothing live before', async () => {
    const { backend, container } = shown(fixtures.isolationCaution);
    expect(container.querySelectorAll('[data-caution]')).toHaveLength(isolatingFirst.cautions.length);
    expect(container.querySelector('section.live')).toBeNull();
    expect(key('Clips are on: take over-range')).toBeNull();
    await fireEvent.click((key('I have read this') as HTMLButtonElement));
    expect(wishes(backend)).toEqual([{ wish: 'accept-cautions', cautions: ['C7', 'C9'] }]);
  });

  it('over-range is taken by its own key in the words of the view', async () => {
    const { backend } = shown(fixtures.isolationNow);
    const over = (key('Clips are on: take over-range') as HTMLButtonElement);
    expect(over.classList.contains('main')).toBe(false);
    await fireEvent.click(over);
    expect(wishes(backend)).toEqual([{ wish: 'take-over-range' }]);
  });
});

describe('the old part', () => {
  it('is named with what is compared', () => {
    const { container } = shown(on(proved));
    expect(container.querySelector('.old')?.textContent).toContain('0.34 Ω at 21 °C');
    expect(container.textContent).toContain('within 0.12 Ω');
  });

  it('stands on the verdict screen too', () => {
    const { container } = shown(fixtures.fail);
    expect(container.querySelector('.proving .old')).not.toBeNull();
    expect(container.querySelectorAll('button.main')).toHaveLength(1);
  });
});
