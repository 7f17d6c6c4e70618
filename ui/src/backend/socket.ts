import { writable, type Readable } from 'svelte/store';
import type { Ask } from '../generated/Ask';
import type { Pushed } from '../generated/Pushed';
import type { Reply } from '../generated/Reply';
import { Unanswered, type Backend, type Link } from './backend';

const FIRST_WAIT_MS = 250;
const LONGEST_WAIT_MS = 5_000;
/** An answer that takes longer is not waited for: the person has to be told something. */
const ANSWER_MS = 10_000;
/** A job that is taken over is fetched, looked at and kept with all its photos before there is an answer. */
const TAKEN_MS = 120_000;

type FromServer = { id: number; reply: Reply } | { pushed: Pushed };
type Waiting = { answer: (reply: Reply) => void; give_up: (why: Unanswered) => void; timer: number };

/** The address of the socket that belongs to a page address. The token travels from one to the other. */
export function socketAddress(page: Pick<Location, 'protocol' | 'host' | 'search'>): string {
  const token = new URLSearchParams(page.search).get('token') ?? '';
  const scheme = page.protocol === 'https:' ? 'wss' : 'ws';
  return `${scheme}://${page.host}/socket?token=${encodeURIComponent(token)}`;
}

/** The program is there and refuses the key. A refused socket does not say why; the same address without one does. */
async function isLocked(address: string): Promise<boolean> {
  try {
    return (await fetch(address.replace(/^ws/, 'http'))).status === 403;
  } catch {
    return false;
  }
}

/** The program is reached through a WebSocket. Connects by itself, again and again, less and less often. */
export class SocketBackend implements Backend {
  readonly link: Readable<Link>;
  #set: (link: Link) => void;
  #address: string;
  #socket: WebSocket | null = null;
  #listeners = new Set<(pushed: Pushed) => void>();
  #waiting = new Map<number, Waiting>();
  #next_id = 1;
  #wait_ms = FIRST_WAIT_MS;

  constructor(address: string) {
    const link = writable<Link>('down');
    this.link = link;
    this.#set = link.set;
    this.#address = address;
    this.#connect();
  }

  ask(ask: Ask): Promise<Reply> {
    const socket = this.#socket;
    if (socket === null || socket.readyState !== WebSocket.OPEN) return Promise.reject(new Unanswered('never-sent'));
    const id = this.#next_id++;
    return new Promise((answer, give_up) => {
      const patience = ask.ask.startsWith('take-') ? TAKEN_MS : ANSWER_MS;
      const timer = window.setTimeout(() => this.#drop(id), patience);
      this.#waiting.set(id, { answer, give_up, timer });
      socket.send(JSON.stringify({ id, ask }));
    });
  }

  watch(listener: (pushed: Pushed) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  #connect() {
    const socket = new WebSocket(this.#address);
    let opened = false;
    this.#socket = socket;
    socket.onopen = () => {
      opened = true;
      this.#wait_ms = FIRST_WAIT_MS;
      this.#set('up');
    };
    socket.onmessage = (message: MessageEvent) => this.#hear(message.data);
    socket.onclose = () => this.#lost(opened);
  }

  #hear(text: unknown) {
    let heard: FromServer;
    try {
      heard = JSON.parse(String(text)) as FromServer;
    } catch {
      return;
    }
    if ('pushed' in heard) {
      for (const listener of this.#listeners) listener(heard.pushed);
      return;
    }
    const waiting = this.#waiting.get(heard.id);
    if (!waiting) return;
    this.#waiting.delete(heard.id);
    clearTimeout(waiting.timer);
    waiting.answer(heard.reply);
  }

  #drop(id: number) {
    const waiting = this.#waiting.get(id);
    if (!waiting) return;
    this.#waiting.delete(id);
    clearTimeout(waiting.timer);
    waiting.give_up(new Unanswered('lost'));
  }

  #lost(opened: boolean) {
    this.#socket = null;
    if (opened) this.#set('down');
    else void this.#ask_why();
    for (const id of [...this.#waiting.keys()]) this.#drop(id);
    setTimeout(() => this.#connect(), this.#wait_ms);
    this.#wait_ms = Math.min(this.#wait_ms * 2, LONGEST_WAIT_MS);
  }

  async #ask_why() {
    const locked = await isLocked(this.#address);
    // The next attempt may have been let in meanwhile.
    if (this.#socket?.readyState !== WebSocket.OPEN) this.#set(locked ? 'locked' : 'down');
  }
}
