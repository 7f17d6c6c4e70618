import { fireEvent, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import * as views from '../src/fixtures/views';
import * as works from '../src/fixtures/work';
import { said } from '../src/frame/said.svelte';
import type { PersonLine } from '../src/generated/PersonLine';
import type { Reply } from '../src/generated/Reply';
import type { RosterRefusal } from '../src/generated/RosterRefusal';
import type { View } from '../src/generated/View';
import { speech, tongues } from '../src/words/speech.svelte';
import { awaited, key, press } from './keys';
import { job, shown, wishes } from './worked';

const words = tongues.en.people;
const ada: PersonLine = { person: 'p-1', name: 'Ada Orrin', role: 'Technician', locked: '' };
const bo: PersonLine = { person: 'p-2', name: 'Bo Sabrel', role: '', locked: 'Locked for 25 s.' };
const type = (label: string, value: string) => fireEvent.input(screen.getByLabelText(label), { target: { value } });
const pin = () => screen.getByLabelText(words.pin) as HTMLInputElement;

function refusedBy(refusal: RosterRefusal): Reply {
  return { reply: 'refused', refusal: { code: 'roster', refusal }, notice: { code: 'roster', words: 'Not so.', remedy: 'Do it so.' } };
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

describe('the roster', () => {
  async function roster(people: PersonLine[]) {
    const page = shown({ ...views.measuring, bench: null, people });
    await press(words.key);
    await waitFor(() => expect(screen.getByRole('heading', { name: words.title })).toBeTruthy());
    return page;
  }

  it('says that nobody is on it, and takes somebody with a PIN typed twice', async () => {
    const { backend } = await roster([]);
    expect(screen.getByText(words.none)).toBeTruthy();
    await type(words.name, 'Ada Orrin');
    await type(words.newPin, '4711');
    await type(words.pins.again, '4712');
    await press(words.addKey);
    await waitFor(() => expect(screen.getByLabelText(words.pins.again).getAttribute('aria-invalid')).toBe('true'));
    expect(wishes(backend)).toEqual([]);
    // The name stays, no PIN does.
    expect((screen.getByLabelText(words.name) as HTMLInputElement).value).toBe('Ada Orrin');
    expect((screen.getByLabelText(words.newPin) as HTMLInputElement).value).toBe('');
    await type(words.newPin, '4711');
    await type(words.pins.again, '4711');
    await press(words.addKey);
    expect(wishes(backend)).toEqual([{ wish: 'add-person', name: 'Ada Orrin', pin: '4711', role: '' }]);
    await waitFor(() => expect((screen.getByLabelText(words.name) as HTMLInputElement).value).toBe(''));
  });

  it.each<[RosterRefusal, string]>([
    [{ why: 'name-taken' }, words.name],
    [{ why: 'pin-shape' }, words.newPin],
  ])('marks the field that was refused: %j', async (refusal, label) => {
    const { backend } = await roster([]);
    await type(words.name, 'Ada Orrin');
    backend.answers.push(refusedBy(refusal));
    await press(words.addKey);
    await waitFor(() => expect(screen.getByLabelText(label).getAttribute('aria-invalid')).toBe('true'));
    expect(screen.getByText('Not so. Do it so.')).toBeTruthy();
  });

  it('shows who is locked, takes nobody off without asking, and says what stays', async () => {
    const { backend } = await roster([ada, bo]);
    expect(screen.getByText('Locked for 25 s.')).toBeTruthy();
    await press(words.removeOf('Bo Sabrel'));
    await awaited(words.removeYes('Bo Sabrel'));
    expect(screen.getByText(words.removeMeans)).toBeTruthy();
    expect(wishes(backend)).toEqual([]);
    await press(words.removeYes('Bo Sabrel'));
    expect(wishes(backend)).toEqual([{ wish: 'remove-person', person: 'p-2' }]);
  });

  it('changes a PIN with the one so far', async () => {
    const { backend } = await roster([ada]);
    await press(words.changeOf('Ada Orrin'));
    await awaited(words.change);
    await type(words.pins.old, '1111');
    await type(words.pins.new, '2222');
    await fireEvent.input(screen.getAllByLabelText(words.pins.again)[0] as HTMLElement, { target: { value: '2222' } });
    backend.answers.push(refusedBy({ why: 'pin-wrong', left: 3 }));
    await press(words.change);
    await waitFor(() => expect(screen.getByLabelText(words.pins.old).getAttribute('aria-invalid')).toBe('true'));
    expect(wishes(backend)).toEqual([{ wish: 'change-pin', person: 'p-1', old: '1111', new: '2222' }]);
    for (const label of [words.pins.old, words.pins.new]) expect((screen.getByLabelText(label) as HTMLInputElement).value).toBe('');
  });
});

/** A closed job that waits for a second signature, with these who may sign it. */
function ended(signers: PersonLine[], nobody = '', doing = 9): View {
  const bench = works.workEnded.bench as NonNullable<View['bench']>;
  const work = bench.work as NonNullable<typeof bench.work>;
  const waiting = work.waiting.map((one) => ({ ...one, doing, signers, nobody }));
  return { ...works.workEnded, people: [ada, bo], bench: { ...bench, work: { ...work, waiting } } };
}

describe('the second signature', () => {
  it('is given by one of those who may, with a PIN that is not kept when it is wrong', async () => {
    const { backend } = shown(ended([ada, bo]));
    await press(words.signOf('Sign and close'));
    await waitFor(() => expect(pin()).toBeTruthy());
    expect(key(words.sign)?.disabled).toBe(true);
    await fireEvent.change(screen.getByLabelText(words.signer), { target: { value: 'p-2' } });
    await waitFor(() => expect(screen.getByText('Locked for 25 s.')).toBeTruthy());
    await fireEvent.change(screen.getByLabelText(words.signer), { target: { value: 'p-1' } });
    await type(words.pin, '9999');
    backend.answers.push(refusedBy({ why: 'pin-wrong', left: 4 }));
    await press(words.sign);
    await waitFor(() => expect(pin().getAttribute('aria-invalid')).toBe('true'));
    expect(pin().value).toBe('');
    expect(pin().type).toBe('password');
    await type(words.pin, '4711');
    await press(words.sign);
    expect(wishes(backend).at(-1)).toEqual({ wish: 'sign-step', job, step: 'sign', seen: 9, person: 'p-1', pin: '4711' });
    await waitFor(() => expect(screen.queryByLabelText(words.pin)).toBeNull());
  });

  it('is for what was seen: done again meanwhile, the PIN that was being typed is gone', async () => {
    const { backend } = shown(ended([ada]));
    await press(words.signOf('Sign and close'));
    await waitFor(() => expect(pin()).toBeTruthy());
    await type(words.pin, '4711');
    backend.show(ended([ada], '', 12));
    await waitFor(() => expect(screen.queryByLabelText(words.pin)).toBeNull());
    expect(wishes(backend)).toEqual([]);
    await press(words.signOf('Sign and close'));
    await waitFor(() => expect(pin()).toBeTruthy());
    await type(words.pin, '4711');
    await press(words.sign);
    expect(wishes(backend)).toEqual([{ wish: 'sign-step', job, step: 'sign', seen: 12, person: 'p-1', pin: '4711' }]);
  });

  it('waits where nobody can give it, and says why', () => {
    shown(ended([], 'Nobody else is on the roster.'));
    expect(screen.getByText('Nobody else is on the roster.')).toBeTruthy();
    expect(key(words.signOf('Sign and close'))).toBeNull();
  });
});

describe('who does the job', () => {
  const may = (may_name: boolean, people: PersonLine[]): View => {
    const bench = works.workBag.bench as NonNullable<View['bench']>;
    const work = bench.work as NonNullable<typeof bench.work>;
    return { ...works.workBag, people, bench: { ...bench, work: { ...work, technician: 'Nobody is named who does it.', may_name } } };
  };

  it('says so with a PIN', async () => {
    const { backend } = shown(may(true, [ada]));
    expect(screen.getByText('Nobody is named who does it.')).toBeTruthy();
    await press(words.sayWho);
    await waitFor(() => expect(pin()).toBeTruthy());
    await type(words.pin, '4711');
    await press(words.sayWho);
    expect(wishes(backend)).toEqual([{ wish: 'name-technician', job, person: 'p-1', pin: '4711' }]);
  });

  it.each([[false, [ada]], [true, []]])('is not asked where it cannot be said (%s, %j)', (can, people) => {
    shown(may(can, people));
    expect(key(words.sayWho)).toBeNull();
  });
});

it('a procedure that is a draft is stood for by somebody, by its version', async () => {
  const { backend } = shown({ ...works.workChoose, people: [ada] });
  const name = words.approveOf('Quillan van: steering coil');
  (await awaited(name)).click();
  await waitFor(() => expect(pin()).toBeTruthy());
  await type(words.pin, '4711');
  await press(words.approve);
  expect(wishes(backend)).toEqual([{ wish: 'approve-procedure', id: 'quillan-van-steering-coil', version: 1, person: 'p-1', pin: '4711' }]);
});
