import { fireEvent, screen, waitFor } from '@testing-library/svelte';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { waits } from '../src/fixtures/steps';
import * as works from '../src/fixtures/work';
import { stepsView, workAt } from '../src/fixtures/work';
import { said } from '../src/frame/said.svelte';
import type { StepRefusal } from '../src/generated/StepRefusal';
import { bell } from '../src/procedure/bell.svelte';
import { stepDrafts } from '../src/procedure/step-drafts.svelte';
import { speech, tongues } from '../src/words/speech.svelte';
import { awaited, key, press } from './keys';
import { entered, refused, shown, wishes } from './worked';

const words = tongues.en.work;
const type = (label: string, value: string) => fireEvent.input(screen.getByLabelText(label), { target: { value } });
const tick = (label: string) => fireEvent.click(screen.getByLabelText(label));
const main = () => document.querySelector('button.main') as HTMLButtonElement;

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  stepDrafts.of('another job', 'none');
});

describe('the wait', () => {
  afterEach(() => {
    vi.unstubAllGlobals();
    bell.may = 'no';
  });

  it('is drawn as it is told: time left in words, a ring that fills, and nothing filled while it does not count', () => {
    const { unmount } = shown(works.workWait);
    expect(screen.getByText('74 s more. Nothing is touched meanwhile.')).toBeTruthy();
    const ring = document.querySelector('.gone')?.getAttribute('stroke-dasharray')?.split(' ').map(Number);
    expect(ring?.[0]).toBeCloseTo(107 / 181, 6);
    expect(document.querySelector('.wait text')?.textContent).toBe('1:14');
    expect(main()).toBeNull();
    unmount();
    const over = shown(works.workWaited);
    expect(document.querySelector('.gone')?.getAttribute('stroke-dasharray')).toBe('1 1');
    expect(main().textContent).toBe('The time is over');
    over.unmount();
    shown(works.workNoWait);
    expect(document.querySelector('[data-wait="stopped"] .gone')).toBeNull();
    expect(screen.getByText('The device was started anew at 10:31.')).toBeTruthy();
  });

  it('is said aloud where core says so, also while another step is looked at', async () => {
    const { backend } = shown(works.workWait);
    const aloud = () => [...document.querySelectorAll('[role="status"]')].map((one) => one.textContent);
    expect(aloud()).not.toContain('60 seconds to wait.');
    const fields = { ...waits.counting('en'), announce: '60 seconds to wait.' };
    backend.show(stepsView(workAt('wait', {}, { state: 'begun', fields }), { stage: 'meter' }));
    await waitFor(() => expect(aloud()).toContain('60 seconds to wait.'));
  });

  it('rings at its end while the page is out of sight, and asks to look; nothing else', async () => {
    const rung: [string, NotificationOptions | undefined][] = [];
    class Rung {
      static permission = 'granted';
      constructor(title: string, options?: NotificationOptions) {
        rung.push([title, options]);
      }
    }
    vi.stubGlobal('Notification', Rung);
    bell.may = 'yes';
    const hidden = vi.spyOn(document, 'hidden', 'get').mockReturnValue(true);
    const { backend } = shown(works.workWait);
    expect(screen.getByText(words.wait.willTell)).toBeTruthy();
    backend.show(works.workWaited);
    await waitFor(() => expect(rung).toHaveLength(1));
    expect(rung[0]).toEqual([words.wait.overTitle, { body: 'Open the app to check.', tag: 'evenwire-wait' }]);
    expect(JSON.stringify(rung)).not.toMatch(/safe|dead/i);
    hidden.mockRestore();
    // In sight, or when the wait was stopped, nothing rings.
    backend.show(works.workWait);
    await waitFor(() => expect(screen.getByText(/74 s more/)).toBeTruthy());
    backend.show(works.workNoWait);
    await waitFor(() => expect(document.querySelector('[data-wait="stopped"]')).toBeTruthy());
    expect(rung).toHaveLength(1);
  });

  it('asks before it may ring', async () => {
    bell.may = 'ask';
    const asks = vi.fn(() => Promise.resolve('granted'));
    vi.stubGlobal('Notification', { permission: 'granted', requestPermission: asks });
    shown(works.workWait);
    await press(words.wait.tell);
    expect(asks).toHaveBeenCalledOnce();
    await waitFor(() => expect(screen.getByText(words.wait.willTell)).toBeTruthy());
    expect(key(words.wait.tell)).toBeNull();
  });
});

describe('proving dead', () => {
  const source = 'A charged battery on the bench · V';
  const points = ['Between the battery clamps · V', 'At the fuse box · V'] as const;

  it('is typed in the order it is measured', async () => {
    const { backend } = shown(works.workDead);
    const labels = [...document.querySelectorAll('ol label')].map((label) => label.textContent?.trim());
    expect(labels).toEqual([source, ...points, 'The same battery again · V']);
    await type(source, '12,62');
    await type(points[0], '0.02');
    await type(points[1], '0.00');
    await type('The same battery again · V', '12.61');
    await press('It is dead');
    expect(entered(backend)).toEqual({ entry: 'prove-dead', before: '12,62', points: ['0.02', '0.00'], after: '12.61' });
  });

  it.each<[StepRefusal, string]>([
    [{ why: 'known-source', field: 'before' }, source],
    [{ why: 'empty', field: 'point-1' }, points[1]],
    [{ why: 'number', field: 'after', ambiguous: false }, 'The same battery again · V'],
  ])('marks the field that was refused: %j', async (refusal, label) => {
    const { backend } = shown(works.workDead);
    await type(source, '12.6');
    backend.answers.push(refused(refusal, 'Not so.'));
    await press('It is dead');
    await waitFor(() => expect(screen.getByLabelText(label).getAttribute('aria-invalid')).toBe('true'));
    expect((screen.getByLabelText(source) as HTMLInputElement).value).toBe('12.6');
  });

  it('keeps what was typed while the meter is looked at', async () => {
    const { backend } = shown(works.workDead);
    await type(source, '12.6');
    await press(words.card.addWords);
    backend.show(works.workScan);
    await awaited('These are the codes');
    backend.show(works.workDead);
    await waitFor(() => expect((screen.getByLabelText(source) as HTMLInputElement).value).toBe('12.6'));
  });
});

