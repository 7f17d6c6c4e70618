import { cleanup, fireEvent, render, screen, waitFor, within } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import core from '../../../core/src/procedure/mod.rs?raw';
import { MOST_FILE } from '../../src/office/door';
import Office from '../../src/office/Office.svelte';
import { officeTongues } from '../../src/office/words';
import { spot } from '../../src/office/place.svelte';
import { speech } from '../../src/words/speech.svelte';
import { broughtIntoSight } from '../keys';
import { device, FixtureHub, JOB, job, none, record, second, signedIn } from './fixtures';

const words = officeTongues.en;
const press = async (name: string | RegExp) => fireEvent.click(await screen.findByRole('button', { name }));
const write = async (label: string, value: string) => fireEvent.input(await screen.findByLabelText(label), { target: { value } });

function shown(hub: FixtureHub, hash = '') {
  location.hash = hash;
  render(Office, { door: hub.door });
  return hub;
}

const today = (more = {}) => ({
  day: '2026-11-26',
  at: '2026-11-26T16:00:00Z',
  devices: [],
  pairings: 0,
  jobs: [],
  open: [],
  more_open: false,
  room_mb: null,
  ...more,
});

beforeEach(() => {
  speech.language = 'en';
});

describe('an address of the office', () => {
  it('names a place, a job or a set-up link, and nothing else', () => {
    expect(spot('#devices')).toEqual({ place: 'devices', job: null, setUp: null });
    expect(spot(`#jobs/${JOB}`)).toEqual({ place: 'jobs', job: JOB, setUp: null });
    expect(spot('#setup=VbSAJs_Rocf2Tcrd_ukIRh9i')).toMatchObject({ setUp: 'VbSAJs_Rocf2Tcrd_ukIRh9i' });
    expect(spot('#jobs/../../evil')).toEqual({ place: 'today', job: null, setUp: null });
    expect(spot('#setup=<script>')).toMatchObject({ setUp: null });
  });
});

describe('signing in', () => {
  it('sends name and password, and says why it was refused with the name still there', async () => {
    const hub = shown(new FixtureHub().on('GET office/session', { shop: '', set_up: true, person: null }));
    hub.refuse('POST office/sign-in', 'wrong-password');
    await write(words.sign.name, 'Toma Quell');
    await write(words.sign.password, 'not this one');
    await press(words.sign.key);
    await screen.findByText(words.refused['wrong-password']);
    expect(hub.changes[0]).toMatchObject({ path: 'office/sign-in', body: { name: 'Toma Quell', password: 'not this one' } });
    expect((screen.getByLabelText(words.sign.name) as HTMLInputElement).value).toBe('Toma Quell');
    expect((screen.getByLabelText(words.sign.password) as HTMLInputElement).value).toBe('');
  });

  it('says where to begin while there is no owner', async () => {
    shown(new FixtureHub().on('GET office/session', { shop: '', set_up: false, person: null }));
    await screen.findByText(words.sign.first);
    expect(screen.queryByLabelText(words.sign.password)).toBeNull();
  });

  it('by a link takes the same password twice, and the secret leaves the address', async () => {
    const hub = new FixtureHub().on('GET office/session', { shop: '', set_up: false, person: null });
    shown(hub, '#setup=VbSAJs_Rocf2Tcrd_ukIRh9i');
    await write(words.setUp.shop, 'Lötauge & Sohn');
    await write(words.setUp.name, 'Toma Quell');
    await write(words.setUp.password, 'copper kettle');
    await write(words.setUp.twice, 'copper kettel');
    await screen.findByText(words.setUp.differ);
    const key = screen.getByRole('button', { name: words.setUp.key }) as HTMLButtonElement;
    expect(key.disabled).toBe(true);
    await write(words.setUp.twice, 'copper kettle');
    hub.on('GET office/session', signedIn('owner')).on('GET office/today', today());
    await press(words.setUp.key);
    await screen.findByText(words.today.none);
    expect(hub.changes[0]?.body).toEqual({
      token: 'VbSAJs_Rocf2Tcrd_ukIRh9i', name: 'Toma Quell', shop: 'Lötauge & Sohn', password: 'copper kettle',
    });
    expect(location.hash).toBe('#today');
  });

  it('by a link that may be used or made up promises nothing, and says so when it is refused', async () => {
    const hub = new FixtureHub().on('GET office/session', { shop: 'Lötauge & Sohn', set_up: true, person: null });
    shown(hub.refuse('POST office/set-up', 'link-over'), '#setup=VbSAJs_Rocf2Tcrd_ukIRh9i');
    await screen.findByText(/Whether this one is still good shows when you press the key\./);
    await write(words.setUp.password, 'copper kettle');
    await write(words.setUp.twice, 'copper kettle');
    await press(words.setUp.key);
    await screen.findByText(/^Your password was not taken: this link was used, is over,/);
  });
});

