import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import App from '../src/App.svelte';
import { FixtureBackend } from '../src/backend/fixture';
import * as works from '../src/fixtures/work';
import { safeOf, stepsView, workAt } from '../src/fixtures/work';
import { said } from '../src/frame/said.svelte';
import type { View } from '../src/generated/View';
import type { WorkLine } from '../src/generated/WorkLine';
import { partWork } from '../src/steps/part-work.svelte';
import { speech, tongues } from '../src/words/speech.svelte';
import { runs } from '../src/procedure/runs';
import { stepDrafts } from '../src/procedure/step-drafts.svelte';
import { awaited, key, press } from './keys';
import { job, refused, shown, wishes } from './worked';

const words = tongues.en.work;
const card = () => document.querySelector<HTMLElement>('[data-step]') as HTMLElement;

beforeEach(() => {
  speech.language = 'en';
  said.hush();
  partWork.turnTo('', null);
  stepDrafts.of('another job', 'none');
});

const all = Object.entries(works).flatMap(([name, view]) => ('bench' in view && view.bench ? [[name, view as View] as const] : []));

it.each(all)('%s is drawn, with one heading to land on and at most one main key', (_name, view) => {
  const { container } = shown(view);
  expect(container.querySelectorAll('h2')).toHaveLength(1);
  expect(container.querySelectorAll('button.main').length).toBeLessThanOrEqual(1);
  expect(container.textContent).not.toMatch(/undefined|\[object/);
});

describe('choosing', () => {
  it.each([['start', works.workChoose], ['part', works.workChoosePart]])('at %s lists what can be followed, a draft as a draft', async (_stage, view) => {
    const { backend } = shown(view);
    const follow = await awaited(`${words.choose.follow}: Quillan van: steering coil`);
    const row = follow.closest('li') as HTMLElement;
    expect(row.textContent).toContain('Quillan van, an invented vehicle.');
    expect(row.textContent).toContain(words.choose.draft);
    const other = key(`${words.choose.follow}: Quillan van: harness in the door hinge`)?.closest('li');
    expect(other?.querySelector('.stamp')).toBeNull();
    follow.click();
    expect(wishes(backend)).toEqual([{ wish: 'begin-procedure', procedure: 'quillan-van-steering-coil', technician: null }]);
  });

  it('takes a file in, and lists what is wrong with one', async () => {
    const { backend } = shown(works.workChoose);
    const field = (await screen.findByLabelText(words.takeIn.key)) as HTMLInputElement;
    const file = new File(['id = 1'], 'own.toml');
    file.text = () => Promise.resolve('id = 1');
    const mistakes = [{ line: 1, column: 6, what: 'id is no text', instead: 'id = "own"' }];
    const notice = { code: 'procedure-wrong', words: 'This file is not right.', remedy: 'Put it right.' };
    backend.answers.push({ reply: 'refused', refusal: { code: 'procedure-wrong', mistakes }, notice });
    await fireEvent.change(field, { target: { files: [file] } });
    await waitFor(() => expect(screen.getByText(words.takeIn.at(1, 6))).toBeTruthy());
    expect(document.body.textContent).toContain('id is no text: id = "own"');
    expect(wishes(backend)).toEqual([{ wish: 'keep-procedure', text: 'id = 1' }]);
    await fireEvent.change(field, { target: { files: [file] } });
    await waitFor(() => expect(screen.queryByText(words.takeIn.at(1, 6))).toBeNull());
    // The list is read anew.
    await waitFor(() => expect(backend.asked.filter(({ ask }) => ask === 'procedures').length).toBeGreaterThan(1));
  });

  it('leaves the way of only measuring a part', async () => {
    const { backend } = shown(works.workChoose);
    await press(tongues.en.caution.read);
    expect(wishes(backend)).toEqual([{ wish: 'accept-cautions', cautions: ['C0'] }]);
  });
});

describe('the list', () => {
  const line = (step: string, state: string): WorkLine => ({ step, title: step, state, proof: '', blocked: '', second: '' });

  it('folds runs of more than three, and nothing that asks for something', () => {
    shown(works.workBag);
    const folds = [...document.querySelectorAll('main summary')].map((one) => one.textContent);
    expect(folds).toContain(words.list.doneBefore(5));
    expect(folds).toContain(words.list.toCome(12));
    const states = ['done', 'done', 'again', 'skipped', 'to-come', 'now', 'strange'].map((state, index) => line(`${index}`, state));
    expect(runs(states, 1, new Set(['1'])).map(({ kind, from, lines }) => [kind, from, lines.length])).toEqual([
      ['settled', 1, 1], ['loud', 2, 2], ['settled', 4, 1], ['to-come', 5, 1], ['loud', 6, 2],
    ]);
  });

  it('shows what proves a line and why a later one is closed', () => {
    shown(works.workBag);
    expect(document.querySelector('[data-line="off"]')?.textContent).toContain('10:09, 1 photo');
    expect(document.querySelector('[data-line="zero"]')?.textContent).toContain('Missing: proven dead.');
  });

  it('opens any line, with the way back to the step to do now', async () => {
    const { backend } = shown(works.workBag);
    await press('Take the order');
    expect(backend.asked).toContainEqual({ ask: 'step', step: 'order' });
    await waitFor(() => expect(card().dataset.step).toBe('order'));
    expect(screen.getByRole('heading', { level: 2 }).textContent).toBe('Take the order');
    expect(document.querySelector('[data-line="bag"]')?.getAttribute('aria-current')).toBe('step');
    await press(words.list.back);
    await waitFor(() => expect(card().dataset.step).toBe('bag'));
    expect(wishes(backend)).toEqual([]);
  });

  it('stays at the step to do now when the other cannot be shown, and says why', async () => {
    const { backend } = shown(works.workBag);
    backend.answers.push(refused({ why: 'no-such-step' }, 'There is no such step.'));
    await press('Take the order');
    await waitFor(() => expect(screen.getByText(/There is no such step/)).toBeTruthy());
    expect(card().dataset.step).toBe('bag');
  });

  it('gives way to the step to do now when the job went on', async () => {
    const { backend } = shown(works.workBag);
    await press('Take the order');
    await waitFor(() => expect(card().dataset.step).toBe('order'));
    backend.show(stepsView(workAt('part', {}, { state: 'begun' })));
    await waitFor(() => expect(card().dataset.step).toBe('part'));
  });

  it('does a settled step again only for a reason', async () => {
    const { backend } = shown(works.workBag);
    await press('Take the order');
    (await awaited(words.card.again)).click();
    await awaited(words.card.confirm);
    expect(screen.getByText(words.card.againMeans)).toBeTruthy();
    await fireEvent.input(screen.getByLabelText(/reason/i), { target: { value: 'wrong van' } });
    await press(words.card.confirm);
    expect(wishes(backend)).toEqual([{ wish: 'at-step', job, step: 'order', act: { act: 'again', reason: 'wrong van' } }]);
  });
});

describe('the card', () => {
  it('has its cautions before its key, which begins it', async () => {
    const { backend } = shown(works.workToBegin);
    const caution = document.querySelector('[data-caution="C0"]') as HTMLElement;
    const begin = key('I have read it: begin') as HTMLElement;
    expect(caution.compareDocumentPosition(begin) & Node.DOCUMENT_POSITION_FOLLOWING).toBeTruthy();
    begin.click();
    expect(wishes(backend)).toEqual([{ wish: 'at-step', job, step: 'off', act: { act: 'begin' } }]);
  });

  it('says strongly what beginning ends', () => {
    shown(works.workOn);
    expect(screen.getByText(/^Beginning this ends/).tagName).toBe('STRONG');
  });

  it('that is blocked has no key to begin, and leads to what comes first', async () => {
    const { backend } = shown(works.workBlocked);
    expect(document.querySelector('button.main')).toBeNull();
    await press(words.card.go('Battery cable off'));
    await waitFor(() => expect(card().dataset.step).toBe('off'));
    expect(wishes(backend)).toEqual([]);
  });

  it('is done with its words and a tick', async () => {
    const { backend } = shown(works.workBag);
    await press(words.card.addWords);
    await fireEvent.input(await screen.findByLabelText(words.card.words), { target: { value: 'on the bench' } });
    await press('It is off and safely away');
    expect(wishes(backend)).toEqual([
      { wish: 'at-step', job, step: 'bag', act: { act: 'done', words: 'on the bench', entry: { entry: 'tick' } } },
    ]);
  });

  it('leaves alone what was typed at the step that stands there by the time it is done', async () => {
    const backend = new FixtureBackend(works.workBag);
    let done = () => {};
    const answer = backend.ask.bind(backend);
    backend.ask = async (ask) => {
      if (ask.ask === 'do') await new Promise<void>((go) => (done = go));
      return answer(ask);
    };
    render(App, { backend });
    await press('It is off and safely away');
    backend.show(works.workToBegin);
    await waitFor(() => expect(card().dataset.step).toBe('off'));
    stepDrafts.of(job, 'bag').words = 'of the step that is done';
    stepDrafts.of(job, 'off').words = 'typed meanwhile';
    done();
    await waitFor(() => expect(wishes(backend)).toHaveLength(1));
    await waitFor(() => expect(stepDrafts.of(job, 'bag').words).toBe(''));
    expect(stepDrafts.of(job, 'off').words).toBe('typed meanwhile');
  });

  it('says a missing photo at the photo and missing words at the words', async () => {
    const { backend } = shown(works.workBag);
    backend.answers.push(refused({ why: 'evidence', evidence: 'photo' }, 'A photo is missing.'));
    await press('It is off and safely away');
    const take = await screen.findByLabelText(words.photo.take);
    await waitFor(() => expect(take.getAttribute('aria-invalid')).toBe('true'));
    await waitFor(() => expect(screen.getAllByText(/A photo is missing/)).toHaveLength(1));
    backend.answers.push(refused({ why: 'evidence', evidence: 'words' }, 'Words are missing.'));
    await press('It is off and safely away');
    const field = await screen.findByLabelText(words.card.words);
    await waitFor(() => expect(field.getAttribute('aria-invalid')).toBe('true'));
    await waitFor(() => expect(document.activeElement).toBe(field));
  });

  it('says a refusal that names no field where the page says refusals', async () => {
    const { backend } = shown(works.workBag);
    backend.answers.push(refused({ why: 'not-begun' }, 'It was not begun.'));
    await press('It is off and safely away');
    await waitFor(() => expect(screen.getByText(/It was not begun/).closest('[role="status"]')).toBeTruthy());
    expect(document.querySelector('[aria-invalid="true"]')).toBeNull();
  });

  it('is left out for a reason, under the condition that is said', async () => {
    const { backend } = shown(works.workBag);
    await press(words.card.skip);
    await awaited(words.card.confirm);
    expect(screen.getByText(words.card.skipWhen('There is no airbag in this wheel.'))).toBeTruthy();
    backend.answers.push(refused({ why: 'empty', field: 'reason' }, 'The reason is missing.'));
    await press(words.card.confirm);
    const field = screen.getByLabelText(/reason/i);
    await waitFor(() => expect(field.getAttribute('aria-invalid')).toBe('true'));
    await fireEvent.input(field, { target: { value: 'no airbag' } });
    await press(words.card.confirm);
    expect(wishes(backend).at(-1)).toEqual({ wish: 'at-step', job, step: 'bag', act: { act: 'skip', reason: 'no airbag' } });
  });

  it('that may be untested is answered so with words', async () => {
    const { backend } = shown(works.workMeasured);
    await press(words.card.untested);
    await awaited(words.card.confirm);
    await fireEvent.input(screen.getByLabelText(/reason/i), { target: { value: 'no time' } });
    await press(words.card.confirm);
    expect(wishes(backend)).toEqual([
      { wish: 'at-step', job, step: 'measure', act: { act: 'done', words: 'no time', entry: { entry: 'not-tested' } } },
    ]);
  });

  it('keeps what was typed over a look elsewhere', async () => {
    shown(works.workPart);
    await fireEvent.input(screen.getByLabelText(words.part.number), { target: { value: 'QV-77' } });
    await fireEvent.click(screen.getByLabelText(words.part.origins.used));
    await press('Take the order');
    await waitFor(() => expect(card().dataset.step).toBe('order'));
    await press(words.list.back);
    expect((await screen.findByLabelText(words.part.number) as HTMLInputElement).value).toBe('QV-77');
    expect((screen.getByLabelText(words.part.origins.used) as HTMLInputElement).checked).toBe(true);
  });
});

describe('what is read at a step', () => {
  it('begins with the first that is not read, and each has its key', async () => {
    const { backend } = shown(works.workIsolation);
    expect(document.querySelectorAll('[data-read="true"]')).toHaveLength(1);
    document.querySelector<HTMLElement>('button.main')?.click();
    await press(words.reading.keys.isolation('3 – metal'));
    expect(wishes(backend)).toEqual([
      { wish: 'measure-isolation', a: 1, other: 2 },
      { wish: 'measure-isolation', a: 2, other: null },
    ]);
  });

  it('gives its place to the conductors, and closes when all is read', async () => {
    const { backend } = shown(works.workMeasure);
    expect(screen.getByText('Clip conductor 6: A6 and B6.')).toBeTruthy();
    expect(card()).toBeNull();
    // What the step does not ask for is no part of its screen.
    expect(document.querySelector('.proving')).toBeNull();
    backend.show(works.workMeasured);
    await press(await awaited('Done').then(() => 'Done'));
    expect(wishes(backend)).toEqual([
      { wish: 'at-step', job, step: 'measure', act: { act: 'done', words: '', entry: { entry: 'tick' } } },
    ]);
  });

  it('gives its place to what is done beside, and to the meter while there is none', async () => {
    const { backend } = shown(works.workZero);
    expect(document.querySelector('[data-aside="zero"]')).toBeTruthy();
    backend.show(works.workMeter);
    await waitFor(() => expect(key(tongues.en.meter.letGo)).toBeTruthy());
    backend.show(stepsView(workAt('zero', {}, { state: 'begun' }), { stage: 'measure', measure: works.workIsolation.bench?.measure ?? null }));
    const main = () => document.querySelector<HTMLElement>('[data-step="zero"] button.main');
    await waitFor(() => expect(main()).not.toBeNull());
    main()?.click();
    expect(wishes(backend)).toEqual([{ wish: 'zero-leads' }]);
  });
});

describe('what is entered', () => {
  it('a part needs to be said what it is', async () => {
    const { backend } = shown(works.workPart);
    expect(key('This part')?.disabled).toBe(true);
    await fireEvent.click(screen.getByLabelText(words.part.origins.new));
    await fireEvent.input(screen.getByLabelText(words.part.number), { target: { value: 'QV-77' } });
    backend.answers.push(refused({ why: 'empty', field: 'from' }, 'Where from is missing.'));
    await press('This part');
    await waitFor(() => expect(screen.getByLabelText(words.part.from).getAttribute('aria-invalid')).toBe('true'));
    await fireEvent.input(screen.getByLabelText(words.part.from), { target: { value: 'shelf' } });
    await press('This part');
    expect(wishes(backend).at(-1)).toEqual({
      wish: 'at-step', job, step: 'part',
      act: { act: 'done', words: '', entry: { entry: 'part', number: 'QV-77', origin: 'new', from: 'shelf' } },
    });
  });

  it('an end that is not possible is not to be chosen, and says what is open and leads there', async () => {
    const { backend } = shown(works.workSign);
    expect((screen.getByLabelText('Repaired') as HTMLInputElement).disabled).toBe(true);
    expect(document.querySelector('[data-outcome="repaired"]')?.textContent).toContain('Substitute loads still out: 1.');
    await fireEvent.click(screen.getByLabelText('Not repaired'));
    document.querySelector<HTMLElement>('button.main')?.click();
    expect(wishes(backend)).toEqual([
      { wish: 'at-step', job, step: 'sign', act: { act: 'done', words: '', entry: { entry: 'sign', outcome: 'not-repaired' } } },
    ]);
    await press(words.card.go('Refit'));
    await waitFor(() => expect(card().dataset.step).toBe('refit'));
  });

  it('a comparison that is not alike never looks alike', () => {
    shown(works.workCompare);
    expect(document.querySelector('[data-alike]')?.getAttribute('data-alike')).toBe('not-all');
    expect(screen.getByText(words.alike['not-all'])).toBeTruthy();
    expect(screen.queryByText(words.alike.all)).toBeNull();
  });
});

describe('the safety of the vehicle', () => {
  const states = Object.keys(safeOf) as (keyof typeof safeOf)[];

  it.each(states)('%s stands in the top line, on the screens that read as well', (state) => {
    for (const view of [works.workBag, works.workMeasure, works.workZero, works.workMeter]) {
      const bench = view.bench as NonNullable<View['bench']>;
      const page = shown({ ...view, bench: { ...bench, work: bench.work && { ...bench.work, safe: safeOf[state] } } });
      const line = document.querySelector('header [data-safe]');
      expect(line?.getAttribute('data-safe')).toBe(state);
      expect(line?.textContent).toContain(safeOf[state].words);
      expect(line?.textContent).toContain(safeOf[state].lost);
      page.unmount();
    }
  });

  it('ends by one key, after it was said what that ends', async () => {
    const { backend } = shown(works.workBag);
    await press('The cable was on again');
    await awaited(words.safe.yes);
    expect(screen.getByText(/All three are done again/)).toBeTruthy();
    expect(wishes(backend)).toEqual([]);
    await press(words.safe.no);
    await press('The cable was on again');
    (await awaited(words.safe.yes)).click();
    expect(wishes(backend)).toEqual([{ wish: 'supply-was-on', job }]);
  });
});

describe('photos', () => {
  it('are sent with their step, and shown', async () => {
    const bench = works.workBag.bench as NonNullable<View['bench']>;
    const photos = [{ photo: 'p1', step: 'bag' }, { photo: 'p2', step: 'off' }];
    const { backend } = shown({ ...works.workBag, bench: { ...bench, photos } });
    await waitFor(() => expect(document.querySelectorAll('img')).toHaveLength(1));
    expect(backend.asked.filter((ask) => ask.ask === 'picture')).toEqual([{ ask: 'picture', photo: 'p1' }]);
    const file = new File([new Uint8Array([255, 216, 255])], 'bag.jpg', { type: 'image/jpeg' });
    await fireEvent.change(screen.getByLabelText(words.photo.take), { target: { files: [file] } });
    await waitFor(() => expect(backend.asked).toContainEqual({ ask: 'keep-photo', job, step: 'bag', picture: '/9j/' }));
  });

  it('are still of their step when another one stands open before all are sent or seen', async () => {
    const bench = works.workBag.bench as NonNullable<View['bench']>;
    const photos = [{ photo: 'p1', step: 'bag' }, { photo: 'p2', step: 'bag' }];
    const backend = new FixtureBackend({ ...works.workBag, bench: { ...bench, photos } });
    const slow: (() => void)[] = [];
    const answer = backend.ask.bind(backend);
    backend.ask = async (ask) => {
      if (ask.ask === 'picture' || ask.ask === 'keep-photo') await new Promise<void>((go) => slow.push(go));
      return answer(ask);
    };
    render(App, { backend });
    await waitFor(() => expect(slow).toHaveLength(1));
    const files = ['one', 'two'].map((name) => new File([new Uint8Array([255, 216, 255])], name, { type: 'image/jpeg' }));
    await fireEvent.change(screen.getByLabelText(words.photo.take), { target: { files } });
    await waitFor(() => expect(slow).toHaveLength(2));
    backend.show({ ...works.workToBegin, bench: { ...(works.workToBegin.bench as typeof bench), photos: [] } });
    await waitFor(() => expect(card().dataset.step).not.toBe('bag'));
    slow.splice(0).forEach((go) => go());
    await waitFor(() => expect(slow).toHaveLength(1));
    slow.splice(0).forEach((go) => go());
    const sent = () => backend.asked.filter((ask) => ask.ask === 'keep-photo').map(({ step }) => step);
    await waitFor(() => expect(sent()).toEqual(['bag', 'bag']));
    expect(backend.asked.filter((ask) => ask.ask === 'picture')).toEqual([{ ask: 'picture', photo: 'p1' }]);
  });

  it('are taken only while the step is done', () => {
    shown(works.workToBegin);
    expect(screen.queryByLabelText(words.photo.take)).toBeNull();
  });
});

describe('the end', () => {
  it('says how it ended and what still waits for a second signature', async () => {
    shown(works.workEnded);
    expect(screen.getByText('Not repaired. Second signature waiting.')).toBeTruthy();
    const waits = screen.getByRole('region', { name: words.second.title });
    expect(waits.textContent).toContain('It ends with a lamp or a code.');
    expect(key(tongues.en.done.back)).toBeTruthy();
  });
});

describe('how a reading stands', () => {
  const shownWith = (state: string) => {
    const bench = works.workIsolation.bench as NonNullable<View['bench']>;
    const now = bench.work?.now as NonNullable<NonNullable<typeof bench.work>['now']>;
    const part = { name: '1 – 2', words: '0.3 Ω', done: true, state, a: 0, b: 1, pair: true };
    const fields = { kind: 'reading' as const, reads: 'isolation' as const, what: '', done: 1, of: 1, parts: [part], limit: '' };
    const work = bench.work && { ...bench.work, now: { ...now, fields } };
    return shown({ ...works.workIsolation, bench: { ...bench, work } });
  };

  it.each([['good', 'good'], ['bad', 'bad'], ['open', 'open'], ['none', 'none'], ['a word of tomorrow', 'open']])(
    '%s has the mark of %s, whether or not it was read',
    (state, mark) => {
      shownWith(state);
      expect(document.querySelector('.reading [data-proof]')?.getAttribute('data-proof')).toBe(mark);
    },
  );

  it('one that is judged later has no mark of a finding', () => {
    shownWith('taken');
    expect(document.querySelector('.reading [data-proof]')).toBeNull();
  });
});
