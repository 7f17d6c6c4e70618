import { fireEvent, render, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, expect, it } from 'vitest';
import Office from '../../src/office/Office.svelte';
import { spot } from '../../src/office/place.svelte';
import { officeTongues } from '../../src/office/words';
import { speech } from '../../src/words/speech.svelte';
import { FixtureHub, signedIn } from './fixtures';

const { ownPassword: words, refused, setUp, sign, places } = officeTongues.en;
const own = `${sign.as('')}Toma Quell · ${words.link}`;
const field = async (label: string) => (await screen.findByLabelText(label)) as HTMLInputElement;
const write = async (label: string, value: string) => fireEvent.input(await field(label), { target: { value } });
const key = () => screen.findByRole('button', { name: words.key }) as Promise<HTMLButtonElement>;

function shown(hub: FixtureHub, hash = '#password') {
  location.hash = hash;
  render(Office, { door: hub.door });
  return hub;
}

async function types(old: string, fresh: string, twice = fresh) {
  await write(words.old, old);
  await write(words.fresh, fresh);
  await write(setUp.twice, twice);
}

beforeEach(() => {
  speech.language = 'en';
});

it.each(['technician', 'office', 'owner'] as const)('leads a signed-in %s from beside the name to the own password', async (role) => {
  shown(new FixtureHub().on('GET office/session', signedIn(role)));
  const link = await screen.findByRole('link', { name: own });
  expect(spot(link.getAttribute('href')!)).toEqual({ place: 'password', job: null, setUp: null });
  expect(link.getAttribute('aria-current')).toBe('page');
  expect(screen.getByRole('link', { name: places.today }).getAttribute('aria-current')).toBeNull();
  await screen.findByRole('heading', { level: 1, name: words.title });
});

it('sends the old and the new password once both are typed, and shows none of them afterwards', async () => {
  const hub = shown(new FixtureHub().on('GET office/session', signedIn('technician')));
  await types('copper kettle', 'brass kettle', 'brass kettel');
  await screen.findByText(setUp.differ);
  expect((await key()).disabled).toBe(true);
  await write(setUp.twice, 'brass kettle');
  await write(words.old, '');
  expect((await key()).disabled).toBe(true);
  await write(words.old, 'copper kettle');
  for (const label of [words.old, words.fresh, setUp.twice]) expect((await field(label)).type).toBe('password');
  await fireEvent.click(await key());
  await screen.findByText(words.done);
  expect(hub.changes).toEqual([
    { path: 'office/password', method: 'POST', body: { old: 'copper kettle', new: 'brass kettle' }, csrf: 'c-s-r-f' },
  ]);
  expect(screen.queryByLabelText(words.old)).toBeNull();
  expect(document.body.innerHTML).not.toMatch(/kettle/);
});

it('says why nothing was changed, and keeps what has not to be typed again', async () => {
  const hub = shown(new FixtureHub().on('GET office/session', signedIn('office')));
  hub.refuse('POST office/password', 'wrong-password');
  await types('copper kettl', 'brass kettle');
  await fireEvent.click(await key());
  await screen.findByText(words.wrong);
  expect(screen.queryByText(refused['wrong-password'])).toBeNull();
  expect([(await field(words.old)).value, (await field(words.fresh)).value]).toEqual(['', 'brass kettle']);
  for (const why of ['too-often', 'password-short', 'silent'] as const) {
    hub.refuse('POST office/password', why);
    await write(words.old, 'copper kettle');
    await fireEvent.click(await key());
    await screen.findByText(refused[why]);
    expect((await field(words.old)).value).toBe('copper kettle');
    expect(screen.queryByText(words.done)).toBeNull();
  }
});

it('leads whoever was signed out meanwhile back to the door, which tells the only owner of a way in', async () => {
  const hub = shown(new FixtureHub().on('GET office/session', signedIn('owner')));
  await types('copper kettle', 'brass kettle');
  hub.refuse('POST office/password', 'signed-out').on('GET office/session', { shop: '', set_up: true, person: null });
  await fireEvent.click(await key());
  await screen.findByText(refused['signed-out']);
  const told = (await screen.findByText('evenwire-hub owner-link')).closest('p');
  expect(told?.textContent).toBe(`${sign.forgot} ${sign.forgotAlone} evenwire-hub owner-link`);
  await waitFor(() => expect(screen.queryByRole('link', { name: own })).toBeNull());
});