describe('today', () => {
  it('says of each device what is here and what has not come, and never more', async () => {
    const devices = [
      device('Bench 1'),
      device('Bench 22', { missing: { ...none, photos: 3, people: 1 } }),
      device('Phone 333', { stored_through: 0, seen: null }),
      device('Tablet 4444', { parted_at: 212 }),
    ];
    shown(new FixtureHub().on('GET office/session', signedIn('office')).on('GET office/today', today({ devices, open: [job({ open: ['loads', 'not-closed'] })] })));
    await screen.findByText('Here through entry 418; 3 photos and 1 name missing.');
    await screen.findByText('All it brought is here, through entry 418.');
    await screen.findByText(words.device.nothing);
    await screen.findByText(words.device.parted(212));
    expect(screen.getByText(words.device.marks.whole)).toBeTruthy();
    const open = screen.getByRole('link', { name: /W-2041/ });
    expect(within(open).getByText(words.open.loads)).toBeTruthy();
    expect(within(open).queryByText(words.open['not-closed'])).toBeNull();
    expect(open.getAttribute('href')).toBe(`#jobs/${JOB}`);
    expect(screen.queryByText(/disk of the hub/)).toBeNull();
  });

  it('warns before the disk of the hub is full', async () => {
    shown(new FixtureHub().on('GET office/session', signedIn('office')).on('GET office/today', today({ room_mb: 140 })));
    await screen.findByText(/^The disk of the hub has 140 MB left\. When it is full, nothing more is taken/);
  });
});

describe('devices', () => {
  const asks = { pairing: '22222222-2222-4333-8444-555555555555', name: 'Bench 2', digits: '042 917', asked: '2026-11-26T16:00:00Z' };

  it('are taken in by the same six digits, with the token of the session', async () => {
    const seen = broughtIntoSight();
    const hub = shown(
      new FixtureHub()
        .on('GET office/session', signedIn('office'))
        .on('GET office/devices', { devices: [], pairings: [asks], fingerprint: '1234 5678', at: '2026-11-26T16:00:00Z' }),
      '#devices',
    );
    await screen.findByText('042 917');
    expect(seen.at(-1)?.textContent).toContain('042 917');
    expect(document.activeElement?.textContent).toBe(words.devices.asks('Bench 2'));
    await press(words.devices.yes);
    await screen.findByText(words.devices.took('Bench 2'));
    expect(hub.changes).toEqual([
      { path: `office/pairings/${asks.pairing}`, method: 'POST', body: { same: true }, csrf: 'c-s-r-f' },
    ]);
  });

  it('are invited by a picture and a text, and put out only after a yes', async () => {
    const hub = shown(
      new FixtureHub()
        .on('GET office/session', signedIn('office'))
        .on('GET office/devices', { devices: [device('Bench 2')], pairings: [], fingerprint: '1234 5678', at: '2026-11-26T16:00:00Z' })
        .on('POST office/invitations', { text: 'evenwire:hub/1/abc', fields: 21, path: 'M0 0h7v1h-7z', until: '2026-11-26T16:10:00Z' }),
      '#devices',
    );
    const seen = broughtIntoSight();
    await press(words.devices.invite);
    const picture = await screen.findByRole('img', { name: words.devices.code });
    expect(seen.map((one) => one.textContent)).toEqual([words.devices.inviteHint]);
    expect(picture.querySelector('path')?.getAttribute('d')).toBe('M0 0h7v1h-7z');
    expect((screen.getByLabelText(words.devices.text) as HTMLTextAreaElement).value).toBe('evenwire:hub/1/abc');
    await press(`${words.devices.revoke}: Bench 2`);
    expect(hub.changes).toHaveLength(1);
    await press(words.devices.revokeYes);
    await waitFor(() => expect(hub.changes.at(-1)?.path).toBe(`office/devices/${device('Bench 2').device}/revoke`));
  });

  it('can be looked at by a technician, and nothing else', async () => {
    shown(
      new FixtureHub()
        .on('GET office/session', signedIn('technician'))
        .on('GET office/devices', { devices: [device('Bench 2')], pairings: [asks], fingerprint: '1234 5678', at: '2026-11-26T16:00:00Z' }),
      '#devices',
    );
    await screen.findByText('Bench 2');
    expect(screen.queryByText('042 917')).toBeNull();
    expect(screen.queryByRole('button', { name: words.devices.invite })).toBeNull();
    expect(screen.queryByRole('link', { name: words.places.people })).toBeNull();
  });
});

