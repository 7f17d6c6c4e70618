import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it, onTestFinished, vi } from 'vitest';
import { readable } from 'svelte/store';
import App from '../src/App.svelte';
import type { Backend } from '../src/backend/backend';
import { FixtureBackend } from '../src/backend/fixture';
import { SILENCE_MS } from '../src/desk.svelte';
import { cards, jobs } from '../src/fixtures/cards';
import { said } from '../src/frame/said.svelte';
import type { Ask } from '../src/generated/Ask';
import type { Language } from '../src/generated/Language';
import type { Reply } from '../src/generated/Reply';
import type { View } from '../src/generated/View';
import { draft } from '../src/home/draft.svelte';
import { partWork } from '../src/steps/part-work.svelte';
import { speech, tongues } from '../src/words/speech.svelte';

const languages: Language[] = ['en', 'de'];
const card = (name: string, language: Language = 'en') => cards(language)[name] as View;
const wishes = (backend: FixtureBackend) => backend.asked.flatMap((ask: Ask) => (ask.ask === 'do' ? [ask.command] : []));
const refused = (code: 'order-missing', words: string, remedy: string): Reply => {
  return { reply: 'refused', refusal: { code }, notice: { code, words, remedy } };
};

function shown(name: string, language: Language = 'en') {
  const backend = new FixtureBackend(card(name, language));
  backend.jobs = jobs(language);
  const page = render(App, { backend });
  return { backend, ...page };
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  draft.clear();
  partWork.turnTo('', null);
});

