import type { OfficeMistake } from '../generated/OfficeMistake';
import type { OfficeSession } from '../generated/OfficeSession';
import type { Role } from '../generated/Role';
import type { Answer, Door, Sent, Why } from './door';

const REACH: Record<Role, number> = { technician: 0, office: 1, owner: 2 };

/** Who sits here, and what was refused last. Everything the page asks goes through it. */
export class OfficeDesk {
  session: OfficeSession | null = $state.raw(null);
  /** Why the last ask was not done; the next one that is done clears it. */
  why: Why | null = $state(null);
  mistakes: OfficeMistake[] = $state.raw([]);
  #door: Door;

  constructor(door: Door) {
    this.#door = door;
  }

  get person() {
    return this.session?.person ?? null;
  }

  /** Whether a key is shown; the hub refuses whatever is pressed all the same. */
  may(role: Role): boolean {
    return this.person !== null && REACH[this.person.role] >= REACH[role];
  }

  /** Looks who sits here. */
  async look() {
    const answer = await this.#door<OfficeSession>('office/session');
    if (answer.why === null) this.session = answer.got;
    this.#note(answer);
  }

  /** Asks; `null` when it was refused, and `why` says so then. */
  async ask<T>(path: string, sent: Sent = {}): Promise<T | null> {
    const answer = await this.#door<T>(path, { csrf: sent.method ? this.person?.csrf : undefined, ...sent });
    this.#note(answer);
    if (answer.why === 'signed-out' && this.session?.person) {
      const { why } = this;
      await this.look();
      this.why = why;
    }
    return answer.got;
  }

  /** Looks again at what is shown: why a key was refused stays on the screen, unless it was that nobody answered. */
  async glance<T>(path: string): Promise<T | null> {
    const answer = await this.#door<T>(path);
    if (answer.why === 'signed-out' && this.session?.person) {
      await this.look();
      this.why = answer.why;
    } else if (answer.why !== null) this.#note(answer);
    else if (this.why === 'silent') this.hush();
    return answer.got;
  }

  /** Does something that answers nothing; whether it was done. */
  async done(path: string, body?: unknown, method: 'POST' | 'DELETE' = 'POST'): Promise<boolean> {
    await this.ask(path, { method, body: body ?? (method === 'POST' ? {} : undefined) });
    return this.why === null;
  }

  /** Says why something is not even asked. */
  refuse(why: Why) {
    [this.why, this.mistakes] = [why, []];
  }

  hush() {
    [this.why, this.mistakes] = [null, []];
  }

  #note(answer: Answer<unknown>) {
    this.why = answer.why;
    this.mistakes = answer.why === null ? [] : answer.mistakes;
  }
}