describe('a record', () => {
  const hub = (role: 'office' | 'technician', of = record()) =>
    new FixtureHub()
      .on('GET office/session', signedIn(role))
      .on('GET jobs?', { jobs: [job()], words: '1 job', below: null })
      .on(`GET jobs/${JOB}`, of);

  it('is text whatever a device wrote into it', async () => {
    shown(hub('technician'), `#jobs/${JOB}`);
    await screen.findByText('<img src=x onerror=alert(1)>');
    expect(document.querySelector('img[src="x"]')).toBeNull();
    expect(screen.getByRole('link', { name: words.record.pdf }).getAttribute('href')).toContain(`../v1/jobs/${JOB}/report.pdf?language=en`);
    expect(screen.getByRole('img', { name: 'Plug' }).getAttribute('src')).toBe(`../v1/jobs/${JOB}/photos/${'ab'.repeat(32)}`);
    expect(screen.queryByRole('button', { name: words.record.erase })).toBeNull();
    await fireEvent.error(screen.getByRole('img', { name: 'Plug' }));
    await screen.findByText(words.record.noPhoto);
  });

  it('stands in two versions where ledgers part', async () => {
    const [one] = record().versions;
    const other = { ...one, device: device('Phone 333').device, name: 'Phone 3', entries: 38, common: 36 };
    shown(hub('office', record({ versions: [{ ...one, common: 36 }, other] as never })), `#jobs/${JOB}`);
    await screen.findByText(words.record.parted(2));
    expect(screen.getAllByRole('article')).toHaveLength(2);
    expect(screen.getByText(/Phone 3: 38 entries/)).toBeTruthy();
  });

  const waits = (more = {}) => record({ versions: record().versions.map((one) => ({ ...one, seconds: [second(more)] })) });

  it('shows what was done where a second person signs, and signs with the password once more', async () => {
    const page = shown(hub('office', waits()), `#jobs/${JOB}`);
    await screen.findByText('A used restraint part.');
    for (const told of ['OR3-1187, used, from: breaker’s yard', 'Jakob Specht', '2026-11-26 14:02']) expect(screen.getByText(told)).toBeTruthy();
    expect(screen.getByRole('img', { name: 'Choose the part, 14:01' })).toBeTruthy();
    expect(screen.getByText(words.second.means('Toma Quell'))).toBeTruthy();
    expect((screen.getByRole('button', { name: words.second.key }) as HTMLButtonElement).disabled).toBe(true);
    await write(words.second.password, 'copper kettle');
    page.on(`GET jobs/${JOB}`, waits({ given: { name: 'Toma Quell', at: '2026-11-26T15:00:00Z', refused: null }, refused: 'signed-already' }));
    await press(words.second.key);
    await screen.findByText(/^Signed by Toma Quell, .*Sent to “Bench 2”\.$/);
    expect(screen.getByText(words.second.counts)).toBeTruthy();
    expect(screen.queryByRole('button', { name: words.second.key })).toBeNull();
    const body = { device: device('Bench 2').device, step: 'candidate', doing: 14, entries: record().versions[0]!.entries, password: 'copper kettle' };
    expect(page.changes).toMatchObject([{ path: `jobs/${JOB}/signatures`, method: 'POST', body, csrf: 'c-s-r-f' }]);
  });

  it('says at the step why a signature was not given or not taken, and lets it be given again', async () => {
    const page = shown(hub('office', waits()), `#jobs/${JOB}`);
    page.refuse('POST jobs', 'wrong-password');
    await write(words.second.password, 'brass kettle');
    await press(words.second.key);
    await screen.findByText(words.refused['wrong-password']);
    expect((screen.getByLabelText(words.second.password) as HTMLInputElement).value).toBe('');
    page.refuse('POST jobs', 'sign-done-again');
    page.on(`GET jobs/${JOB}`, waits({ waits: { ...second().waits, doing: 15 }, given: { name: 'Ines Falk', at: '2026-11-26T15:00:00Z', refused: 'sign-done-again' } }));
    await write(words.second.password, 'copper kettle');
    await press(words.second.key);
    await screen.findByText(/^The signature of Ines Falk, .*, was not taken\.$/);
    page.refuses.clear();
    await write(words.second.password, 'copper kettle');
    await press(words.second.key);
    await waitFor(() => expect(page.changes.at(-1)?.body).toMatchObject({ doing: 15 }));
  });

  it('says who may sign to whoever may not, and shows no key', async () => {
    shown(hub('technician', waits()), `#jobs/${JOB}`);
    await screen.findByText(words.second.who);
    expect(screen.queryByRole('button', { name: words.second.key })).toBeNull();
    cleanup();
    shown(hub('office', waits({ refused: 'sign-own-second' })), `#jobs/${JOB}`);
    await screen.findByText(words.refused['sign-own-second']);
    expect(screen.queryByRole('button', { name: words.second.key })).toBeNull();
  });

  it('loses what is personal only after a yes, and only when it is closed', async () => {
    const page = shown(hub('office'), `#jobs/${JOB}`);
    await press(words.record.erase);
    const asked = (await screen.findByText(words.record.eraseSure)).textContent ?? '';
    for (const goes of ['customer', 'phone', 'plate', 'VIN', 'odometer', 'complaint', 'technician’s name', 'photos'])
      expect(asked).toContain(goes);
    expect(page.changes).toEqual([]);
    await press(words.record.eraseYes);
    await screen.findByText(words.record.erased);
    expect(words.record.erased).toMatch(/never hears of it and may still have them\. Backups/);
    expect(page.changes).toMatchObject([{ path: `jobs/${JOB}/erasure`, method: 'POST', csrf: 'c-s-r-f' }]);
  });

  it('keeps it while it is open', async () => {
    shown(hub('office', record({ erasable: false })), `#jobs/${JOB}`);
    await screen.findByText(words.record.eraseLater);
    expect(screen.queryByRole('button', { name: words.record.erase })).toBeNull();
  });
});

