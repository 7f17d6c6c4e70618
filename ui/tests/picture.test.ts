import { fireEvent, render, screen, within } from '@testing-library/svelte';
import { beforeEach, describe, expect, onTestFinished, test, vi } from 'vitest';
import { coil } from '../src/fixtures/coil';
import { alike, candidate, everyMark, farOff } from '../src/fixtures/ladders';
import type { Mark as MarkKind } from '../src/generated/Mark';
import ConnectorFace from '../src/picture/ConnectorFace.svelte';
import Ladder from '../src/picture/Ladder.svelte';
import Mark from '../src/picture/Mark.svelte';
import { speech, tongues } from '../src/words/speech.svelte';

const kinds: MarkKind[] = ['consistent', 'high', 'low', 'open', 'unstable', 'undecided', 'not-measured'];
const faceOf = (index: number) => {
  const face = coil(5).faces[index];
  if (!face) throw new Error(`no face ${index}`);
  return face;
};
const rail = (container: HTMLElement, name: string): HTMLElement => {
  const found = container.querySelector<HTMLElement>(`[data-rung="${name}"]`);
  if (!found) throw new Error(`no rung ${name}`);
  return found;
};

beforeEach(() => {
  speech.language = 'en';
});

describe('marks', () => {
  test.each(['en', 'de'] as const)('each kind has its own shape and its own word, in %s', (language) => {
    speech.language = language;
    const drawn = kinds.map((kind) => {
      const { container, unmount } = render(Mark, { kind });
      const seen = { shape: container.querySelector('svg')?.innerHTML, word: container.textContent?.trim() };
      unmount();
      return seen;
    });
    expect(new Set(drawn.map(({ shape }) => shape)).size).toBe(kinds.length);
    expect(new Set(drawn.map(({ word }) => word)).size).toBe(kinds.length);
    expect(drawn.every(({ word }) => word !== undefined && word.length > 2)).toBe(true);
  });

  test('says the word of the view rather than its own', () => {
    render(Mark, { kind: 'high', word: 'above the others' });
    expect(screen.getByText('above the others')).toBeTruthy();
    expect(screen.queryByText('high')).toBeNull();
  });
});

describe('ladder', () => {
  test('stands for its sentence, and the sentence is to be seen too', () => {
    render(Ladder, { ladder: farOff });
    expect(screen.getByRole('img', { name: farOff.sentence })).toBeTruthy();
    expect(document.querySelector('figcaption')?.textContent).toContain(farOff.sentence);
  });

  test('places values, bars, touches and band at the thousandths of the view', () => {
    const { container } = render(Ladder, { ladder: farOff });
    const fourth = farOff.rungs[3];
    const band = farOff.band;
    if (!fourth?.bar || fourth.at === null || !band) throw new Error('the fixture lost its fourth rung');
    const drawn = rail(container, '4');
    expect(drawn.querySelector<HTMLElement>('.value')?.style.insetInlineStart).toBe(`${fourth.at / 10}%`);
    expect(drawn.querySelector('.bar')?.getAttribute('x1')).toBe(`${fourth.bar[0] / 10}%`);
    expect(drawn.querySelector('.bar')?.getAttribute('x2')).toBe(`${fourth.bar[1] / 10}%`);
    const feet = [...drawn.querySelectorAll('.foot')].map((foot) => foot.getAttribute('x'));
    expect(feet).toEqual(fourth.touches.map((at) => `${at / 10}%`));
    const shade = container.querySelector('[data-band]');
    expect(shade?.getAttribute('x')).toBe(`${band.from / 10}%`);
    expect(shade?.getAttribute('width')).toBe(`${(band.to - band.from) / 10}%`);
    expect(container.querySelector('.reference')?.getAttribute('x1')).toBe(`${band.reference / 10}%`);
  });

  test('draws no band while there is no reference', () => {
    const { container } = render(Ladder, { ladder: { ...farOff, band: null } });
    expect(container.querySelector('[data-band]')).toBeNull();
    expect(container.textContent).not.toContain('Counts as alike');
  });

  test('an open conductor stands beyond the break and nowhere on the axis', () => {
    const { container } = render(Ladder, { ladder: everyMark });
    expect(rail(container, '4').querySelector('.value')).toBeNull();
    expect(container.querySelectorAll('.beyond .break')).toHaveLength(1);
    expect(container.querySelectorAll('.beyond [data-mark="open"]')).toHaveLength(1);
  });

  test('a conductor that was not measured has a stub, no mark and no bar', () => {
    const { container } = render(Ladder, { ladder: everyMark });
    const seventh = rail(container, '7');
    expect(seventh.querySelector('.stub')).not.toBeNull();
    expect(seventh.querySelector('.wire, .value, .bar, .foot')).toBeNull();
    expect(rail(container, '1').querySelector('.stub')).toBeNull();
  });

  test('its table says value, difference and word of every conductor', () => {
    render(Ladder, { ladder: farOff });
    const rows = screen.getAllByRole('row', { hidden: true }).slice(1);
    expect(rows).toHaveLength(8);
    expect(rows[3]?.textContent).toMatch(/4.*12\.00 Ω.*\+11\.65 ± 0\.15 Ω.*high/s);
  });

  test('what the old part read stands behind as a ring, and in words', () => {
    const { container } = render(Ladder, { ladder: candidate });
    expect(rail(container, '1').querySelector('.old')?.getAttribute('cx')).toBe(`${(candidate.rungs[0]?.old_at ?? 0) / 10}%`);
    expect(rail(container, '4').querySelector('.old')).toBeNull();
    expect(container.textContent).toContain('old 0.340 Ω');
    expect(container.textContent).toContain('old open');
  });

  test('a limit is a stop on its rung, and its words stand in the key and the table', () => {
    const { container } = render(Ladder, { ladder: candidate });
    const fourth = candidate.rungs[3];
    expect(rail(container, '4').querySelector('.stop')?.getAttribute('x')).toBe(`${(fourth?.limit_at ?? 0) / 10}%`);
    expect(rail(container, '1').querySelector('.stop')).toBeNull();
    expect(container.querySelector('.key-limit')?.textContent).toContain(fourth?.limit_words);
    expect(container.querySelector('table')?.textContent).toContain(fourth?.limit_words);
  });

  test('without an old part and without limits nothing is said of them', () => {
    const { container } = render(Ladder, { ladder: alike });
    expect(container.querySelector('.old, .stop, .key-limit, .was')).toBeNull();
    expect(container.querySelectorAll('th[scope="col"]')).toHaveLength(4);
  });
});

