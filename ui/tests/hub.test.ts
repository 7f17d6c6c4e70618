import { fireEvent, screen, waitFor, within } from '@testing-library/svelte';
import { beforeEach, expect, it } from 'vitest';
import { cards, jobs } from '../src/fixtures/cards';
import * as views from '../src/fixtures/views';
import { said } from '../src/frame/said.svelte';
import type { BenchView } from '../src/generated/BenchView';
import type { HubView } from '../src/generated/HubView';
import type { View } from '../src/generated/View';
import { speech, tongues } from '../src/words/speech.svelte';
import { broughtIntoSight, key, press } from './keys';
import { shown } from './worked';

const words = tongues.en.shelf.hub;
const home: View = { ...views.measuring, bench: null };
const paired: HubView = {
  ...views.noHub,
  state: 'paired',
  words: 'Paired with Quayside Garage as “Bench 2”.',
  progress: 'At the shop: 57 of 60 entries, 12 of 40 photos, recordings and details.',
};

async function atShop(hub: HubView) {
  const page = shown({ ...home, hub });
  await press(tongues.en.shelf.shop.key);
  await screen.findByText(hub.words);
  return page;
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

it('asks the shop with the invitation and the name as they were typed, and shows the six digits', async () => {
  const { backend } = await atShop(views.noHub);
  await fireEvent.input(screen.getByLabelText(words.invitation), { target: { value: 'evenwire:hub/1/eyJ' } });
  await fireEvent.input(screen.getByLabelText(words.name), { target: { value: 'Bench 2' } });
  await press(words.pair);
  const wanted = { ask: 'pair-with-shop', invitation: 'evenwire:hub/1/eyJ', name: 'Bench 2' };
  await waitFor(() => expect(backend.asked.at(-1)).toEqual(wanted));
  backend.show({ ...home, hub: { ...views.noHub, state: 'asked', words: 'Compare them.', digits: '042 917' } });
  await screen.findByText('042 917');
  expect(screen.queryByLabelText(words.invitation)).toBeNull();
  await press(words.never);
  expect(backend.asked.at(-1)).toEqual({ ask: 'leave-shop' });
});

it('brings the six digits into sight when they come up, and leaves the page where it is after that', async () => {
  const { backend } = await atShop(views.noHub);
  const seen = broughtIntoSight();
  const asked: HubView = { ...views.noHub, state: 'asked', words: 'Compare them.', digits: '042 917' };
  backend.show({ ...home, hub: asked });
  await screen.findByText('042 917');
  expect(seen.map((one) => one.textContent)).toEqual([words.title]);
  expect(document.activeElement?.textContent).toBe(words.title);
  backend.show({ ...home, hub: { ...asked, words: 'Compare them still.' } });
  await screen.findByText('Compare them still.');
  backend.show({ ...home, hub: paired });
  await screen.findByText(paired.words);
  expect(seen).toHaveLength(1);
});

it('takes the invitation from a photo of the code, and keeps what was typed when there is none in it', async () => {
  const { backend } = await atShop(views.noHub);
  const typed = screen.getByLabelText(words.invitation) as HTMLTextAreaElement;
  const file = new File([new Uint8Array([255, 216, 255])], 'code.jpg');
  const photo = () => fireEvent.change(screen.getByLabelText(words.photograph), { target: { files: [file] } });
  backend.answers.push({ reply: 'code', text: 'evenwire:hub/1/eyJ' });
  await photo();
  await waitFor(() => expect(typed.value).toBe('evenwire:hub/1/eyJ'));
  expect(backend.asked.at(-1)).toEqual({ ask: 'read-code', picture: '/9j/' });
  backend.answers.push({ reply: 'refused', refusal: { code: 'no-code' }, notice: { code: 'no-code', words: 'No code can be read.', remedy: 'Take it again.' } });
  await photo();
  await screen.findByText(/No code can be read\./);
  expect(typed.value).toBe('evenwire:hub/1/eyJ');
});

it('keeps what was typed when the shop does not take it, and says why', async () => {
  const { backend } = await atShop(views.noHub);
  const typed = screen.getByLabelText(words.invitation) as HTMLTextAreaElement;
  await fireEvent.input(typed, { target: { value: 'evenwire:hub/1/eyJ' } });
  backend.answers.push({ reply: 'failed', notice: { code: 'hub-code', words: 'It was used before.', remedy: 'Ask for another.' } });
  await press(words.pair);
  await screen.findByText(/It was used before\./);
  expect(typed.value).toBe('evenwire:hub/1/eyJ');
});

it('sends when told to, says how far it is, and unpairs only after a yes', async () => {
  const { backend } = await atShop({ ...paired, sending: true });
  await screen.findByText(/12 of 40 photos.*Sending/);
  expect(screen.queryByLabelText(words.invitation)).toBeNull();
  await press(words.send);
  expect(backend.asked.at(-1)).toEqual({ ask: 'send-to-shop' });
  const asked = backend.asked.length;
  await press(words.unpair);
  await screen.findByText(words.unpairAsks);
  expect(backend.asked.length).toBe(asked);
  await press(words.yes);
  expect(backend.asked.at(-1)).toEqual({ ask: 'leave-shop' });
});

it('says what is in the way, and offers the form again where the shop has to take it in anew', async () => {
  const trouble = { code: 'hub-revoked', words: 'Nothing is taken any more.', remedy: 'Ask the office.' };
  await atShop({ ...paired, trouble, pair_again: true });
  expect(screen.getByText('Nothing is taken any more.').closest('[role=alert]')).not.toBeNull();
  expect(screen.getByLabelText(words.invitation)).toBeTruthy();
});

it('shows a word from the office on the list until it was read', async () => {
  const note = { number: 7, job: null, text: 'The loaner is back on Monday.' };
  const { backend } = shown({ ...home, hub: { ...paired, notes: [note] } });
  await screen.findByText(/The loaner is back/);
  await press(`${words.read}: ${note.text}`);
  expect(backend.asked.at(-1)).toEqual({ ask: 'put-note-away', number: 7 });
});

it('marks a job as safe only where the program says so, in the list and when it is closed', async () => {
  const { backend } = shown(home);
  const [first, second] = jobs('en');
  backend.jobs = [first!, second!];
  await screen.findByText(first!.order);
  expect(document.querySelector('.at-shop')).toBeNull();
  backend.jobs = [
    { ...first!, at_shop: { safe: true, words: 'Safe at the shop.' } },
    { ...second!, at_shop: { safe: false, words: 'Not safe at the shop yet: 12 of 40 photos there.' } },
  ];
  // What is at the shop changes while the list is looked at.
  backend.show({ ...home, hub: paired });
  const safe = await screen.findByText('Safe at the shop.', {}, { timeout: 3_000 });
  expect(safe.querySelector('svg')).not.toBeNull();
  expect(screen.getByText(/12 of 40 photos there/).querySelector('svg')).toBeNull();
  const done = cards('en')['done'] as View;
  const mark = { safe: true, words: 'Safe at the shop.' };
  backend.show({ ...done, bench: { ...(done.bench as BenchView), at_shop: mark } });
  await waitFor(() => expect(key(tongues.en.done.back)).not.toBeNull());
  expect(within(document.querySelector('.do') as HTMLElement).getByText('Safe at the shop.')).toBeTruthy();
});
