import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import { cards } from '../src/fixtures/cards';
import { said } from '../src/frame/said.svelte';
import type { Ask } from '../src/generated/Ask';
import type { View } from '../src/generated/View';
import { speech, tongues } from '../src/words/speech.svelte';
import { broughtIntoSight } from './keys';

const words = tongues.en.hand;
const card = (name: string) => cards('en')[name] as View;
const shown = (name: string) => {
  const backend = new FixtureBackend(card(name));
  return { backend, ...render(App, { backend }) };
};
const wishes = (backend: FixtureBackend) => backend.asked.flatMap((ask: Ask) => (ask.ask === 'do' ? [ask.command] : []));

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

describe('a job that goes to another device', () => {
  it('is handed over only after it was asked once more, to whom was written', async () => {
    const { backend } = shown('measure');
    await fireEvent.click(screen.getByRole('button', { name: /^About|W-2041/ }));
    await fireEvent.input(screen.getByLabelText(words.to), { target: { value: 'late shift' } });
    await fireEvent.click(screen.getByRole('button', { name: words.key }));
    expect(wishes(backend)).toEqual([]);
    expect(screen.getByText(words.follows)).toBeTruthy();
    await fireEvent.click(screen.getByRole('button', { name: words.yes }));
    await waitFor(() => expect(wishes(backend)).toEqual([{ wish: 'release-job', job: card('measure').bench?.job, to: 'late shift' }]));
  });

  it('says with whom it is, gives its file, and is taken back only after it was said what that means', async () => {
    const { backend } = shown('away');
    expect(screen.getByText(card('away').bench?.hand.away ?? '')).toBeTruthy();
    await fireEvent.click(screen.getByRole('button', { name: words.file }));
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'hand-over', job: card('away').bench?.job }));
    await fireEvent.click(screen.getByRole('button', { name: words.back }));
    expect(screen.getByText(card('away').bench?.hand.back ?? '')).toBeTruthy();
    expect(wishes(backend)).toEqual([]);
    await fireEvent.click(screen.getByRole('button', { name: words.backYes }));
    await waitFor(() => expect(wishes(backend)).toEqual([{ wish: 'take-job-back', job: card('away').bench?.job }]));
  });

  it('shows its code by a key, says how far it has come, and stops by a key', async () => {
    const { backend } = shown('away');
    const job = card('away').bench?.job;
    expect(screen.queryByRole('img', { name: words.code })).toBeNull();
    await fireEvent.click(screen.getByRole('button', { name: words.offer }));
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'offer', job }));
    backend.show(card('offered'));
    const offer = card('offered').bench?.hand.offer;
    expect(await screen.findByText(offer?.words ?? '')).toBeTruthy();
    expect(screen.getByRole('img', { name: words.code }).querySelector('path')?.getAttribute('d')).toBe(offer?.path);
    expect(screen.getByLabelText<HTMLTextAreaElement>(words.text).value).toBe(offer?.text);
    await fireEvent.click(screen.getByRole('button', { name: words.endOffer }));
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'end-offer' }));
  });

  it('shows no code when it was handed out, and says that this proves nothing', async () => {
    const offered = card('offered');
    if (!offered.bench?.hand.offer) throw new Error('nothing is offered on this card');
    const out = 'Handed out at 14:03. That does not prove that the other device recorded it.';
    const offer = { ...offered.bench.hand.offer, state: 'handed-out', words: out, text: '', fields: 0, path: '' };
    const backend = new FixtureBackend({ ...offered, bench: { ...offered.bench, hand: { ...offered.bench.hand, offer } } });
    render(App, { backend });
    expect(screen.getByText(out)).toBeTruthy();
    expect(screen.queryByRole('img', { name: words.code })).toBeNull();
    expect(screen.getByRole('button', { name: words.offerAgain })).toBeTruthy();
  });
});

