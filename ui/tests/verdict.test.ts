import { fireEvent, render, screen } from '@testing-library/svelte';
import { beforeEach, describe, expect, test } from 'vitest';
import * as fixtures from '../src/fixtures/views';
import type { Command } from '../src/generated/Command';
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

  test('an outdated verdict has no kind left, is struck through and asks to be judged again', async () => {
    const { container } = show(fixtures.outdated);
    expect(kindShown(container)).toBe('none');
    expect(container.querySelector('.kind')).toBeNull();
    expect(container.querySelector('s')?.textContent).toBe('Conductor 4 is high. The part is condemned.');
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
