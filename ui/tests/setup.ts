import { cleanup } from '@testing-library/svelte';
import { afterEach, expect } from 'vitest';

// jsdom lays nothing out, so there are no sizes to watch.
class NoSizes implements ResizeObserver {
  observe() {}
  unobserve() {}
  disconnect() {}
}
globalThis.ResizeObserver ??= NoSizes;
window.scrollTo = () => {};
// Nor does it give the bytes of a file that way.
Blob.prototype.arrayBuffer ??= function (this: Blob) {
  return new Promise((done) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result as ArrayBuffer);
    reader.readAsArrayBuffer(this);
  });
};

// What Svelte warns of while a page runs is a defect of the page.
const warned: unknown[][] = [];
const warn = console.warn;
console.warn = (...words: unknown[]) => {
  warn(...words);
  warned.push(words);
};

afterEach(() => {
  cleanup();
  const told = warned.splice(0).map((words) => words.join(' '));
  expect(told).toEqual([]);
});
