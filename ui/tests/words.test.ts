import { describe, expect, it } from 'vitest';
import { de } from '../src/words/de';
import { en } from '../src/words/en';

/** Every word with its key; sentences made by a function are made once, for three of nine. */
function leaves(words: object, under = ''): [string, string][] {
  return Object.entries(words).flatMap(([key, word]): [string, string][] => {
    const path = under ? `${under}.${key}` : key;
    if (typeof word === 'function') return [[path, String((word as (...of: unknown[]) => unknown)(3, 9))]];
    return typeof word === 'string' ? [[path, word]] : leaves(word as object, path);
  });
}

describe('the words of the page', () => {
  it('have the same keys in both languages', () => {
    expect(leaves(de).map(([key]) => key).sort()).toEqual(leaves(en).map(([key]) => key).sort());
  });

  it.each([...leaves(en).map((leaf) => ['en', ...leaf]), ...leaves(de).map((leaf) => ['de', ...leaf])])(
    '%s %s is not empty',
    (_language, _key, word) => {
      expect(word?.trim()).toBeTruthy();
    },
  );

  it('are spoken in German where they are sentences', () => {
    const english = new Map(leaves(en));
    const same = leaves(de).filter(([key, word]) => word.split(' ').length > 2 && english.get(key) === word);
    expect(same).toEqual([]);
  });
});
