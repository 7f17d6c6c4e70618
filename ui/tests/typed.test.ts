import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import { cards } from '../src/fixtures/cards';
import * as fixtures from '../src/fixtures/views';
import { said } from '../src/frame/said.svelte';
import type { Command } from '../src/generated/Command';
import type { View } from '../src/generated/View';
import { typedWork } from '../src/typed/typed-work.svelte';
import { speech } from '../src/words/speech.svelte';
import { awaited, key, press } from './keys';

const refusal = { code: 'number' as const, field: 'reading', ambiguous: false };
const notice = { code: 'number', words: 'Reading: this is not a number.', remedy: 'Write it like 0.01.' };

function shown(view: View) {
  const backend = new FixtureBackend(view);
  return { backend, ...render(App, { backend }) };
}
const wishes = (backend: FixtureBackend): Command[] => backend.asked.flatMap((ask) => (ask.ask === 'do' ? [ask.command] : []));
const box = () => screen.getByLabelText('Reading in Ω') as HTMLInputElement;
const main = () => document.querySelector<HTMLButtonElement>('button.main');

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  localStorage.clear();
  typedWork.turnTo('');
});

describe('a reading typed with the keypad', () => {
  it('is read back on the main key and taken as it was typed', async () => {
    const { backend } = shown(fixtures.typing);
    expect(main()?.disabled).toBe(true);
    await press('0', 'decimal sign', '3', '5');
    expect(box().value).toBe('0.35');
    const take = await awaited('Take 0.350 Ω');
    expect(take.classList.contains('main')).toBe(true);
    await fireEvent.click(take);
    expect(wishes(backend)).toEqual([{ wish: 'type-reading', text: '0.35', confirmed: false }]);
    await waitFor(() => expect(box().value).toBe(''));
    expect(main()?.disabled).toBe(true);
  });

  it('has the decimal comma where German is spoken, and sends it as it stands there', async () => {
    const { backend } = shown({ ...fixtures.typing, language: 'de' });
    for (const name of ['0', 'Dezimalzeichen', '3']) await press(name);
    await waitFor(() => expect(main()?.disabled).toBe(false));
    await fireEvent.click(main() as HTMLElement);
    expect(wishes(backend)).toEqual([{ wish: 'type-reading', text: '0,3', confirmed: false }]);
  });

  it('can be erased sign by sign, and turned below zero and back', async () => {
    shown(fixtures.typing);
    await press('1', '2', 'Erase the last sign', 'minus');
    expect(box().value).toBe('-1');
    await press('minus');
    expect(box().value).toBe('1');
  });

  it('never shows a key for a text the program has not read back', async () => {
    const { backend } = shown(fixtures.typing);
    await press('5');
    await awaited('Take 5.000 Ω');
    let answer: (() => void) | undefined;
    backend.ask = () => new Promise((done) => (answer = () => done({ reply: 'read-back', key: 'Take 55 Ω', why: null, ambiguous: false })));
    await press('5');
    expect(key('Take 5.000 Ω')).toBeNull();
    expect(main()?.disabled).toBe(true);
    answer?.();
    expect(await awaited('Take 55 Ω')).toBeTruthy();
  });

  it('keeps what was typed when it is refused', async () => {
    const { backend } = shown(fixtures.typing);
    await press('9');
    const take = await awaited('Take 9.000 Ω');
    backend.answers.push({ reply: 'refused', refusal, notice });
    await fireEvent.click(take);
    expect(await screen.findByText(/this is not a number\./)).toBeTruthy();
    // It still stands there to be taken: the same key sends the same text once more.
    await waitFor(() => {
      key('Take 9.000 Ω')?.click();
      expect(wishes(backend)).toHaveLength(2);
    });
    expect(wishes(backend)[1]).toEqual({ wish: 'type-reading', text: '9', confirmed: false });
  });

  it('is one reading however often the key is pressed in a hurry', async () => {
    const { backend } = shown(fixtures.typing);
    await press('9');
    const take = await awaited('Take 9.000 Ω');
    take.click();
    take.click();
    await waitFor(() => expect(box().value).toBe(''));
    expect(wishes(backend)).toHaveLength(1);
  });

  it('is dropped when another conductor is asked for', async () => {
    const { backend } = shown(fixtures.typing);
    await press('9');
    const bench = fixtures.typing.bench;
    if (!bench?.measure) throw new Error('the fixture measures nothing');
    backend.show({ ...fixtures.typing, bench: { ...bench, measure: { ...bench.measure, now: 4 } } });
    await waitFor(() => expect(box().value).toBe(''));
  });

  it('that is no number is said to be none, after a pause, and is not to be taken', async () => {
    shown(fixtures.typing);
    await press('0', 'decimal sign', 'decimal sign');
    expect(await screen.findByText(/not a number that can be used/, {}, { timeout: 2_000 })).toBeTruthy();
    expect(main()?.disabled).toBe(true);
    expect(box().value).toBe('0..');
  });
});

