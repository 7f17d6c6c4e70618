import { get } from 'svelte/store';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Unanswered } from '../src/backend/backend';
import { SocketBackend, socketAddress } from '../src/backend/socket';
import type { Pushed } from '../src/generated/Pushed';

/** A WebSocket whose other end is the test. */
class FakeSocket {
  static OPEN = 1;
  static made: FakeSocket[] = [];
  readyState = 0;
  sent: { id: number; ask: unknown }[] = [];
  onopen: (() => void) | null = null;
  onmessage: ((message: { data: string }) => void) | null = null;
  onclose: (() => void) | null = null;

  constructor(readonly address: string) {
    FakeSocket.made.push(this);
  }

  send(text: string) {
    this.sent.push(JSON.parse(text));
  }

  open() {
    this.readyState = 1;
    this.onopen?.();
  }

  say(what: unknown) {
    this.onmessage?.({ data: typeof what === 'string' ? what : JSON.stringify(what) });
  }

  drop() {
    this.readyState = 3;
    this.onclose?.();
  }
}

const newest = () => FakeSocket.made.at(-1) as FakeSocket;

beforeEach(() => {
  vi.useFakeTimers();
  FakeSocket.made = [];
  vi.stubGlobal('WebSocket', FakeSocket);
  // Nobody is there, unless a test says otherwise.
  vi.stubGlobal('fetch', () => Promise.reject(new TypeError('refused')));
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

describe('the socket', () => {
  it('is found from the address of the page, with its token', () => {
    const page = { protocol: 'http:', host: '127.0.0.1:4100', search: '?token=a%2Fb&x=1' };
    expect(socketAddress(page)).toBe('ws://127.0.0.1:4100/socket?token=a%2Fb');
  });

  it('gives each answer to the ask it belongs to, in whatever order they come', async () => {
    const backend = new SocketBackend('ws://x');
    newest().open();
    const first = backend.ask({ ask: 'do', command: { wish: 'judge' } });
    const second = backend.ask({ ask: 'jobs', search: '', open: false, skip: 0, limit: 5 });
    expect(newest().sent).toEqual([
      { id: 1, ask: { ask: 'do', command: { wish: 'judge' } } },
      { id: 2, ask: { ask: 'jobs', search: '', open: false, skip: 0, limit: 5 } },
    ]);
    newest().say({ id: 2, reply: { reply: 'jobs', lines: [], more: true } });
    newest().say({ id: 1, reply: { reply: 'done' } });
    expect(await first).toEqual({ reply: 'done' });
    expect(await second).toEqual({ reply: 'jobs', lines: [], more: true });
  });

  it('tells every listener what is pushed, until it stops listening, and survives nonsense', () => {
    const backend = new SocketBackend('ws://x');
    newest().open();
    const heard: Pushed[] = [];
    const stop = backend.watch((pushed) => heard.push(pushed));
    newest().say('not { json');
    newest().say({ id: 99, reply: { reply: 'done' } });
    newest().say({ pushed: { pushed: 'signal', signal: 'taken' } });
    stop();
    newest().say({ pushed: { pushed: 'signal', signal: 'stop' } });
    expect(heard).toEqual([{ pushed: 'signal', signal: 'taken' }]);
  });

  it('is down before it is open, and an ask then is known not to have been sent', async () => {
    const backend = new SocketBackend('ws://x');
    expect(get(backend.link)).toBe('down');
    await expect(backend.ask({ ask: 'do', command: { wish: 'judge' } })).rejects.toMatchObject({ how: 'never-sent' });
    expect(newest().sent).toEqual([]);
    newest().open();
    expect(get(backend.link)).toBe('up');
  });

  it('says of an ask cut off by the loss that its fate is not known', async () => {
    const backend = new SocketBackend('ws://x');
    newest().open();
    const asked = backend.ask({ ask: 'do', command: { wish: 'judge' } });
    newest().drop();
    await expect(asked).rejects.toBeInstanceOf(Unanswered);
    await expect(asked).rejects.toMatchObject({ how: 'lost' });
    expect(get(backend.link)).toBe('down');
  });

  it('gives an answer up after ten seconds', async () => {
    const backend = new SocketBackend('ws://x');
    newest().open();
    const asked = expect(backend.ask({ ask: 'do', command: { wish: 'judge' } })).rejects.toMatchObject({ how: 'lost' });
    await vi.advanceTimersByTimeAsync(10_000);
    await asked;
  });

  it('connects again by itself, waiting longer each time, at most five seconds', () => {
    new SocketBackend('ws://x');
    const waits = [250, 500, 1000, 2000, 4000, 5000, 5000];
    for (const [tries, wait] of waits.entries()) {
      newest().drop();
      vi.advanceTimersByTime(wait - 1);
      expect(FakeSocket.made).toHaveLength(tries + 1);
      vi.advanceTimersByTime(1);
      expect(FakeSocket.made).toHaveLength(tries + 2);
    }
    newest().open();
    newest().drop();
    vi.advanceTimersByTime(250);
    expect(FakeSocket.made).toHaveLength(waits.length + 2);
  });

  it('tells a refused key from a program that is away', async () => {
    const asked: string[] = [];
    let status = 403;
    vi.stubGlobal('fetch', (address: string) => {
      asked.push(address);
      return status === 0 ? Promise.reject(new TypeError('refused')) : Promise.resolve({ status });
    });
    const backend = new SocketBackend('ws://x/socket?token=old');
    newest().drop();
    await vi.advanceTimersByTimeAsync(0);
    expect(asked).toEqual(['http://x/socket?token=old']);
    expect(get(backend.link)).toBe('locked');
    status = 0;
    await vi.advanceTimersByTimeAsync(250);
    newest().drop();
    await vi.advanceTimersByTimeAsync(0);
    expect(get(backend.link)).toBe('down');
    // A socket that was open and is lost was let in: its key is right, and nothing is asked.
    await vi.advanceTimersByTimeAsync(500);
    newest().open();
    newest().drop();
    await vi.advanceTimersByTimeAsync(0);
    expect([asked.length, get(backend.link)]).toEqual([2, 'down']);
  });

  it('a refusal heard late does not lock a page that was let in meanwhile', async () => {
    let answer: (of: { status: number }) => void = () => {};
    vi.stubGlobal('fetch', () => new Promise((resolve) => (answer = resolve)));
    const backend = new SocketBackend('ws://x');
    newest().drop();
    await vi.advanceTimersByTimeAsync(250);
    newest().open();
    answer({ status: 403 });
    await vi.advanceTimersByTimeAsync(0);
    expect(get(backend.link)).toBe('up');
  });
});
