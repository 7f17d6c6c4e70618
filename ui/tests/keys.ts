import { waitFor } from '@testing-library/svelte';
import { onTestFinished } from 'vitest';

/** What a key is called: its label for those who listen, else what stands on it. */
const called = (key: HTMLElement): string => (key.getAttribute('aria-label') ?? key.textContent ?? '').replace(/\s+/g, ' ').trim();

/** The key of that name, or none. Quicker than by role on a screen with many keys, and it sees folded ones too. */
export function key(name: string, within: ParentNode = document): HTMLButtonElement | null {
  return [...within.querySelectorAll('button')].find((one) => called(one) === name) ?? null;
}

/** The key of that name as soon as it is there. */
export function awaited(name: string): Promise<HTMLButtonElement> {
  return waitFor(() => {
    const found = key(name);
    if (!found) throw new Error(`no key "${name}" among ${[...document.querySelectorAll('button')].map(called).join(' | ')}`);
    return found;
  });
}

/** Presses the keys of these names, one after the other. */
export async function press(...names: string[]) {
  for (const name of names) {
    const found = key(name);
    if (!found) throw new Error(`no key "${name}" among ${[...document.querySelectorAll('button')].map(called).join(' | ')}`);
    found.click();
    await Promise.resolve();
  }
}

/** What the page brings into sight from now on, the newest last; jsdom itself scrolls nothing. */
export function broughtIntoSight(): Element[] {
  const seen: Element[] = [];
  const before = Element.prototype.scrollIntoView;
  Element.prototype.scrollIntoView = function (this: Element) {
    seen.push(this);
  };
  onTestFinished(() => {
    Element.prototype.scrollIntoView = before;
  });
  return seen;
}
