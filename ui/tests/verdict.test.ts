import { fireEvent, render, screen } from '@testing-library/svelte';
import { beforeEach, describe, expect, test } from 'vitest';
import { proving as swept } from '../src/fixtures/sweeps';
import * as fixtures from '../src/fixtures/views';
import type { Command } from '../src/generated/Command';
import type { ProvingView } from '../src/generated/ProvingView';
import type { VerdictView } from '../src/generated/VerdictView';
import type { View } from '../src/generated/View';
import Verdict from '../src/verdict/Verdict.svelte';
import { speech } from '../src/words/speech.svelte';

let told: Command[] = [];
const tell = (command: Command): void => void told.push(command);

function show(view: View, change: Partial<VerdictView> = {}) {
  speech.language = view.language;
  const { bench } = view;
  if (!bench?.verdict) throw new Error('the fixture has no verdict');
  return render(Verdict, { bench: { ...bench, verdict: { ...bench.verdict, ...change } }, meter: view.meter, tell });
}

const kindShown = (container: HTMLElement): string | null | undefined =>
  container.querySelector('[data-kind]')?.getAttribute('data-kind');
const main = (): HTMLElement | null => document.querySelector('button.main');

beforeEach(() => {
  told = [];
});

describe('verdict', () => {
  test('says headline, sentences in order, action, what it was measured with and where it is stored', () => {
    const { container } = show(fixtures.fail);
    const verdict = fixtures.fail.bench?.verdict;
    if (!verdict) throw new Error('no verdict');
    const text = container.textContent ?? '';
    expect(screen.getByRole('heading', { name: verdict.headline })).toBeTruthy();
    const places = verdict.sentences.map((sentence) => text.indexOf(sentence));
    expect(places.every((place) => place >= 0)).toBe(true);
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect(text).toContain(verdict.action);
    expect(text).toContain(verdict.measured_with);
    expect(text).toContain(verdict.stored);
    expect(screen.getByRole('img', { name: verdict.ladders[0]?.sentence })).toBeTruthy();
  });

  test('each kind has its own word and shape beside its colour', () => {
    const seen = [fixtures.fail, fixtures.atRest, fixtures.undecided].map((view) => {
      const { container, unmount } = show(view);
      const shown = {
        kind: kindShown(container),
        word: container.querySelector('.kind')?.textContent?.trim(),
        shape: container.querySelector('.kind svg')?.innerHTML,
      };
      unmount();
      return shown;
    });
    expect(seen.map(({ kind }) => kind)).toEqual(['fail', 'pass', 'undecided']);
    expect(new Set(seen.map(({ word }) => word)).size).toBe(3);
    expect(new Set(seen.map(({ shape }) => shape)).size).toBe(3);
  });

  test('one more touch is the main key, in the words of the view, and leads to that conductor', async () => {
    show(fixtures.undecided);
    expect(main()?.textContent).toBe('Clip conductor 4 once more.');
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'measure-more' }, { wish: 'choose-conductor', conductor: 3 }]);
  });

  test('an action without a conductor only goes on measuring', async () => {
    show(fixtures.undecided, { action_code: 'MEASURE', action_conductor: null });
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'measure-more' }]);
  });

  test('what this screen cannot do is no main key; going on and closing stand side by side', async () => {
    show(fixtures.atRest);
    expect(main()).toBeNull();
    await fireEvent.click(screen.getByRole('button', { name: 'Measure more' }));
    await fireEvent.click(screen.getByRole('button', { name: 'Finish' }));
    expect(told).toEqual([{ wish: 'measure-more' }, { wish: 'finish' }]);
  });

  test('a condemned part can be closed with the main key', async () => {
    show(fixtures.fail);
    expect(main()?.textContent).toBe('Finish');
    expect(screen.getAllByRole('button', { name: 'Finish' })).toHaveLength(1);
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'finish' }]);
  });

  test('an outdated verdict has no kind left, says why and asks to be judged again', async () => {
    const { container } = show(fixtures.outdated);
    expect(kindShown(container)).toBe('none');
    expect(container.querySelector('.kind')).toBeNull();
    expect(container.querySelector('.since[role=status]')?.textContent).toBe('New readings since this verdict.');
    expect(container.querySelector('.before')?.textContent).toBe('Judged before: Conductor 4 is high. The part is condemned.');
    expect(screen.queryByRole('button', { name: 'Finish' })).toBeNull();
    expect(main()?.textContent).toBe('Judge again');
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'judge' }]);
  });

  test('a kind this page does not know is not shown as a pass', () => {
    const { container } = show(fixtures.atRest, { kind: 'passed' as 'pass' });
    expect(container.querySelector('.headline.pass')).toBeNull();
    expect(container.querySelector('.kind')?.textContent).not.toContain('Alike');
  });
});

