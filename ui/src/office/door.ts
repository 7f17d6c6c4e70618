import type { OfficeCode } from '../generated/OfficeCode';
import type { OfficeMistake } from '../generated/OfficeMistake';
import type { OfficeRefusal } from '../generated/OfficeRefusal';

/** Longest file of a procedure, in bytes: what core reads at most. The hub would only cut a longer one off. */
export const MOST_FILE = 96 * 1024;

/** Why nothing came back: the hub's reason, that it does not answer, or that a file was not even sent. */
export type Why = OfficeCode | 'silent';

/** What came of an ask. */
export type Answer<T> = { got: T; why: null } | { got: null; why: Why; mistakes: OfficeMistake[] };

export interface Sent {
  method?: 'GET' | 'POST' | 'DELETE';
  body?: unknown;
  csrf?: string;
}

/** The one way from the page to the hub. Never throws. */
export type Door = <T>(path: string, sent?: Sent) => Promise<Answer<T>>;

/** How long an answer may take: a password is compared slowly on purpose. */
const PATIENCE_MS = 30_000;

/** The page lies in a folder beside the hub's own addresses. */
export const address = (path: string) => `../v1/${path}`;

const no = (why: Why, mistakes: OfficeMistake[] = []) => ({ got: null, why, mistakes }) as const;

export const hub: Door = async <T>(path: string, { method = 'GET', body, csrf }: Sent = {}): Promise<Answer<T>> => {
  const headers: Record<string, string> = {};
  if (body !== undefined) headers['content-type'] = 'application/json';
  if (csrf) headers['x-evenwire-csrf'] = csrf;
  try {
    const answer = await fetch(address(path), {
      method,
      headers,
      body: body === undefined ? undefined : JSON.stringify(body),
      credentials: 'same-origin',
      cache: 'no-store',
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const text = await answer.text();
    if (answer.ok) return { got: (text === '' ? null : JSON.parse(text)) as T, why: null };
    const refusal = JSON.parse(text) as OfficeRefusal;
    return no(refusal.code, refusal.mistakes);
  } catch {
    // No answer, or one that is not the hub's: a cut line, another program on its port.
    return no('silent');
  }
};
