/** Where somebody was on the page before something else took its place. */
export type KeptPlace = { row: string; top: number; y: number };

/** Rows that are found again when the page comes back. */
const ROWS = ['data-pair', 'data-sweep-row', 'data-place'];

/** The row under the hand, and how far down it stands. */
export function keepPlace(): KeptPlace {
  const pressed = document.activeElement?.closest<HTMLElement>(ROWS.map((name) => `[${name}]`).join());
  const name = ROWS.find((one) => pressed?.hasAttribute(one));
  const row = pressed && name ? `[${name}="${pressed.getAttribute(name)}"]` : '';
  return { row, top: pressed?.getBoundingClientRect().top ?? 0, y: window.scrollY };
}

/** Puts the same row where it stood; without one the page is scrolled as far as it was. */
export function putBack({ row, top, y }: KeptPlace) {
  const found = row ? document.querySelector<HTMLElement>(row) : null;
  if (!found) return window.scrollTo?.(0, y);
  const lower = found.getBoundingClientRect().top - top;
  const sheet = found.closest<HTMLElement>('.picture');
  // Beside a wide card the picture scrolls by itself.
  if (sheet && getComputedStyle(sheet).position === 'fixed') sheet.scrollTop += lower;
  else window.scrollTo?.(0, window.scrollY + lower);
}