it('looks for jobs by words, verdict and what is open', async () => {
  const hub = shown(
    new FixtureHub().on('GET office/session', signedIn('technician')).on('GET jobs?', { jobs: [], words: '', below: null }),
    '#jobs',
  );
  await write(words.jobs.search, 'W-2041');
  await fireEvent.click(screen.getByLabelText(words.jobs.openOnly));
  await fireEvent.change(screen.getByLabelText(words.jobs.verdict), { target: { value: 'fail' } });
  await waitFor(() => expect(hub.asked.at(-1)?.path).toBe('jobs?language=en&search=W-2041&verdict=fail&open=true&limit=30'));
  await screen.findByText(words.jobs.nothing);
});

it('goes on below the last job that is shown, and shows none twice', async () => {
  const named = (order: string) => job({ line: { ...job().line, job: `of ${order}`, order } as never });
  const hub = shown(
    new FixtureHub()
      .on('GET office/session', signedIn('technician'))
      .on('GET jobs?', { jobs: [named('W-4'), named('W-3')], words: 'The newest 2; there are more', below: '173' })
      .on('GET jobs?language=en&search=&verdict=&open=false&limit=30&below=173&shown=2', {
        jobs: [named('W-3'), named('W-2')],
        words: '3 jobs, newest first',
        below: null,
      }),
    '#jobs',
  );
  await press(words.more);
  await screen.findByText('3 jobs, newest first');
  expect([...document.querySelectorAll('.order')].map((of) => of.textContent)).toEqual(['W-4', 'W-3', 'W-2']);
  expect(screen.queryByRole('button', { name: words.more })).toBeNull();
  await write(words.jobs.search, 'W');
  await waitFor(() => expect(hub.asked.at(-1)?.path).toBe('jobs?language=en&search=W&verdict=&open=false&limit=30'));
});