describe.each(languages)('in %s', (language) => {
  const words = tongues[language];

  it.each(Object.keys(cards(language)))('%s is drawn, with one heading to land on and at most one main key', (name) => {
    const { container } = shown(name, language);
    const home = card(name, language).bench === null;
    expect(container.querySelectorAll(home ? 'h1' : 'h2')).toHaveLength(1);
    expect(container.querySelectorAll('button.main').length).toBeLessThanOrEqual(1);
    expect(document.documentElement.lang).toBe(language);
    expect(container.textContent).not.toMatch(/undefined|\[object/);
  });

  it('the list shows order, vehicle, words and the verdict in words', async () => {
    shown('home', language);
    const line = await screen.findByRole('button', { name: /^W-2038/ });
    expect(line.textContent).toContain('118032');
    expect(line.textContent).toContain(words.verdict.fail);
  });

  it('the caution stands in full above its key', async () => {
    const { backend } = shown('caution', language);
    expect(screen.getByText(card('caution', language).bench?.cautions[0]?.text ?? '')).toBeTruthy();
    await fireEvent.click(screen.getByRole('button', { name: words.caution.read }));
    expect(wishes(backend)).toEqual([{ wish: 'accept-cautions', cautions: ['C1'] }]);
  });
});

describe('the jobs', () => {
  it('are resumed by touching a line', async () => {
    const { backend } = shown('home');
    await fireEvent.click(await screen.findByRole('button', { name: /^W-2033/ }));
    expect(wishes(backend)).toEqual([{ wish: 'open-job', job: 'W-2033' }]);
  });

  it('are searched by what is typed', async () => {
    const { backend } = shown('home');
    await screen.findByRole('button', { name: /^W-2033/ });
    await fireEvent.input(screen.getByRole('searchbox'), { target: { value: 'blue' } });
    await waitFor(() => expect(screen.queryByRole('button', { name: /^W-2033/ })).toBeNull());
    expect(screen.getByRole('button', { name: /^W-2038/ })).toBeTruthy();
    expect(backend.asked.at(-1)).toEqual({ ask: 'jobs', search: 'blue', open: false, skip: 0, limit: 30 });
  });

  it('offer a practice job where there is none', async () => {
    const backend = new FixtureBackend(card('home'));
    render(App, { backend });
    await fireEvent.click(await screen.findByRole('button', { name: tongues.en.home.practice }));
    expect(wishes(backend)).toMatchObject([{ wish: 'new-job', order: 'Practice' }]);
  });
});

describe('a refusal', () => {
  it('loses nothing typed, is said near the key, and goes with the next success', async () => {
    const { backend } = shown('home');
    await fireEvent.click(screen.getByRole('button', { name: 'New job' }));
    await fireEvent.input(screen.getByLabelText(/^Vehicle, in/), { target: { value: 'Grey van' } });
    await fireEvent.input(screen.getByLabelText('Customer'), { target: { value: 'R. Tamm' } });
    backend.answers.push(refused('order-missing', 'A job needs a name.', 'Write the order number.'));
    await fireEvent.click(screen.getByRole('button', { name: 'Open the job' }));
    const why = await screen.findByText(/A job needs a name/);
    expect(why.closest('[role=status]')).toBeTruthy();
    expect((screen.getByLabelText(/^Vehicle, in/) as HTMLInputElement).value).toBe('Grey van');
    expect((screen.getByLabelText('Customer') as HTMLInputElement).value).toBe('R. Tamm');
    await waitFor(() => expect(document.activeElement).toBe(screen.getByLabelText(/^Order number/)));
    await fireEvent.input(screen.getByLabelText(/^Order number/), { target: { value: 'W-1' } });
    await fireEvent.click(screen.getByRole('button', { name: 'Open the job' }));
    await waitFor(() => expect(screen.queryByText(/A job needs a name/)).toBeNull());
    expect(wishes(backend).at(-1)).toMatchObject({ order: 'W-1', vehicle: 'Grey van', details: { customer: 'R. Tamm' } });
  });

  it('keeps what was typed when the person goes back to the list meanwhile', async () => {
    shown('home');
    await fireEvent.click(screen.getByRole('button', { name: 'New job' }));
    await fireEvent.input(screen.getByLabelText(/^Order number/), { target: { value: 'W-77' } });
    await fireEvent.click(screen.getByRole('button', { name: 'Jobs' }));
    await fireEvent.click(await screen.findByRole('button', { name: 'New job' }));
    expect((screen.getByLabelText(/^Order number/) as HTMLInputElement).value).toBe('W-77');
  });

  it('of the disk is an alert', async () => {
    const { backend } = shown('start');
    backend.answers.push({ reply: 'failed', notice: { code: 'disk-full', words: 'The disk is full.', remedy: 'Make room.' } });
    await fireEvent.click(screen.getByRole('button', { name: 'I have read this' }));
    expect((await screen.findByText(/The disk is full/)).closest('[role=alert]')).toBeTruthy();
  });
});

describe('a caution', () => {
  /** The key stands from 700 on; where the last caution ends is where it was scrolled to. */
  function ends(below: number) {
    const at = { end: below, scrolled: vi.fn<(this: Element) => void>() };
    const box = vi.spyOn(Element.prototype, 'getBoundingClientRect').mockImplementation(function (this: Element) {
      const bottom = this.matches('[data-caution]:last-of-type') ? at.end : 100;
      return { top: this.matches('.stub') ? 700 : 0, bottom } as DOMRect;
    });
    const before = Element.prototype.scrollIntoView;
    Element.prototype.scrollIntoView = at.scrolled;
    vi.useFakeTimers({ shouldAdvanceTime: true });
    onTestFinished(() => {
      vi.useRealTimers();
      box.mockRestore();
      Element.prototype.scrollIntoView = before;
    });
    return at;
  }

  it('is read to its end before anybody says so', async () => {
    const at = ends(900);
    const { backend } = shown('start');
    const on = await screen.findByRole('button', { name: 'Read on' });
    on.focus();
    expect(screen.queryByRole('button', { name: 'I have read this' })).toBeNull();
    at.scrolled.mockClear();
    await fireEvent.click(on);
    expect(at.scrolled.mock.contexts[0]?.matches('[data-caution]:last-of-type')).toBe(true);
    expect(wishes(backend)).toEqual([]);
    at.end = 690;
    await fireEvent.scroll(document);
    const read = await screen.findByRole('button', { name: 'I have read this' });
    expect(document.activeElement, 'whoever works by keys stays on it').toBe(read);
    // As a hand does that slips or shakes: none of these is meant for what stands there now.
    for (const ms of [150, 500, 650]) {
      await vi.advanceTimersByTimeAsync(ms);
      await fireEvent.click(read);
      expect(read.getAttribute('aria-disabled')).toBe('true');
    }
    expect(wishes(backend)).toEqual([]);
    await vi.advanceTimersByTimeAsync(800);
    expect(read.getAttribute('aria-disabled')).toBeNull();
    await fireEvent.click(read);
    expect(wishes(backend)).toMatchObject([{ wish: 'accept-cautions' }]);
  });

  it('is not read by the second click of a double one that began on the key before', async () => {
    ends(690);
    const { backend } = shown('start');
    const read = await screen.findByRole('button', { name: 'I have read this' });
    await fireEvent.click(read, { detail: 2 });
    expect(wishes(backend)).toEqual([]);
    await vi.advanceTimersByTimeAsync(800);
    await fireEvent.click(read, { detail: 1 });
    expect(wishes(backend)).toMatchObject([{ wish: 'accept-cautions' }]);
  });

  it('is not read by a key that is held down', async () => {
    ends(690);
    shown('start');
    const read = await screen.findByRole('button', { name: 'I have read this' });
    // Whether the browser makes a press of it.
    expect(await fireEvent.keyDown(read, { key: 'Enter' })).toBe(true);
    expect(await fireEvent.keyDown(read, { key: 'Enter', repeat: true })).toBe(false);
    expect(await fireEvent.keyDown(read, { key: 'Tab', repeat: true })).toBe(true);
  });
});

describe('the name of the product', () => {
  it('is never broken in two, and gives way to the way back', async () => {
    shown('home');
    const name = await screen.findByText('Evenwire');
    expect(getComputedStyle(name).whiteSpace).toBe('nowrap');
    expect(name.classList.contains('aside')).toBe(false);
    await fireEvent.click(screen.getByRole('button', { name: 'New job' }));
    await waitFor(() => expect(screen.getByText('Evenwire').classList.contains('aside')).toBe(true));
  });
});

describe('the meter', () => {
  it('is sent decimal commas as they were typed, and lines nobody touched as they were known', async () => {
    const { backend } = shown('asked');
    await fireEvent.input(screen.getByLabelText(/^Its name/), { target: { value: 'bench meter 2' } });
    await fireEvent.input(screen.getByLabelText(/% of the reading/), { target: { value: '0,8' } });
    await fireEvent.click(screen.getByRole('button', { name: 'Use this meter' }));
    const spec = { label: 'bench meter 2', step: '0.001', accuracy_percent: '0,8', accuracy_counts: '', top: '600', calibration_due: '' };
    expect(wishes(backend)).toEqual([{ wish: 'describe-meter', spec }]);
  });

  it('says the highest value as it is said, where it is a long row of noughts', async () => {
    const { backend } = shown('asked', 'de');
    const top = await screen.findByLabelText(/^Höchster Wert/);
    expect(top.getAttribute('aria-describedby')).toBeNull();
    const said: [string, string][] = [['20000000', '20 MΩ'], ['1500', '1,5 kΩ'], ['600000', '600 kΩ'], ['1234567', '1,234567 MΩ'], ['1000', '1 kΩ']];
    for (const [value, large] of said) {
      await fireEvent.input(top, { target: { value } });
      expect(screen.getByText(`Das sind ${large}.`).id).toBe(top.getAttribute('aria-describedby'));
    }
    for (const value of ['600', '0001', '1500,5', '1.500', '-2000', 'viel']) {
      await fireEvent.input(top, { target: { value } });
      expect(screen.queryByText(/^Das sind/)).toBeNull();
    }
    expect(wishes(backend)).toEqual([]);
  });

  it('keeps a line that is being written when the next view comes', async () => {
    const { backend } = shown('asked');
    await fireEvent.input(screen.getByLabelText(/^Its name/), { target: { value: 'ben' } });
    const next = card('asked');
    backend.show({ ...next, meter: { ...next.meter, spec: { ...next.meter.spec, label: 'other', step: '0.01' } } });
    await waitFor(() => expect((screen.getByLabelText(/^Smallest step/) as HTMLInputElement).value).toBe('0.01'));
    expect((screen.getByLabelText(/^Its name/) as HTMLInputElement).value).toBe('ben');
  });

  it('that tells all itself is still taken by a person, who sees its number first', async () => {
    const { backend } = shown('complete');
    const spec = card('complete').meter.spec;
    await fireEvent.click(screen.getByRole('button', { name: 'Use this meter' }));
    expect(wishes(backend)).toEqual([{ wish: 'describe-meter', spec }]);
  });

  it('that is not the one of the job is said to be another, at every step', async () => {
    const { backend } = shown('caution');
    expect(screen.queryByText(/Not yet taken for this job/)).toBeNull();
    const next = card('caution');
    backend.show({ ...next, meter: { ...next.meter, in_use: false } });
    expect(await screen.findByText(/Not yet taken for this job/)).toBeTruthy();
  });

  it('found while searching is named, with its signal in words', async () => {
    const { backend } = shown('search');
    expect(screen.getByRole('button', { name: /DM-41.*strong signal/ })).toBeTruthy();
    expect(screen.getByRole('button', { name: /Meter without a name.*weak signal/ })).toBeTruthy();
    await fireEvent.click(screen.getByRole('button', { name: /Practice meter/ }));
    expect(wishes(backend)).toEqual([{ wish: 'connect-meter', id: 'practice' }]);
  });

  it('can be looked at during another step, and the step is found again', async () => {
    shown('caution');
    await fireEvent.click(screen.getByRole('button', { name: 'Open the meter' }));
    expect(screen.getByRole('heading', { level: 2 }).textContent).toBe('The meter');
    await fireEvent.click(screen.getByRole('button', { name: 'Back to the open step' }));
    expect(screen.getByRole('heading', { level: 2 }).textContent).toBe('Before the clips go on');
  });
});

describe('nothing old is shown as live', () => {
  const live = (container: HTMLElement) => container.textContent?.includes('0.350') ?? false;

  it('when the link is down', async () => {
    const { backend, container } = shown('asked');
    expect(live(container)).toBe(true);
    backend.setLink('down');
    await waitFor(() => expect(live(container)).toBe(false));
    expect(screen.getAllByText(/The program does not answer/).length).toBeGreaterThan(0);
    backend.setLink('up');
    backend.show(card('asked'));
    await waitFor(() => expect(live(container)).toBe(true));
  });

  it('when the program stops speaking although the link stands', async () => {
    vi.useFakeTimers();
    try {
      const { container } = shown('asked');
      await vi.advanceTimersByTimeAsync(SILENCE_MS - 1);
      expect(live(container)).toBe(true);
      await vi.advanceTimersByTimeAsync(1);
      expect(live(container)).toBe(false);
    } finally {
      vi.useRealTimers();
    }
  });

  it('and a key pressed meanwhile is said not to have been sent', async () => {
    const { backend } = shown('start');
    backend.setLink('down');
    await fireEvent.click(screen.getByRole('button', { name: 'I have read this' }));
    expect(await screen.findByText(/so nothing was done/)).toBeTruthy();
  });
});

describe('a signal', () => {
  it('frames the screen and shakes the phone, each in its own way', async () => {
    const shaken: unknown[] = [];
    Object.defineProperty(navigator, 'vibrate', { configurable: true, value: (beats: unknown) => shaken.push(beats) });
    const { backend, container } = shown('measure');
    for (const signal of ['taken', 'unsteady', 'stop'] as const) {
      backend.signal(signal);
      await waitFor(() => expect(container.parentElement?.querySelector(`.flash.${signal}`)).toBeTruthy());
    }
    expect(shaken).toHaveLength(3);
    expect(new Set(shaken.map(String)).size).toBe(3);
  });

  it('keeps silent when tones are off', async () => {
    const started: string[] = [];
    class Quiet {
      state = 'running';
      currentTime = 0;
      createOscillator = () => ({ frequency: {}, connect: (to: object) => to, start: () => started.push('start'), stop() {} });
      createGain = () => ({
        gain: { setValueAtTime() {}, linearRampToValueAtTime() {} },
        connect: (to: object) => to,
      });
    }
    vi.stubGlobal('AudioContext', Quiet);
    const { backend } = shown('measure');
    await fireEvent.pointerDown(window);
    backend.signal('taken');
    expect(started).toHaveLength(2);
    await fireEvent.click(screen.getByRole('button', { name: 'Tones are on' }));
    backend.signal('taken');
    expect(started).toHaveLength(2);
    await fireEvent.click(screen.getByRole('button', { name: 'Tones are off' }));
    vi.unstubAllGlobals();
  });
});

describe('the part', () => {
  it('is picked from those described before', async () => {
    const { backend } = shown('part');
    await fireEvent.click(screen.getByRole('button', { name: /Column coil/ }));
    await fireEvent.click(screen.getByLabelText(/Keep this part/));
    await fireEvent.click(screen.getByRole('button', { name: 'This is the part' }));
    await waitFor(() => expect(wishes(backend)).toHaveLength(2));
    expect(wishes(backend)).toMatchObject([
      { wish: 'describe-part', part: { name: 'Column coil, ten way' } },
      { wish: 'save-template', name: 'Column coil, ten way' },
    ]);
  });

  it('shows at each row what the program says of it, while it is typed', async () => {
    const { backend } = shown('part');
    backend.answers.push({
      reply: 'checked',
      faces: [],
      problems: [{ problem: { problem: 'end', index: 1, why: 'unknown' }, words: 'Say what hangs at conductor 2.' }],
    });
    await fireEvent.click(screen.getByRole('button', { name: 'Describe another part' }));
    const sentence = await screen.findByText('Say what hangs at conductor 2.').catch(() => null);
    // The row is not there yet, so the sentence is only counted; it stands at its row once there is one.
    expect(sentence).toBeNull();
    expect(screen.getByText('One thing is still to be settled')).toBeTruthy();
    await fireEvent.click(screen.getByRole('button', { name: /one conductor per cavity/ }));
    const row = (await screen.findByText('Say what hangs at conductor 2.')).closest('ol > li');
    expect(row?.textContent).toContain('A2 – B2');
  });
});

describe('a program that has nothing to show', () => {
  const silent = (answer: Reply, link: 'up' | 'locked' = 'up'): Backend => ({
    link: readable(link),
    ask: () => Promise.resolve(answer),
    watch: () => () => {},
  });
  const failed: Reply = {
    reply: 'failed',
    notice: { code: 'newer-ledger', words: 'A newer one wrote this record.', remedy: 'Install it again.' },
  };

  it('is asked why, and the page says it', async () => {
    render(App, { backend: silent(failed) });
    const alert = await screen.findByText('A newer one wrote this record.');
    expect(alert.closest('[role="alert"]')?.textContent).toContain('Install it again.');
    expect(screen.queryAllByRole('button')).toEqual([]);
  });

  it('that is only late is waited for', async () => {
    render(App, { backend: silent({ reply: 'jobs', lines: [], more: false, words: '' }) });
    expect(await screen.findByText('Evenwire is starting.')).toBeTruthy();
  });

  it('that refuses the key is not said to be away', () => {
    speech.language = 'de';
    render(App, { backend: silent(failed, 'locked') });
    expect(screen.getByRole('alert').textContent).toContain(tongues.de.link.locked.words);
    expect(screen.queryByText(tongues.de.link.down.words)).toBeNull();
  });
});

it('a VIN is warned of while it is typed, and the job opens with it all the same', async () => {
  const { backend } = shown('home');
  await fireEvent.click(await screen.findByRole('button', { name: tongues.en.home.newJob }));
  const odd = 'ZZZAA1A18RA000001';
  await fireEvent.input(await screen.findByLabelText(tongues.en.newJob.vin), { target: { value: odd } });
  await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'look-at-vin', vin: odd }));
  await waitFor(() => expect(screen.getByText('The check digit does not fit.')).toBeTruthy());
  await fireEvent.input(screen.getByLabelText(/^Order/), { target: { value: 'W-1' } });
  await fireEvent.click(screen.getByRole('button', { name: tongues.en.newJob.open }));
  const wish = wishes(backend).at(-1);
  expect(wish?.wish === 'new-job' && wish.details.vin).toBe(odd);
});