describe('a job that comes from another device', () => {
  it('is sent as it is, and what is wrong with its file is said', async () => {
    const { backend } = shown('home');
    const notice = { code: 'hand', words: 'This is no file of a job.', remedy: 'Have it written again.' };
    backend.answers.push({ reply: 'jobs', lines: [], more: false, words: '' });
    const input = screen.getByLabelText(words.take);
    await waitFor(() => expect(backend.answers).toEqual([]));
    backend.answers.push({ reply: 'refused', refusal: { code: 'hand', refusal: { why: 'here' } }, notice });
    const file = new File([new Uint8Array([80, 75, 3, 4, 255])], 'evenwire-1.job.zip');
    await fireEvent.change(input, { target: { files: [file] } });
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'take-over', file: 'UEsDBP8=' }));
    expect(await screen.findByText(new RegExp(notice.words))).toBeTruthy();
  });

  it('waits at the shop, and whoever takes it although another one does is asked once more', async () => {
    const view = card('home');
    const backend = new FixtureBackend({ ...view, hub: { ...view.hub, state: 'paired' } });
    render(App, { backend });
    const line = { job: '0192f0c1-7a10-7c3e-9d41-5b2f0c6a1e01', order: 'W-2041', vehicle: '', words: 'Handed over by Bench 1.', taken: true };
    await screen.findByRole('button', { name: words.waiting });
    await waitFor(() => expect(backend.asked.some((ask) => ask.ask === 'jobs')).toBe(true));
    const seen = broughtIntoSight();
    backend.answers.push({ reply: 'waiting', lines: [line], words: '' });
    await fireEvent.click(screen.getByRole('button', { name: words.waiting }));
    await screen.findByText(line.words);
    await waitFor(() => expect(seen.at(-1)?.textContent).toContain(line.words));
    await fireEvent.click(await screen.findByRole('button', { name: `${words.anyway}: W-2041` }));
    expect(screen.getByText(words.twoWaysMean)).toBeTruthy();
    expect(backend.asked.some((ask) => ask.ask === 'take-from-shop')).toBe(false);
    await fireEvent.click(screen.getByRole('button', { name: words.yesAnyway }));
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'take-from-shop', job: line.job, anyway: true }));
  });

  it('that nothing waits there is brought into sight as well', async () => {
    const view = card('home');
    const backend = new FixtureBackend({ ...view, hub: { ...view.hub, state: 'paired' } });
    render(App, { backend });
    await screen.findByRole('button', { name: words.waiting });
    await waitFor(() => expect(backend.asked.some((ask) => ask.ask === 'jobs')).toBe(true));
    const seen = broughtIntoSight();
    backend.answers.push({ reply: 'waiting', lines: [], words: 'Nothing waits at the shop.' });
    await fireEvent.click(screen.getByRole('button', { name: words.waiting }));
    await waitFor(() => expect(seen.at(-1)?.textContent).toContain('Nothing waits at the shop.'));
  });

  it('comes from a device near by, by the text of its code, and the text stays when that did not work', async () => {
    const { backend } = shown('home');
    await waitFor(() => expect(backend.asked.some((ask) => ask.ask === 'jobs')).toBe(true));
    await fireEvent.click(screen.getByRole('button', { name: words.takeNear }));
    const field = screen.getByLabelText<HTMLTextAreaElement>(words.nearText);
    await fireEvent.input(field, { target: { value: 'evenwire:job/1/eyJ' } });
    const notice = { code: 'offer-unreachable', words: 'The other device does not answer.', remedy: 'Try again.' };
    backend.answers.push({ reply: 'failed', notice });
    await fireEvent.click(screen.getByRole('button', { name: words.fetch }));
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'take-offer', text: 'evenwire:job/1/eyJ' }));
    expect(await screen.findByText(new RegExp(notice.words))).toBeTruthy();
    expect(field.value).toBe('evenwire:job/1/eyJ');
    expect(await screen.findByRole('button', { name: words.fetch })).toBeTruthy();
  });

  it('says what is unsafe before the caution is read', () => {
    shown('taken');
    const [first] = card('taken').bench?.hand.taken_over ?? [];
    expect(screen.getByRole('region', { name: words.readIt }).textContent).toContain(first);
  });
});
