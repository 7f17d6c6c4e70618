import { get, writable, type Readable } from 'svelte/store';
import { coil } from '../fixtures/coil';
import { cards, jobs } from '../fixtures/cards';
import { procedureLines, stepCards } from '../fixtures/steps';
import type { Ask } from '../generated/Ask';
import type { JobLine } from '../generated/JobLine';
import type { Notice } from '../generated/Notice';
import type { Pushed } from '../generated/Pushed';
import type { Reply } from '../generated/Reply';
import type { Shop } from '../generated/Shop';
import type { Signal } from '../generated/Signal';
import type { View } from '../generated/View';
import { Unanswered, type Backend, type Link } from './backend';

const noTrace: Notice = { code: 'no-such-reading', words: 'No trace is kept here.', remedy: 'Sweep again.' };

/** What a meter with a step of 0.001 ohm would be answered, as far as tests and pictures need it. */
function readBack(text: string, confirmed: boolean): Reply {
  const shown = text.replace(',', '.');
  if (!/^-?\d+(\.\d{1,3})?$/.test(shown)) {
    const why = { code: 'number', words: 'Reading: this is not a number that can be used.', remedy: 'Write it like 0.01.' };
    return { reply: 'read-back', key: '', why, ambiguous: false };
  }
  const key = `Take ${Number(shown).toFixed(3)} Ω`;
  if (confirmed || !/^-?[1-9]\d{0,2}\.\d{3}$/.test(shown)) return { reply: 'read-back', key, why: null, ambiguous: false };
  const why = { code: 'number', words: 'Reading: is the comma or point a decimal sign or a thousands sign?', remedy: '' };
  return { reply: 'read-back', key, why, ambiguous: true };
}

/** A program that is played: for tests, and for looking at a screen in development. Never built for use. */
export class FixtureBackend implements Backend {
  readonly link: Readable<Link>;
  /** Everything that was asked, oldest first. */
  readonly asked: Ask[] = [];
  /** What the next asks are answered, oldest first; when it is empty, all goes well. */
  readonly answers: Reply[] = [];
  readonly setLink: (link: Link) => void;
  jobs: JobLine[] = [];
  shop: Shop = { name: '', address: '', phone: '', logo: '' };
  /** Steps whose card is that of a settled one. */
  settled = new Set<string>(['order', 'scan']);
  #view: View;
  #listeners = new Set<(pushed: Pushed) => void>();

  constructor(view: View, link: Link = 'up') {
    const store = writable<Link>(link);
    this.link = store;
    this.setLink = store.set;
    this.#view = view;
  }

  ask(ask: Ask): Promise<Reply> {
    this.asked.push(ask);
    if (get(this.link) === 'down') return Promise.reject(new Unanswered('never-sent'));
    return Promise.resolve(this.answers.shift() ?? this.#answer(ask));
  }

  watch(listener: (pushed: Pushed) => void): () => void {
    this.#listeners.add(listener);
    listener({ pushed: 'view', view: this.#view });
    return () => this.#listeners.delete(listener);
  }

  show(view: View) {
    this.#view = view;
    for (const listener of this.#listeners) listener({ pushed: 'view', view });
  }

  signal(signal: Signal) {
    for (const listener of this.#listeners) listener({ pushed: 'signal', signal });
  }

  #answer(ask: Ask): Reply {
    if (ask.ask === 'check-part') return { reply: 'checked', faces: coil(null).faces, problems: [] };
    if (ask.ask === 'do') return { reply: 'done' };
    if (ask.ask === 'read-back') return readBack(ask.text, ask.confirmed);
    if (ask.ask === 'look-at-vin') return { reply: 'vin', words: ask.vin === '' ? '' : 'The check digit does not fit.' };
    if (ask.ask === 'shop') return { reply: 'shop', shop: this.shop };
    if (ask.ask === 'look-at-erasing') return { reply: 'erasing', words: 'Jobs opened before 2024-11-26: 3.', jobs: 3 };
    if (ask.ask === 'procedures') return { reply: 'procedures', lines: procedureLines(this.#view.language) };
    const card = ask.ask === 'step' ? stepCards(this.#view.language)[ask.step] : undefined;
    if (card) return { reply: 'step', card: this.settled.has(card.step) ? { ...card, state: 'settled' } : card };
    if (ask.ask === 'picture') return { reply: 'picture', jpeg: '/9j/' };
    if (['pair-with-shop', 'send-to-shop', 'leave-shop', 'put-note-away', 'offer', 'end-offer', 'take-offer'].includes(ask.ask)) return { reply: 'done' };
    if (ask.ask === 'keep-photo') return { reply: 'done' };
    if (ask.ask !== 'jobs') return { reply: 'refused', refusal: { code: 'no-such-reading' }, notice: noTrace };
    const wanted = ask.search.toLowerCase().split(/\s+/);
    const text = (line: JobLine) => `${line.order} ${line.vehicle} ${line.customer}`.toLowerCase();
    const found = this.jobs.filter((line) => !(ask.open && line.stage === 'done') && wanted.every((word) => text(line).includes(word)));
    const shown = Math.min(ask.limit, Math.max(found.length - ask.skip, 0));
    const all = shown === 0 ? '' : `${shown} jobs, newest first`;
    const words = shown < found.length && shown > 0 ? `The newest ${shown}; there are more` : all;
    return { reply: 'jobs', words, lines: found.slice(ask.skip, ask.skip + ask.limit), more: found.length > ask.skip + ask.limit };
  }
}

/** The bench of that name. `language`, `empty` and `down` in the page's address vary it. */
export function fixture(name: string, asked: URLSearchParams): Backend {
  const language = asked.get('language') === 'de' ? 'de' : 'en';
  const all = cards(language);
  const backend = new FixtureBackend(all[name] ?? (all['home'] as View), asked.has('down') ? 'down' : 'up');
  if (!asked.has('empty')) backend.jobs = jobs(language);
  return backend;
}
