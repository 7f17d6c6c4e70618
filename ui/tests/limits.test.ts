import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import { cards } from '../src/fixtures/cards';
import { coil } from '../src/fixtures/coil';
import * as fixtures from '../src/fixtures/views';
import { said } from '../src/frame/said.svelte';
import type { Command } from '../src/generated/Command';
import type { Part } from '../src/generated/Part';
import type { View } from '../src/generated/View';
import { partWork } from '../src/steps/part-work.svelte';
import { speech } from '../src/words/speech.svelte';
import { awaited, broughtIntoSight, key, press } from './keys';

function shown(view: View) {
  const backend = new FixtureBackend(view);
  return { backend, ...render(App, { backend }) };
}
const described = (backend: FixtureBackend): Part[] =>
  backend.asked.flatMap((ask) => (ask.ask === 'do' && ask.command.wish === 'describe-part' ? [ask.command.part] : []));
const wishes = (backend: FixtureBackend): Command[] => backend.asked.flatMap((ask) => (ask.ask === 'do' ? [ask.command] : []));
const write = (label: string, value: string, nth = 0) => fireEvent.input(screen.getAllByLabelText(label)[nth] as HTMLElement, { target: { value } });
/** Opens the part of a job in which something was measured already. */
async function measured() {
  const page = shown(fixtures.measuring);
  await press('Part');
  await awaited('Note the changes');
  return page;
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  partWork.turnTo('', null);
});

describe('limits', () => {
  it('for all and for one conductor are sent as exact decimals; without a source they are the shop’s own', async () => {
    const { backend } = await measured();
    await write('Highest, in Ω', '1,00');
    expect(screen.getByLabelText(/^Where it is printed · shop’s own/)).toBeTruthy();
    await press('4 A4 – B4 · coil');
    await waitFor(() => expect(screen.getAllByLabelText('Highest, in Ω')).toHaveLength(2));
    await write('Highest, in Ω', '0.60');
    await write('Lowest, in Ω', '0,2');
    await write('Holds at, in °C', '20');
    const source = screen.getAllByLabelText(/^Where it is printed/)[0] as HTMLElement;
    await fireEvent.input(source, { target: { value: 'maker’s sheet' } });
    await press('Note the changes');
    await waitFor(() => expect(described(backend)).toHaveLength(1));
    const [part] = described(backend);
    expect(part?.ceiling).toEqual({ high: { value: '1.00', unit: 'ohm' }, low: null, temperature: null, source: '' });
    expect(part?.conductors[3]?.limit).toEqual({
      high: { value: '0.60', unit: 'ohm' },
      low: { value: '0.2', unit: 'ohm' },
      temperature: { value: '20', unit: 'celsius' },
      source: 'maker’s sheet',
    });
    expect(part?.conductors[2]?.limit ?? null).toBeNull();
  });

  it('are gone when their figures are erased', async () => {
    const { backend } = await measured();
    await write('Highest, in Ω', '1');
    await write('Highest, in Ω', '');
    await press('Note the changes');
    await waitFor(() => expect(described(backend)).toHaveLength(1));
    expect(described(backend)[0]?.ceiling).toBeNull();
  });

  it.each([['1,234', /Decimal sign or thousands sign/], ['one', /cannot be read as a number/]])(
    '%j is not left out in silence: nothing is sent, and the line is marked',
    async (typed, words) => {
      const { backend } = await measured();
      await write('Highest, in Ω', typed);
      expect(screen.getByText(words)).toBeTruthy();
      await press('Note the changes');
      expect(await screen.findByText('A figure of a limit cannot be read yet.')).toBeTruthy();
      expect(described(backend)).toEqual([]);
      expect((screen.getByLabelText('Highest, in Ω') as HTMLInputElement).value).toBe(typed);
    },
  );
});

describe('a part that was measured', () => {
  it('shows plugs and ends as plain text; names, groups, limits and bars can be changed', async () => {
    const { backend, container } = await measured();
    expect(container.textContent).toContain('10 cavities in 2 rows');
    expect(screen.queryByLabelText('Cavities')).toBeNull();
    expect(key('Add a conductor')).toBeNull();
    await press('1 A1 – B1 · coil');
    expect(await screen.findByLabelText('Group')).toBeTruthy();
    expect(screen.queryByLabelText('Cavity')).toBeNull();
    expect(container.textContent).toContain('A1, nothing, plug is apart');
    await write('Group', 'heater');
    await fireEvent.change(screen.getAllByLabelText('Conductor').at(-1) as HTMLElement, { target: { value: '6' } });
    await fireEvent.change(screen.getAllByLabelText('and').at(-1) as HTMLElement, { target: { value: '5' } });
    await press('Add this pair', 'Note the changes');
    await waitFor(() => expect(described(backend)).toHaveLength(1));
    const [part] = described(backend);
    expect(part?.conductors[0]?.group).toBe('heater');
    expect(part?.bars).toEqual([[5, 6]]);
    expect(part?.conductors.map(({ from, to }) => [from, to])).toEqual(coil(5).part.conductors.map(({ from, to }) => [from, to]));
  });

  it('of a closed job is only looked at', async () => {
    const view = cards('en')['done'] as View;
    shown(view);
    await press('The part');
    expect(await screen.findByText(/The job is closed/)).toBeTruthy();
    expect(screen.queryByLabelText('What is it?')).toBeNull();
  });
});

describe('a part that is refused', () => {
  it('is opened to be written on, and its first marked line is brought into sight', async () => {
    const seen = broughtIntoSight();
    const { backend } = shown(cards('en')['part'] as View);
    const problem = { problem: 'end' as const, index: 3, why: 'inflator' as const };
    await fireEvent.click(screen.getByText('Practice door harness'));
    await awaited('This is the part');
    backend.ask = (ask) => {
      if (ask.ask === 'check-part') return Promise.resolve({ reply: 'checked', faces: [], problems: [{ problem, words: 'It leads to an inflator.' }] });
      const notice = { code: 'part-wrong', words: 'Not like this.', remedy: 'Correct the marked lines.' };
      return Promise.resolve({ reply: 'refused', refusal: { code: 'part-wrong', problems: [problem] }, notice });
    };
    await press('This is the part');
    await waitFor(() => expect(seen.some((one) => one.textContent === 'It leads to an inflator.')).toBe(true));
    expect(document.activeElement?.textContent).toBe('It leads to an inflator.');
  });
});

describe('a candidate', () => {
  it('is begun from the list with one key, beside a job that can be compared with', async () => {
    const backend = new FixtureBackend(cards('en')['home'] as View);
    backend.jobs = [
      { job: 'a', order: 'W-1', vehicle: '', customer: '', opened: '2026-03-14T10:02:11+01:00', stage: 'done', verdict: 'fail', words: '', at_shop: null, can_compare: true, candidate: 'Candidate for W-1' },
      { job: 'b', order: 'W-2', vehicle: '', customer: '', opened: '2026-03-14T10:02:11+01:00', stage: 'measure', verdict: null, words: '', at_shop: null, can_compare: false, candidate: 'Candidate for W-2' },
    ];
    render(App, { backend });
    (await awaited('Measure a replacement: Candidate for W-1')).click();
    expect(key('Measure a replacement: Candidate for W-2')).toBeNull();
    expect(wishes(backend)).toEqual([{ wish: 'measure-candidate', old: 'a' }]);
  });
});
