import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { tick } from 'svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import { cards, jobs } from '../src/fixtures/cards';
import { proved } from '../src/fixtures/proofs';
import { proving as swept } from '../src/fixtures/sweeps';
import { RefusedField } from '../src/frame/refused-field.svelte';
import { said } from '../src/frame/said.svelte';
import type { Refusal } from '../src/generated/Refusal';
import type { Reply } from '../src/generated/Reply';
import type { View } from '../src/generated/View';
import { draft } from '../src/home/draft.svelte';
import { partWork } from '../src/steps/part-work.svelte';
import { speech, tongues } from '../src/words/speech.svelte';
import { awaited, key, press } from './keys';

const card = (name: string) => cards('en')[name] as View;
const wishes = (backend: FixtureBackend) => backend.asked.flatMap((ask) => (ask.ask === 'do' ? [ask.command] : []));
const refused = (refusal: Refusal, words: string): Reply => {
  return { reply: 'refused', refusal, notice: { code: refusal.code, words, remedy: 'Put it right.' } };
};

function shown(name: string) {
  const backend = new FixtureBackend(card(name));
  backend.jobs = jobs('en');
  render(App, { backend });
  return backend;
}

/** The sentence stands at the field, is read out with it, and stands nowhere else; the field has the focus. */
async function saidAt(field: HTMLElement, words: string) {
  await waitFor(() => expect(field.getAttribute('aria-invalid')).toBe('true'));
  const sentence = screen.getByText(`${words} Put it right.`);
  expect(field.getAttribute('aria-describedby')?.split(' ')).toContain(sentence.id);
  expect(document.querySelectorAll('[aria-invalid="true"]')).toHaveLength(1);
  await waitFor(() => expect(screen.getAllByText(new RegExp(words))).toEqual([sentence]));
  await waitFor(() => expect(document.activeElement).toBe(field));
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  draft.clear();
  partWork.turnTo('', null);
});

describe('a refusal that names a field', () => {
  it('stands at that line of the meter, and goes when the next try is taken', async () => {
    const backend = shown('asked');
    backend.answers.push(refused({ code: 'number', field: 'top', ambiguous: false }, 'No usable number.'));
    await press('Use this meter');
    await saidAt(screen.getByLabelText(/^Highest value/), 'No usable number.');
    await press('Use this meter');
    await waitFor(() => expect(screen.queryByText(/No usable number/)).toBeNull());
    expect(document.querySelector('[aria-invalid="true"]')).toBeNull();
  });

  it('stands at the day of the calibration', async () => {
    const backend = shown('asked');
    backend.answers.push(refused({ code: 'day', field: 'calibration_due' }, 'This is not a day.'));
    await press('Use this meter');
    await saidAt(screen.getByLabelText(new RegExp(`^${tongues.en.proving.typed.calibrationDue}`)), 'This is not a day.');
  });

  it('unfolds the personal details of a new job', async () => {
    const backend = shown('home');
    await press('New job');
    await awaited('Open the job');
    backend.answers.push(refused({ code: 'too-long', field: 'vin' }, 'The text is too long.'));
    await press('Open the job');
    await saidAt(screen.getByLabelText(/VIN/), 'The text is too long.');
    expect(screen.getByLabelText(/VIN/).closest('details')?.open).toBe(true);
  });

  it('stays near the key when no field here is the one', () => {
    const refusal: Refusal = { code: 'too-long', field: 'elsewhere' };
    const notice = { code: 'too-long', words: 'The text is too long.', remedy: 'Shorten it.' };
    said.say('refused', notice);
    const field = new RefusedField();
    expect(field.take({ done: false, refusal }, ['label'])).toBe(false);
    expect([field.name, field.of('elsewhere'), said.notice]).toEqual(['', '', notice]);
    expect(field.take({ done: false, refusal }, ['elsewhere'])).toBe(true);
    expect([field.of('elsewhere'), field.of('label'), said.notice]).toEqual(['The text is too long. Shorten it.', '', null]);
  });
});

describe('the temperature of the bench', () => {
  async function write(text: string) {
    const field = screen.getByLabelText(/^Bench temperature/);
    await fireEvent.input(field, { target: { value: text } });
    await fireEvent.focusOut(field);
    return field;
  }
  const tooHot = refused({ code: 'number', field: 'temperature', ambiguous: false }, 'No usable number.');

  it('that is refused is said to be, and is not asked about twice', async () => {
    const backend = shown('complete');
    backend.answers.push(tooHot);
    const field = await write('900');
    await saidAt(field, 'No usable number.');
    await fireEvent.focusOut(field);
    expect(wishes(backend)).toHaveLength(1);
    await write('21');
    await waitFor(() => expect(wishes(backend)).toHaveLength(2));
    expect(field.getAttribute('aria-invalid')).toBe('false');
    expect(screen.queryByText(/No usable number/)).toBeNull();
  });

  it('leaves the keys to another line that is being written', async () => {
    const backend = shown('asked');
    backend.answers.push(tooHot);
    const label = screen.getByLabelText(/^Its name/);
    label.focus();
    const field = await write('900');
    await screen.findByText(/No usable number/);
    expect(field.getAttribute('aria-invalid')).toBe('true');
    // The focus would come after the sentence is drawn.
    await tick();
    await tick();
    expect(document.activeElement).toBe(label);
  });
});

