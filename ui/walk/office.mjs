import assert from 'node:assert/strict';
import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { untilTaken, toMeasuring, SAID } from './job.mjs';
import { Hub } from './hub.mjs';
import { Person, TABLE_MS } from './person.mjs';
import { signsSecond } from './second.mjs';

const run = promisify(execFile);

export const OWNER = { shop: 'Lötauge & Sohn', name: 'Toma Quell', password: 'copper kettle' };
/** How long a device may take to bring what it has. */
const BRINGING_MS = 60_000;
/** What the browser says of an answer that refuses. */
const REFUSED = [/status of 40[0-9]/, /status of 422/];

/** What stands on the page of the office, in both languages. */
const OFFICE = {
  en: {
    begin: 'Begin', shop: 'What the shop is called', name: 'Your name', password: /^Password, at least/, twice: 'The same password again', take: 'Save this password',
    none: 'No device belongs to the shop yet.', devices: 'Devices', invite: 'Invite a device', text: 'Invitation as text', code: 'Invitation as a picture',
    same: 'Do the same six digits stand on its screen?', yes: 'Yes, the same', took: /belongs to the shop now/,
    today: 'Today', here: /All it brought is here, through entry \d+\./, jobs: 'Jobs', search: /^Order, vehicle/, report: 'Report as a PDF', claim: 'Claim file, signed', behind: 'All that stands behind it',
    erase: 'Erase details and photos', procedures: 'Procedures', people: 'People', added: 'Name', add: 'Add and make a link', link: /^Link for/, log: 'Who looked', looked: 'looked at a record',
    had: 'The password you have now', fresh: /^New password, at least/, save: 'Save the new password', holds: /^The new password holds/, machine: 'link for an owner, made on the hub’s own machine', out: 'Sign out', in: 'Sign in', own: 'Name', secret: 'Password', wrong: 'Name and password do not belong together.', order: 'Practice', condemned: /Conductor 4/,
    missing: 'second signature missing', open: 'not closed', second: 'Second signature: Identify the vehicle', again: 'Your password, once more', sign: 'Sign as second person', under: /^Signed by Toma Quell, .*Sent to “Bench 2”/, counts: /^It counts when the device has it/, stands: 'Signed second by Toma Quell at the office.',
  },
  de: {
    begin: 'Anfangen', shop: 'Wie der Betrieb heißt', name: 'Dein Name', password: /^Passwort, mindestens/, twice: 'Dasselbe Passwort noch einmal', take: 'Dieses Passwort speichern',
    none: 'Noch gehört kein Gerät zum Betrieb.', devices: 'Geräte', invite: 'Ein Gerät einladen', text: 'Einladung als Text', code: 'Einladung als Bild',
    same: 'Stehen auf seinem Bildschirm dieselben sechs Ziffern?', yes: 'Ja, dieselben', took: /gehört jetzt zum Betrieb/,
    today: 'Heute', here: /Alles, was es gebracht hat, ist hier: bis Eintrag \d+\./, jobs: 'Aufträge', search: /^Auftrag, Fahrzeug/, report: 'Bericht als PDF', claim: 'Nachweisdatei, signiert', behind: 'Alles, was dahintersteht',
    erase: 'Angaben und Fotos löschen', procedures: 'Abläufe', people: 'Leute', added: 'Name', add: 'Hinzufügen und Link machen', link: /^Link für/, log: 'Wer hat geschaut', looked: 'hat einen Bericht angesehen',
    had: 'Dein jetziges Passwort', fresh: /^Neues Passwort, mindestens/, save: 'Neues Passwort speichern', holds: /^Ab jetzt gilt das neue Passwort/, machine: 'Link für einen Inhaber, am Rechner der Zentrale gemacht', out: 'Abmelden', in: 'Anmelden', own: 'Name', secret: 'Passwort', wrong: 'Name und Passwort gehören nicht zusammen.', order: 'Practice', condemned: /Leiter 4/,
    missing: 'zweite Unterschrift fehlt', open: 'nicht abgeschlossen', second: 'Zweite Unterschrift: Fahrzeug feststellen', again: 'Dein Passwort, noch einmal', sign: 'Als zweite Person unterschreiben', under: /^Unterschrieben von Toma Quell, .*Auf dem Weg zu „Bench 2“/, counts: /^Die Unterschrift gilt, wenn das Gerät sie hat/, stands: 'Im Büro gegengezeichnet: Toma Quell.',
  },
};

/** What a device says of the shop's hub, in English. */
const DEVICE = {
  shop: 'Shop', photograph: 'Photograph the code on the office screen', invitation: 'Invitation from the office', name: /^What the shop calls this device/, ask: 'Ask the shop', home: 'Back to the jobs', send: 'Send now',
};

/** Goes to a place of the office. */
async function goTo(person, place) {
  await person.page.getByRole('link', { name: place, exact: true }).click();
  await person.page.getByRole('heading', { level: 1 }).waitFor();
}

/** The first person comes in by the link the hub printed. */
async function comesIn(person, words, hub) {
  await person.open(hub.link);
  await person.read(words.begin);
  await person.look('first-link');
  await person.write(words.shop, OWNER.shop);
  await person.write(words.name, OWNER.name);
  await person.write(words.password, OWNER.password);
  await person.write(words.twice, OWNER.password);
  await person.press(words.take);
  await person.read(words.none);
  await person.look('nothing-yet');
}