describe('a table wider than its place', () => {
  /** The table is so wide in a place of 340. */
  function laidOut(width: number) {
    const sizes = [
      vi.spyOn(Element.prototype, 'scrollWidth', 'get').mockReturnValue(width),
      vi.spyOn(Element.prototype, 'clientWidth', 'get').mockReturnValue(340),
    ];
    onTestFinished(() => sizes.forEach((size) => size.mockRestore()));
    const { container } = render(Ladder, { ladder: alike });
    const place = container.querySelector('table')?.parentElement as HTMLElement;
    const goesOn = () => ['before', 'after'].filter((side) => place.parentElement?.classList.contains(side));
    return { place, goesOn };
  }

  test.each(['en', 'de'] as const)('says so, is reached by keys, and has a torn edge where it goes on, in %s', async (language) => {
    speech.language = language;
    const { place, goesOn } = laidOut(520);
    const more = await screen.findByText(tongues[language].table.more);
    expect(place.getAttribute('role')).toBe('group');
    expect(place.getAttribute('aria-label')).toBe(alike.sentence);
    expect(place.getAttribute('aria-describedby')).toBe(more.id);
    expect(place.tabIndex).toBe(0);
    expect(goesOn()).toEqual(['after']);
    const steps: [number, string[]][] = [[90, ['before', 'after']], [180, ['before']], [-180, ['before']], [0, ['after']]];
    for (const [left, sides] of steps) {
      place.scrollLeft = left;
      await fireEvent.scroll(place);
      expect(goesOn()).toEqual(sides);
    }
  });

  test('and one that has room says nothing and is no stop for keys', () => {
    const { place, goesOn } = laidOut(341);
    expect(screen.queryByText(tongues.en.table.more)).toBeNull();
    expect(place.hasAttribute('tabindex')).toBe(false);
    expect(place.hasAttribute('role')).toBe(false);
    expect(goesOn()).toEqual([]);
  });
});

describe('connector face', () => {
  test('names the cavity to clip and those where no clip may go', () => {
    const { container } = render(ConnectorFace, { face: faceOf(0) });
    const picture = screen.getByRole('img');
    expect(picture.getAttribute('aria-label')).toContain('Clip on A6');
    expect(screen.getByText('No clip on A9, A10')).toBeTruthy();
    expect([...container.querySelectorAll('[data-state="clip"]')].map((one) => one.getAttribute('data-cavity'))).toEqual(['6']);
    expect(container.querySelectorAll('.never .cross')).toHaveLength(2);
    expect(container.querySelectorAll('.cross')).toHaveLength(2);
  });

  test('the wire side is the mirror image the view gives', async () => {
    const { container } = render(ConnectorFace, { face: faceOf(0) });
    const left = () => container.querySelector('[data-cavity="6"]')?.getAttribute('transform');
    expect(left()).toBe('translate(0 40)');
    const sides = within(screen.getByRole('group'));
    await fireEvent.click(sides.getByRole('button', { name: 'Wire side' }));
    expect(left()).toBe('translate(160 40)');
    expect(sides.getByRole('button', { name: 'Wire side' }).getAttribute('aria-pressed')).toBe('true');
    expect(sides.getByRole('button', { name: 'Mating side' }).getAttribute('aria-pressed')).toBe('false');
    expect(screen.getByRole('img').getAttribute('aria-label')).toContain('Wire side');
  });

  test('speaks German', () => {
    speech.language = 'de';
    render(ConnectorFace, { face: faceOf(1) });
    expect(screen.getByText('Keine Klemme an B9, B10')).toBeTruthy();
    expect(screen.getByRole('button', { name: 'Kabelseite' })).toBeTruthy();
  });
});
