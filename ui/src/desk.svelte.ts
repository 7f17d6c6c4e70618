import { Unanswered, type Backend, type Link } from './backend/backend';
import { said } from './frame/said.svelte';
import type { Ask } from './generated/Ask';
import type { Command } from './generated/Command';
import type { MeterView } from './generated/MeterView';
import type { Refusal } from './generated/Refusal';
import type { Reply } from './generated/Reply';
import type { Signal } from './generated/Signal';
import type { View } from './generated/View';
import { speech } from './words/speech.svelte';

/** A live display that nobody renewed for so long is not shown any more. */
export const SILENCE_MS = 6_000;

/** What came of a wish: done, refused with its reason, or not done for want of the program or the disk. */
export type Outcome = { done: true } | { done: false; refusal: Refusal | null };

/** What stands between the page and the program: the newest view, the link, and the one way to wish. */
export class Desk {
  link: Link = $state('down');
  newest: View | null = $state.raw(null);
  silent = $state(false);
  #backend: Backend;
  #timer = 0;
  #stop: (() => void)[];

  constructor(backend: Backend, heard: (signal: Signal) => void = () => {}) {
    this.#backend = backend;
    this.#stop = [
      backend.link.subscribe((link) => {
        this.link = link;
      }),
      backend.watch((pushed) => {
        if (pushed.pushed === 'signal') heard(pushed.signal);
        else this.#see(pushed.view);
      }),
    ];
    // A program without a ledger shows nothing by itself; asked, it says why.
    if (this.link === 'up' && this.newest === null) void this.ask({ ask: 'jobs', search: '', open: false, skip: 0, limit: 1 });
  }

  /** The newest view; without a living link, without its live number. */
  get view(): View | null {
    if (this.newest === null) return null;
    const reached = this.link === 'up' && !this.silent;
    return reached ? this.newest : { ...this.newest, meter: unseen(this.newest.meter) };
  }

  /** Nobody hears us: the link is down, or a display that should go on has stopped. */
  get cut(): boolean {
    return this.link !== 'up' || this.silent;
  }

  tell = async (command: Command): Promise<Outcome> => {
    const reply = await this.ask({ ask: 'do', command });
    if (reply === null) return { done: false, refusal: null };
    if (reply.reply === 'refused') {
      said.say('refused', reply.notice);
      return { done: false, refusal: reply.refusal };
    }
    if (reply.reply === 'failed') return { done: false, refusal: null };
    said.hush();
    return { done: true };
  };

  /** `null` when no answer will come; the person has been told. */
  ask = async (ask: Ask): Promise<Reply | null> => {
    try {
      const reply = await this.#backend.ask(ask);
      if (reply.reply === 'failed') said.say('failed', reply.notice);
      return reply;
    } catch (why) {
      const sent = !(why instanceof Unanswered) || why.how === 'lost';
      const words = speech.words.link;
      said.say('failed', { code: 'unanswered', ...(sent ? words.unanswered : words.neverSent) });
      return null;
    }
  };

  close() {
    clearTimeout(this.#timer);
    for (const stop of this.#stop) stop();
  }

  #see(view: View) {
    this.newest = view;
    this.silent = false;
    speech.language = view.language;
    clearTimeout(this.#timer);
    if (view.meter.display) this.#timer = window.setTimeout(() => (this.silent = true), SILENCE_MS);
  }
}

/** The meter as it is known when the program cannot be heard: named, but with nothing live. */
function unseen(meter: MeterView): MeterView {
  return { ...meter, live: false, display: null, code: 'unreached', words: speech.words.link.unseen, remedy: null };
}
