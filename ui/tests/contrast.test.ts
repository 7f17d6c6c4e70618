import { describe, expect, it } from 'vitest';
import tokens from '../src/style/tokens.css?raw';

type Theme = Record<string, string>;

const themes: [string, Theme][] = [...tokens.matchAll(/data-theme='(\w+)'\] \{([^}]*)\}/g)].map(([, name, body]) => [
  name ?? '',
  Object.fromEntries([...(body ?? '').matchAll(/--([\w-]+): (#[0-9a-f]{6})/g)].map(([, key, colour]) => [key, colour])),
]);

/** Relative luminance, WCAG 2.2. */
function luminance(colour: string): number {
  const [red, green, blue] = [1, 3, 5].map((at) => {
    const part = parseInt(colour.slice(at, at + 2), 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}

function contrast(one: string, other: string): number {
  const [dark, light] = [luminance(one), luminance(other)].sort((a, b) => a - b) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

describe('contrast of the colours', () => {
  it('is computed for three themes', () => {
    expect(themes.map(([name]) => name)).toEqual(['light', 'dark', 'contrast']);
    expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 5);
  });

  const pairs = themes.flatMap(([name, theme]) => {
    const on = (colour: string, ground: string, least: number) => ({ name, theme, colour, ground, least });
    const verdicts = ['consistent', 'condemned', 'undecided'];
    return [
      // Readings, on the card, on the table and on a verdict's wash.
      ...['card', 'bench', ...verdicts.map((kind) => `${kind}-wash`)].map((ground) => on('ink', ground, 7)),
      ...['card', 'bench'].map((ground) => on('soft', ground, 4.5)),
      ...verdicts.flatMap((kind) => [on(kind, 'card', 4.5), on(kind, 'bench', 4.5), on(kind, `${kind}-wash`, 4.5)]),
      ...['card', 'bench'].map((ground) => on('line', ground, 3)),
    ];
  });

  it.each(pairs)('$name: $colour on $ground reaches $least', ({ theme, colour, ground, least }) => {
    expect(contrast(theme[colour] ?? '', theme[ground] ?? '')).toBeGreaterThanOrEqual(least);
  });
});