it('lists what is wrong with a procedure by line and column', async () => {
  const hub = new FixtureHub().on('GET office/session', signedIn('office')).on('GET office/procedures', []);
  const mistakes = [{ line: 3, column: 9, what: 'unknown kind', instead: 'a kind of step' }];
  const door = async <T>(path: string, sent = {}) =>
    path.startsWith('office/procedures') && 'method' in sent
      ? ({ got: null, why: 'procedure-wrong', mistakes } as const)
      : hub.door<T>(path, sent);
  location.hash = '#procedures';
  render(Office, { door });
  // jsdom's files cannot be read as text.
  const file = Object.assign(new File([], 'coil.toml'), { text: async () => 'kind = 3' });
  await fireEvent.change(await screen.findByLabelText(words.procedures.key), { target: { files: [file] } });
  await screen.findByText(words.procedures.at(3, 9));
  await screen.findByText(words.refused['procedure-wrong']);
});

it('sends no file that is longer than a procedure can be, and says which', async () => {
  const [, kilo] = /MAX_FILE: usize = (\d+) \* 1024;/.exec(core) ?? [];
  expect(MOST_FILE).toBe(Number(kilo) * 1024);
  const hub = shown(new FixtureHub().on('GET office/session', signedIn('office')).on('GET office/procedures', []), '#procedures');
  const choose = async (bytes: number) => {
    const file = Object.assign(new File(['x'.repeat(bytes)], 'coil.toml'), { text: async () => 'x'.repeat(bytes) });
    await fireEvent.change(await screen.findByLabelText(words.procedures.key), { target: { files: [file] } });
  };
  await choose(MOST_FILE + 1);
  await screen.findByText(words.refused['too-large']);
  await screen.findByText('coil.toml');
  expect(hub.changes).toEqual([]);
  hub.on('POST office/procedures', { id: 'coil', version: 2, title: 'Coil', sent: '2026-11-26T16:00:00Z' });
  await choose(MOST_FILE);
  await screen.findByText(words.procedures.sent('Coil'));
  expect(screen.queryByText(words.refused['too-large'])).toBeNull();
});

describe('people', () => {
  it('are added with a link that is shown once', async () => {
    const hub = shown(
      new FixtureHub()
        .on('GET office/session', signedIn('owner'))
        .on('GET office/people', [])
        .on('POST office/people', { token: 'VbSAJs_Rocf2Tcrd_ukIRh9i', until: '2026-11-30T16:00:00Z' }),
      '#people',
    );
    await write(words.people.name, 'Ines Falk');
    await press(words.people.addKey);
    await screen.findByText(/#setup=VbSAJs_Rocf2Tcrd_ukIRh9i$/);
    expect(hub.changes[0]?.body).toEqual({ name: 'Ines Falk', role: 'technician' });
  });
});

it('brings whoever was signed out back to the door, and says why', async () => {
  const hub = shown(new FixtureHub().on('GET office/session', signedIn('office')).on('GET office/today', today()));
  await screen.findByText(words.today.none);
  hub.refuse('GET jobs?', 'signed-out').on('GET office/session', { shop: '', set_up: true, person: null });
  location.hash = '#jobs';
  await fireEvent(window, new HashChangeEvent('hashchange'));
  await screen.findByLabelText(words.sign.password);
  await screen.findByText(words.refused['signed-out']);
});
