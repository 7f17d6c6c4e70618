import { expect, it } from 'vitest';
import { officeTongues } from '../../src/office/words';

/** Every word with its key; sentences made by a function are made once, for three of nine. */
function leaves(words: object, under = ''): [string, string][] {
  return Object.entries(words).flatMap(([key, word]): [string, string][] => {
    const path = under ? `${under}.${key}` : key;
    if (typeof word === 'function') return [[path, String((word as (...of: unknown[]) => unknown)(3, 9))]];
    return typeof word === 'string' ? [[path, word]] : leaves(word as object, path);
  });
}

it('has every word of the office in both languages, German where it is a sentence', () => {
  const [en, de] = [leaves(officeTongues.en), leaves(officeTongues.de)];
  expect(de.map(([key]) => key).sort()).toEqual(en.map(([key]) => key).sort());
  expect([...en, ...de].filter(([, word]) => word.trim() === '')).toEqual([]);
  const english = new Map(en);
  expect(de.filter(([key, word]) => word.split(' ').length > 2 && english.get(key) === word)).toEqual([]);
});