describe('codes', () => {
  it('are listed, or said to be none', async () => {
    const { backend } = shown(works.workScan);
    expect(screen.queryByText(words.codes.lamp)).toBeNull();
    backend.answers.push(refused({ why: 'code', text: 'B00' }, '“B00” is no trouble code.'));
    await type(words.codes.list, 'B00');
    await press('These are the codes');
    await waitFor(() => expect(screen.getByLabelText(words.codes.list).getAttribute('aria-invalid')).toBe('true'));
    await type(words.codes.list, 'B0001-13');
    await press('These are the codes');
    expect(entered(backend)).toEqual({ entry: 'codes', list: 'B0001-13', none_stored: false, no_scanner: false, lamp: null });
  });

  it('at the end say what the lamp did, beside those of before', async () => {
    const { backend } = shown(works.workAfter);
    expect(screen.getByText('The codes are erased in this step.')).toBeTruthy();
    expect(screen.getByText(/circuit open/)).toBeTruthy();
    await tick(words.codes.none);
    backend.answers.push(refused({ why: 'empty', field: 'lamp' }, 'What the lamp did is missing.'));
    await press('These are the codes');
    await waitFor(() => expect(document.querySelectorAll('fieldset [data-marked]')).toHaveLength(3));
    await tick('It never came on.');
    await press('These are the codes');
    expect(entered(backend)).toEqual({ entry: 'codes', list: '', none_stored: true, no_scanner: false, lamp: 'never-came' });
  });
});

describe('the centre', () => {
  it('is counted', async () => {
    const { backend } = shown(works.workCentre);
    await type(words.centre.total, '5');
    await type(words.centre.left, '2,5');
    await type(words.centre.right, '2.5');
    backend.answers.push(refused({ why: 'sides-unlike' }, 'One side has more.'));
    await press('It stands in the centre');
    await waitFor(() => expect(screen.getByLabelText(words.centre.right).getAttribute('aria-invalid')).toBe('true'));
    await press('It stands in the centre');
    expect(entered(backend)).toEqual({ entry: 'centre', sealed: false, total: '5', left: '2,5', right: '2.5' });
  });

  it('is left as it came where the lock is whole', async () => {
    const { backend } = shown(works.workCentre);
    await tick(words.centre.sealed);
    expect(screen.queryByLabelText(words.centre.total)).toBeNull();
    await press('It stands in the centre');
    expect(entered(backend)).toEqual({ entry: 'centre', sealed: true, total: '', left: '', right: '' });
  });
});

describe('a bolt', () => {
  it('shows the published figure first, before it is begun too, and how an adapter changes the setting', () => {
    shown(works.workTorqueDe);
    expect(document.querySelector('.figure')?.textContent).toBe('44 N·m (invented)');
    expect(document.querySelector('figure')?.textContent).toContain('Den Schlüssel auf 40.0 N·m stellen');
    expect(document.querySelector('input')).toBeNull();
  });

  it('is tightened with a wrench of a name, a new bolt and the angle', async () => {
    const { backend } = shown(works.workTorque);
    await type(words.torque.wrench, 'bench wrench 2');
    await type(`${words.torque.most} · N·m`, '120');
    backend.answers.push(refused({ why: 'new-fastener' }, 'A new bolt is needed.'));
    await press('It is tight');
    await waitFor(() => expect(screen.getByLabelText(words.torque.new).getAttribute('aria-invalid')).toBe('true'));
    await tick(words.torque.new);
    await tick(words.torque.turned('then turned on by 90 °'));
    await press('It is tight');
    expect(entered(backend)).toEqual({ entry: 'torque', wrench: 'bench wrench 2', most: '120', new_fastener: true, angle_turned: true });
  });
});

describe('a value of the vehicle', () => {
  it('is lowest and highest where it has to be steady', async () => {
    const { backend } = shown(works.workAngle);
    await type('Lowest seen · Ω', '2.1');
    backend.answers.push(refused({ why: 'empty', field: 'value-1' }, 'Value 2 is missing.'));
    await press('That is what it shows');
    await waitFor(() => expect(screen.getByLabelText('Highest seen · Ω').getAttribute('aria-invalid')).toBe('true'));
    await type('Highest seen · Ω', '2.2');
    await press('That is what it shows');
    expect(entered(backend)).toEqual({ entry: 'value', values: ['2.1', '2.2'] });
  });
});

it('who signs sees the verdict that is signed', () => {
  shown(works.workSign);
  expect(screen.getByText('Conductor 4 reads too high. The part is condemned.')).toBeTruthy();
});

it('what is typed at a step is nothing that is wished until it is said to be done', async () => {
  const { backend } = shown(works.workDead);
  await type('A charged battery on the bench · V', '12.6');
  expect(wishes(backend)).toEqual([]);
  expect(main().disabled).toBe(false);
});
