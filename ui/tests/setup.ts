import { cleanup } from '@testing-library/svelte';
import { afterEach } from 'vitest';

// jsdom lays nothing out, so there are no sizes to watch.
class NoSizes implements ResizeObserver {
  observe() {}
  unobserve() {}
  disconnect() {}
}
globalThis.ResizeObserver ??= NoSizes;
window.scrollTo = () => {};

afterEach(() => cleanup());