describe('the next action as the main key', () => {
  const went: string[] = [];
  const go = (place: string): void => void went.push(place);
  const pass = fixtures.atRest;

  function withProofs(change: Partial<VerdictView>, proving: Partial<ProvingView> = {}, leads = true) {
    speech.language = 'en';
    const { bench } = pass;
    if (!bench?.verdict) throw new Error('the fixture has no verdict');
    const changed = { ...bench, proving: { ...swept, ...proving }, verdict: { ...bench.verdict, ...change } };
    return render(Verdict, { bench: changed, meter: pass.meter, tell, go: leads ? go : undefined });
  }
  const only = (...states: string[]): ProvingView['sweeps'] =>
    states.map((state, index) => ({ conductor: index, name: `${index + 1}`, line: { state, words: state }, sweeps: [] }));

  beforeEach(() => void went.splice(0));

  test('a sweep begins with the conductor that is named, and with the newest plan', async () => {
    withProofs({ action_conductor: 1 });
    expect(main()?.textContent).toBe('Sweep conductor 2');
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'plan-sweep', conductor: 1, plan: swept.plan }]);
  });

  test('without a name the first that no sweep speaks for', async () => {
    withProofs({ action_conductor: null }, { sweeps: only('good', 'open', 'none') });
    await fireEvent.click(main() as HTMLElement);
    expect(told).toEqual([{ wish: 'plan-sweep', conductor: 1, plan: swept.plan }]);
  });

  test('no key where no sweep can be started', () => {
    withProofs({}, { can_sweep: false });
    expect(main()).toBeNull();
  });

  test('after a steady sweep it is judged again, the next conductor one key away', async () => {
    withProofs({ outdated: true, action_conductor: 0 }, { sweeps: only('good', 'none', 'none') });
    expect(main()?.textContent).toBe('Judge again');
    await fireEvent.click(screen.getByRole('button', { name: 'Sweep conductor 2' }));
    expect(told).toEqual([{ wish: 'plan-sweep', conductor: 1, plan: swept.plan }]);
  });

  test.each([
    ['one jumped', ['good', 'bad', 'none']],
    ['all are swept', ['good', 'good']],
    ['none is swept, so something else changed', ['none', 'none']],
  ])('it is judged again first when %s', (_why, states) => {
    withProofs({ outdated: true, action_conductor: 0 }, { sweeps: only(...states) });
    expect(main()?.textContent).toBe('Judge again');
    expect(screen.getAllByRole('button', { name: 'Judge again' })).toHaveLength(1);
  });

  test('zeroing the leads is a wish', async () => {
    withProofs({ action_code: 'ZERO_LEADS', action: 'Zero the leads.' });
    await fireEvent.click(screen.getByRole('button', { name: 'Zero the leads' }));
    expect(told).toEqual([{ wish: 'zero-leads' }]);
  });

  test.each([
    ['CHECK_ISOLATION', 'isolation', 'Measure isolation'],
    ['OPEN_BARS', 'bars', 'To the shorting bars'],
    ['ENTER_LIMIT', 'part', 'To limits and groups'],
    ['SET_GROUPS', 'part', 'To limits and groups'],
  ] as const)('%s leads to its place, and is no key where nothing leads there', async (action_code, place, says) => {
    const { unmount } = withProofs({ action_code, action: 'Do that.' });
    await fireEvent.click(screen.getByRole('button', { name: says }));
    expect([went, told]).toEqual([[place], []]);
    unmount();
    withProofs({ action_code, action: 'Do that.' }, {}, false);
    expect(main()).toBeNull();
  });

  test('a finer meter cannot be pressed', () => {
    withProofs({ action_code: 'FINER_METER', action: 'A multimeter with a smaller step.' });
    expect(main()).toBeNull();
  });
});

describe('the rung that stands out', () => {
  const cut = (container: HTMLElement): HTMLElement | null => container.querySelector('.standout');
  const names = (container: HTMLElement): (string | null)[] =>
    [...(cut(container)?.querySelectorAll('[data-rung]') ?? [])].map((one) => one.getAttribute('data-rung'));

  test('comes before the sentences, alone, and for the eye only; the whole ladder follows', () => {
    const { container } = show(fixtures.fail);
    expect(names(container)).toEqual(['4']);
    expect(cut(container)?.getAttribute('aria-hidden')).toBe('true');
    const sentence = container.querySelector('.first');
    const whole = container.querySelector('.picture');
    if (!sentence || !whole) throw new Error('no sentence or no ladder');
    const isBefore = (one: Node | null, other: Node): boolean =>
      one !== null && (one.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0;
    expect(isBefore(cut(container), sentence)).toBe(true);
    expect(isBefore(sentence, whole)).toBe(true);
    expect(whole.querySelectorAll('[data-rung]')).toHaveLength(8);
  });

  test('is the one that has to be clipped again while it is undecided', () => {
    const { container } = show(fixtures.undecided);
    expect(names(container)).toEqual(['4']);
  });

  test('is not there when nothing stands out, or when the ladder is short', () => {
    const { container, unmount } = show(fixtures.atRest);
    expect(cut(container)).toBeNull();
    unmount();
    const [ladder] = fixtures.fail.bench?.verdict?.ladders ?? [];
    if (!ladder) throw new Error('no ladder');
    const again = show(fixtures.fail, { ladders: [{ ...ladder, rungs: ladder.rungs.slice(0, 4) }] });
    expect(cut(again.container)).toBeNull();
    expect(again.container.querySelectorAll('[data-rung]')).toHaveLength(4);
  });
});