/** A device with a judged job is invited and taken in, and brings all of it. */
async function takesIn(person, words, device) {
  await goTo(person, words.devices);
  await person.press(words.invite);
  const text = await person.page.getByLabel(words.text).inputValue();
  assert.match(text, /^evenwire:hub\/1\//);
  await person.look('invitation');
  await device.press(DEVICE.shop);
  if (person.language === 'de') {
    // One takes the code by the camera, the other the text.
    const photo = { name: 'code.png', mimeType: 'image/png', buffer: await person.page.getByRole('img', { name: words.code }).screenshot() };
    await device.page.getByLabel(DEVICE.photograph).setInputFiles(photo);
    await device.page.waitForFunction((wanted) => document.querySelector('textarea').value === wanted, text);
  } else await device.write(DEVICE.invitation, text);
  await device.look('at-the-shop');
  await device.write(DEVICE.name, 'Bench 2');
  await device.press(DEVICE.ask);
  const digits = await person.page.locator('.six').innerText();
  await device.read(digits.split(':').pop().trim());
  await person.read(words.same);
  await person.look('six-digits');
  await person.press(words.yes);
  await person.read(words.took);
  await person.read(words.here, BRINGING_MS);
  await person.look('a-device');
}

/** A practice job up to its verdict, on a device. */
async function works(device) {
  const words = SAID.en;
  await toMeasuring(device, words);
  await untilTaken(device, words, 16);
  await device.read(words.all, TABLE_MS);
  await device.press(words.judge);
  await device.read(words.condemned);
  await device.press(words.finish);
  await device.read(words.closed);
  await device.press(words.back);
}

async function reads(person, words) {
  await goTo(person, words.today);
  await person.read(words.order);
  await person.look('today');
  await goTo(person, words.jobs);
  await person.write(words.search, words.order);
  await person.page.getByRole('link', { name: new RegExp(words.order) }).first().click();
  await person.page.getByRole('article').getByText(words.condemned).first().waitFor();
  await person.look('a-record');
  const taken = async (name) => {
    const key = person.page.getByRole('article').getByRole('link', { name, exact: true });
    const [file] = await Promise.all([person.page.waitForEvent('download'), key.click()]);
    return file;
  };
  assert.match((await taken(words.report)).suggestedFilename(), /\.pdf$/);
  const claim = await taken(words.claim);
  assert.match(claim.suggestedFilename(), /\.zip$/);
  const { stdout } = await run(process.env.EVENWIRE_CLI, ['verify', await claim.path()]);
  assert.match(stdout, /unchanged since it was signed[^]*put together by the shop's hub/);
  await person.page.getByText(words.behind).click();
  await person.look('all-behind-it');
  await person.key(words.erase).waitFor();
}

async function looksAfterPeople(person, words) {
  await goTo(person, words.people);
  await person.write(words.added, 'Ines Falk');
  await person.press(words.add);
  await person.read(words.link);
  await person.look('people');
  await goTo(person, words.log);
  await person.read(words.looked);
  await person.look('who-looked');
  await goTo(person, words.procedures);
  await person.page.locator('input[type=file]').setInputFiles({ name: 'coil.toml', mimeType: 'text/plain', buffer: Buffer.from('id = 3\n') });
  await person.page.locator('ol li').first().waitFor();
  // What is wrong with a file is told in English, as in the app.
  if (person.language === 'en') await person.look('a-wrong-procedure');
}

async function goesAndComesBack(person, words) {
  await person.press(words.out);
  await person.key(words.in).waitFor();
  await person.write(words.own, OWNER.name);
  await person.write(words.secret, 'brass kettle');
  await person.press(words.in);
  await person.read(words.wrong);
  await person.look('wrong-password');
  await person.write(words.secret, OWNER.password);
  await person.press(words.in);
  await person.key(words.out).waitFor();
}

async function choosesAnew(person, words) {
  await person.page.getByRole('link', { name: OWNER.name }).click();
  await person.look('own-password');
  await person.write(words.had, OWNER.password);
  await person.write(words.fresh, 'brass kettle');
  await person.write(words.twice, 'brass kettle');
  await person.press(words.save);
  await person.read(words.holds);
  await person.look('another-password');
}

/** The owner forgot it, and comes in by a link that the hub's own machine gives. */
async function comesBack(person, words, hub) {
  await person.press(words.out);
  await person.key(words.in).waitFor();
  await person.look('signed-out');
  await person.open(await hub.ownerLink());
  await person.write(words.password, OWNER.password);
  await person.write(words.twice, OWNER.password);
  await person.look('a-link-of-the-machine');
  await person.press(words.take);
  await goTo(person, words.log);
  await person.read(words.machine);
  await person.look('who-made-a-link');
}

/** A day in the office: from the link the hub printed to the log of who looked at what, with a device of the shop. */
export async function officeDay(device, _words, program) {
  const hub = await Hub.start();
  const language = device.story.includes('german') ? 'de' : 'en';
  const browser = device.page.context().browser();
  const locale = language === 'de' ? 'de-DE' : 'en-GB';
  const viewport = device.page.viewportSize();
  // The authority of the hub is its own; devices know it from their invitation, browsers ask.
  const page = await browser.newPage({ ignoreHTTPSErrors: true, viewport, locale, reducedMotion: 'reduce' });
  const person = new Person(page, device.story);
  person.language = language;
  person.expected.push(...REFUSED);
  try {
    const words = OFFICE[language];
    await works(device, program);
    await comesIn(person, words, hub);
    await takesIn(person, words, device);
    await reads(person, words);
    await signsSecond(person, words, device);
    await looksAfterPeople(person, words);
    await goesAndComesBack(person, words);
    await choosesAnew(person, words);
    await comesBack(person, words, hub);
    person.quiet('the end');
  } catch (fault) {
    await person.picture('FAILED').catch(() => {});
    fault.message += `\nThe office's page says:\n${(await person.text().catch(() => '')).slice(0, 1_500)}`;
    throw fault;
  } finally {
    await page.close();
    await hub.end();
  }
}
