import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** How long the program may take to print its address on a busy machine. */
const STARTING_MS = 20_000;

/** The program under test, as `make test` built it. */
function binary() {
  const named = process.env.EVENWIRE_CLI;
  if (!named) throw new Error('EVENWIRE_CLI names no program: build evenwire-cli and name it, or run `make test`.');
  return named;
}

/** A ledger in a folder of its own, and the program that serves the page on it. */
export class Program {
  #folder;
  #process = null;
  #port = 0;
  address = '';

  static async start(speed) {
    const program = new Program();
    program.#folder = await mkdtemp(join(tmpdir(), 'evenwire-walk-'));
    program.speed = speed;
    await program.again();
    return program;
  }

  /** Starts it again on the same ledger and the same port; its key is a new one. */
  async again() {
    const line = ['serve', '--db', join(this.#folder, 'evenwire.db'), '--no-radio', '--speed', String(this.speed)];
    const child = spawn(binary(), [...line, '--port', String(this.#port)], { stdio: ['ignore', 'pipe', 'inherit'] });
    this.#process = child;
    const late = AbortSignal.timeout(STARTING_MS);
    for await (const said of createInterface({ input: child.stdout, signal: late })) {
      const address = /http:\/\/127\.0\.0\.1:(\d+)\/\?token=[0-9a-f]+/.exec(said);
      if (!address) continue;
      this.address = address[0];
      this.#port = Number(address[1]);
      // Whatever it says later is let go, so that it never waits for a reader.
      child.stdout.resume();
      return;
    }
    throw new Error(late.aborted ? 'the program printed no address in time' : 'the program ended before it printed its address');
  }

  /** Ends it without warning, as a flat battery would. */
  async kill() {
    const gone = once(this.#process, 'exit');
    this.#process.kill('SIGKILL');
    await gone;
  }

  async end() {
    if (this.#process && this.#process.exitCode === null && this.#process.signalCode === null) await this.kill();
    await rm(this.#folder, { recursive: true, force: true });
  }
}