describe('one sign before three digits', () => {
  it('is asked about with two keys; a decimal sign takes the reading', async () => {
    const { backend } = shown(fixtures.typing);
    await press('1', 'decimal sign', '2', '3', '4');
    const yes = await awaited('Decimal sign: Take 1.234 Ω');
    expect(await screen.findByText(/decimal sign or a thousands sign/)).toBeTruthy();
    expect(main()).toBeNull();
    await fireEvent.click(yes);
    expect(wishes(backend)).toEqual([{ wish: 'type-reading', text: '1.234', confirmed: true }]);
  });

  it('as a thousands sign is left out and read back anew', async () => {
    const { backend } = shown(fixtures.typing);
    await press('1', 'decimal sign', '2', '3', '4');
    await fireEvent.click(await awaited('Thousands sign: 1234 Ω'));
    expect(await awaited('Take 1234.000 Ω')).toBeTruthy();
    expect(wishes(backend)).toEqual([]);
  });
});

describe('the keyboard', () => {
  it('types wherever the focus is, and enter takes what is read back', async () => {
    const { backend } = shown(fixtures.typing);
    for (const sign of '0,4') await fireEvent.keyDown(document.body, { key: sign });
    await awaited('Take 0.400 Ω');
    await fireEvent.keyDown(document.body, { key: 'Enter' });
    expect(wishes(backend)).toEqual([{ wish: 'type-reading', text: '0,4', confirmed: false }]);
  });

  it('does not answer the question of the sign with enter', async () => {
    const { backend } = shown(fixtures.typing);
    for (const sign of '1,234') await fireEvent.keyDown(document.body, { key: sign });
    await awaited('Decimal sign: Take 1.234 Ω');
    await fireEvent.keyDown(document.body, { key: 'Enter' });
    expect(wishes(backend)).toEqual([]);
  });

  it('leaves other boxes alone', async () => {
    shown(fixtures.typing);
    const other = screen.getByLabelText('Bench temperature in °C');
    await fireEvent.keyDown(other, { key: '7' });
    expect(box().value).toBe('');
  });
});

describe('over-range of a meter without radio', () => {
  it('has its own key, which is not where the main key was', async () => {
    const { backend } = shown(fixtures.typing);
    const over = (await awaited('Clips are on: take over-range'));
    expect(over.closest('div.stub')).toBeNull();
    await fireEvent.click(over);
    expect(wishes(backend)).toEqual([{ wish: 'type-over-range' }]);
  });

  it('is offered for isolation and never for the zero of the leads', () => {
    const first = shown(fixtures.isolationTyped);
    expect(key('Clips are on: take over-range')).not.toBeNull();
    first.unmount();
    shown(fixtures.zeroTyped);
    expect(screen.getByLabelText('Reading in Ω')).toBeTruthy();
    expect(key('Clips are on: take over-range')).toBeNull();
  });
});

describe('a job with a meter without radio', () => {
  it('shows no live number, marks touches as typed, and says who reads the meter', () => {
    const { container } = shown(fixtures.typing);
    expect(container.querySelector('section.live')).toBeNull();
    expect(container.querySelector('tr[data-conductor="0"]')?.textContent).toContain('typed');
    expect(container.querySelector('header')?.textContent).toContain('Read by eye');
    expect(key('Connect the meter')).toBeNull();
  });

  it('is begun from the meter step with what the display can show', async () => {
    const { backend } = shown(cards('en')['meter'] as View);
    await press('My meter has no radio: I type what it shows');
    await fireEvent.input(screen.getByLabelText(/^Its name/), { target: { value: 'belt pouch' } });
    await fireEvent.input(screen.getByLabelText(/^Smallest step/), { target: { value: '0,01' } });
    await fireEvent.input(screen.getByLabelText(/% of the reading/), { target: { value: '0,8' } });
    await fireEvent.input(screen.getByLabelText(/counts of the last/), { target: { value: '3' } });
    await fireEvent.input(screen.getByLabelText(/^Day its calibration/), { target: { value: '2027-05-31' } });
    backend.answers.push({ reply: 'refused', refusal: { code: 'meter-unknown' }, notice });
    await press('Use this meter');
    await waitFor(() => expect(screen.getByLabelText(/^Highest value/).getAttribute('aria-invalid')).toBe('true'));
    expect((screen.getByLabelText(/^Its name/) as HTMLInputElement).value).toBe('belt pouch');
    await fireEvent.input(screen.getByLabelText(/^Highest value/), { target: { value: '600' } });
    await press('Use this meter');
    const spec = { label: 'belt pouch', step: '0,01', accuracy_percent: '0,8', accuracy_counts: '3', top: '600', calibration_due: '2027-05-31' };
    expect(wishes(backend).at(-1)).toEqual({ wish: 'use-typed-meter', spec });
  });

  it('is filled in with what was said last', async () => {
    const fresh = cards('en')['meter'] as View;
    const typed_spec = { label: 'belt pouch', step: '0.01', accuracy_percent: '0.8', accuracy_counts: '3', top: '600', calibration_due: '' };
    shown({ ...fresh, meter: { ...fresh.meter, typed_spec } });
    await press('My meter has no radio: I type what it shows');
    expect((screen.getByLabelText(/^Its name/) as HTMLInputElement).value).toBe('belt pouch');
  });
});

describe('looking for meters', () => {
  it('never makes stopping the biggest key', async () => {
    shown(cards('en')['search'] as View);
    expect((await awaited('Stop looking')).classList.contains('main')).toBe(false);
    expect(main()).toBeNull();
  });
});
