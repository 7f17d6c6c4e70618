import { execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { mkdtemp, rm } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);

/** How long the hub may take to print its link on a busy machine. */
const STARTING_MS = 20_000;

/** A port nobody has. */
async function freePort() {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address();
  server.close();
  await once(server, 'close');
  return port;
}

/** The shop's hub on a folder of its own. EVENWIRE_HUB names the program. */
export class Hub {
  #folder;
  #process = null;
  /** The one-time link of the first start. */
  link = '';
  /** The page of the office. */
  address = '';

  static async start() {
    const program = process.env.EVENWIRE_HUB;
    if (!program) throw new Error('EVENWIRE_HUB names no program: build evenwire-hub and name it, or run `make test`.');
    const hub = new Hub();
    hub.#folder = await mkdtemp(join(tmpdir(), 'evenwire-hub-'));
    const port = await freePort();
    const line = ['serve', '--folder', hub.#folder, '--listen', '127.0.0.1', '--address', '127.0.0.1', '--port', String(port)];
    const child = spawn(program, line, { stdio: ['ignore', 'pipe', 'ignore'] });
    hub.#process = child;
    const late = AbortSignal.timeout(STARTING_MS);
    for await (const said of createInterface({ input: child.stdout, signal: late })) {
      const link = /(https:\/\/127\.0\.0\.1:\d+\/office\/)#setup=[\w-]+/.exec(said);
      if (!link) continue;
      [hub.link, hub.address] = link;
      child.stdout.resume();
      return hub;
    }
    throw new Error('the hub ended before it printed its link');
  }

  /** The link its program prints for the owner, while the hub runs. */
  async ownerLink() {
    const line = ['owner-link', '--folder', this.#folder, '--address', new URL(this.address).host];
    const { stdout } = await run(process.env.EVENWIRE_HUB, line);
    return /https:\S+#setup=[\w-]+/.exec(stdout)[0];
  }

  async end() {
    if (this.#process && this.#process.exitCode === null && this.#process.signalCode === null) {
      const gone = once(this.#process, 'exit');
      this.#process.kill('SIGKILL');
      await gone;
    }
    await rm(this.#folder, { recursive: true, force: true });
  }
}