describe('an old refusal', () => {
  async function refusedPart() {
    const backend = shown('part');
    await press('Describe another part');
    await awaited('This is the part');
    backend.answers.length = 0;
    backend.answers.push(refused({ code: 'part-wrong', problems: [] }, 'It cannot be measured as described.'));
    await press('This is the part');
    await screen.findByText(/It cannot be measured as described/);
  }

  it('of a part goes when a ready part is picked instead', async () => {
    await refusedPart();
    await press('Another part');
    await waitFor(() => expect(screen.queryByText(/It cannot be measured/)).toBeNull());
    await fireEvent.click(screen.getByRole('button', { name: /Column coil/ }));
    expect(screen.queryByText(/It cannot be measured/)).toBeNull();
  });

  it('does not stand at the next step', async () => {
    const backend = shown('start');
    backend.answers.push(refused({ code: 'stale' }, 'Not now.'));
    await press('I have read this');
    await screen.findByText(/Not now/);
    const { bench } = card('part');
    backend.show({ ...card('start'), bench });
    await waitFor(() => expect(screen.queryByText(/Not now/)).toBeNull());
  });

  it('that was a fault is not taken away by going on', async () => {
    const backend = shown('start');
    backend.answers.push({ reply: 'failed', notice: { code: 'disk-full', words: 'The disk is full.', remedy: '' } });
    await press('I have read this');
    await screen.findByText(/The disk is full/);
    backend.show({ ...card('start'), bench: card('part').bench });
    await screen.findByText('Which part lies on the bench?');
    expect(screen.getByText(/The disk is full/)).toBeTruthy();
  });
});

describe('what is loud', () => {
  const loud = () => document.querySelector('button.main')?.textContent?.trim() ?? '';

  it('is not describing a part while ready ones are listed, but is where there are none', async () => {
    const backend = shown('part');
    expect(key('Describe another part')).toBeTruthy();
    expect(loud()).toBe('');
    backend.show({ ...card('part'), templates: [] });
    await waitFor(() => expect(loud()).toBe('Describe another part'));
  });

  it('is not the end of the search while meters are listed', () => {
    shown('search');
    expect(key('Stop looking')).toBeTruthy();
    expect(loud()).toBe('');
  });
});

describe('practising', () => {
  it('stays a small key once there are jobs', async () => {
    const backend = shown('home');
    await screen.findByRole('button', { name: /^W-2033/ });
    await press('Practise');
    expect(wishes(backend)).toMatchObject([{ wish: 'new-job', order: 'Practice' }]);
  });

  it('is named before the search for a meter', () => {
    shown('meter');
    expect(screen.getByText(/A practice meter is in the list too/)).toBeTruthy();
  });
});

describe('a closed job', () => {
  it('shows what supported its readings, and nothing that would change it', async () => {
    const backend = new FixtureBackend(card('done'));
    const view = card('done');
    if (!view.bench) throw new Error('no job');
    render(App, { backend });
    backend.show({ ...view, bench: { ...view.bench, proving: { ...proved, sweeps: swept.sweeps } } });
    await waitFor(() => expect(screen.getByText('> 20 MΩ (as entered for the meter)')).toBeTruthy());
    for (const said of [proved.zero.words, proved.check.words, proved.old?.alike ?? 'none']) expect(screen.getByText(said)).toBeTruthy();
    expect(screen.getByText('Sweep 2: jumps while moved')).toBeTruthy();
    const keys = screen.getAllByRole('button', { hidden: true }).map((one) => one.textContent ?? '');
    expect(keys.filter((one) => /Measure|Again|Take back|Sweep|Zero/.test(one))).toEqual([]);
  });

  it('still says what is next, unless its verdict no longer holds', async () => {
    const backend = shown('done');
    const view = card('done');
    const verdict = view.bench?.verdict;
    if (!view.bench || !verdict) throw new Error('a closed job has a verdict');
    expect(screen.getByText('Next:').parentElement?.textContent).toContain(verdict.action);
    backend.show({ ...view, bench: { ...view.bench, verdict: { ...verdict, outdated: true } } });
    await waitFor(() => expect(screen.queryByText('Next:')).toBeNull());
  });
});
