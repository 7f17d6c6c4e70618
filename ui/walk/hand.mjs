import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { SAID, toMeasuring, untilTaken } from './job.mjs';
import { Person } from './person.mjs';
import { Program } from './program.mjs';

/** What stands on the screens of a job that goes from device to device, in both languages. */
const HAND = {
  en: {
    about: /^About this job: /, to: 'To whom, in a few words', shift: 'late shift', key: 'Hand over …', asks: 'Hand this job over?', yes: 'Yes, hand it over',
    away: /^Handed over to late shift on /, offer: 'Show the code', waits: /^Waits for the other device until \d\d:\d\d/, code: 'The job as a code', text: 'The same as text', end: 'Stop showing it',
    near: 'Take over from a device near by', photograph: 'Photograph the code on its screen', nearText: 'The text of the code', fetch: 'Fetch the job', leave: 'Never mind', gone: /does not answer/,
    out: /^Handed out at \d\d:\d\d\./, read: 'Read this before you go on', safe: /Nobody here saw whether the battery is off/, file: 'The file for the other device', fromFile: 'Take over from a file',
    back: 'Take it back', backAsks: 'Go on with it here?',
  },
  de: {
    about: /^Zu diesem Auftrag: /, to: 'An wen, in wenigen Worten', shift: 'Spätschicht', key: 'Übergeben …', asks: 'Diesen Auftrag übergeben?', yes: 'Ja, übergeben',
    away: /^Am .* an Spätschicht übergeben\./, offer: 'Code zeigen', waits: /^Wartet bis \d\d:\d\d auf das andere Gerät/, code: 'Der Auftrag als Code', text: 'Dasselbe als Text', end: 'Nicht mehr zeigen',
    near: 'Von einem Gerät in der Nähe übernehmen', photograph: 'Den Code auf seinem Bildschirm fotografieren', nearText: 'Der Text des Codes', fetch: 'Auftrag holen', leave: 'Doch nicht', gone: /antwortet nicht/,
    out: /^Um \d\d:\d\d ausgehändigt\./, read: 'Lies das, bevor du weitermachst', safe: /Hier hat niemand gesehen, ob die Batterie ab ist/, file: 'Die Datei für das andere Gerät', fromFile: 'Aus einer Datei übernehmen',
    back: 'Zurücknehmen', backAsks: 'Hier weitermachen?',
  },
};

/** The job on the bench is handed over, by the card about it. */
async function handsOver(person, words) {
  await person.press(words.about);
  await person.write(words.to, words.shift);
  await person.key(words.key).scrollIntoViewIfNeeded();
  await person.look('hand-over');
  await person.press(words.key);
  await person.read(words.asks);
  await person.look('hand-over-asked');
  await person.press(words.yes);
  await person.read(words.away);
  await person.look('handed-over');
}

/** The code on the giver's screen, as a camera sees it, and as text. */
async function showsCode(person, words) {
  await person.press(words.offer);
  await person.read(words.waits);
  const code = person.page.getByRole('img', { name: words.code });
  await code.scrollIntoViewIfNeeded();
  await person.look('the-code');
  return { photo: await code.screenshot(), text: await person.page.getByLabel(words.text).inputValue() };
}

/** Takes over: one by a photo of the code, the other by its text. */
async function fetches(person, words, { photo, text }) {
  await person.press(words.near);
  await person.key(words.fetch).scrollIntoViewIfNeeded();
  await person.look('take-near');
  if (person.language === 'de') {
    const file = { name: 'code.png', mimeType: 'image/png', buffer: photo };
    await person.page.getByLabel(words.photograph).setInputFiles(file);
    await person.page.waitForFunction((wanted) => document.querySelector('textarea').value === wanted, text);
  } else await person.write(words.nearText, text);
  await person.look('the-code-was-read');
  await person.press(words.fetch);
  await person.read(words.read);
  await person.read(words.safe);
  await person.look('taken-over');
}

/** The other way: the same job as a file, which the other device takes. */
async function byFile(giver, taker, words) {
  const key = giver.page.getByRole('button', { name: words.file });
  await key.scrollIntoViewIfNeeded();
  const [download] = await Promise.all([giver.page.waitForEvent('download'), key.click()]);
  assert.match(download.suggestedFilename(), /\.job\.zip$/);
  await giver.look('the-file-was-made');
  const file = { name: 'job.zip', mimeType: 'application/zip', buffer: await readFile(await download.path()) };
  await taker.page.getByLabel(words.fromFile).setInputFiles(file);
}

/** Somebody at another device, in the giver's language, tells a story of their own. */
async function atAnother(giver, name, tell) {
  const program = await Program.start(100);
  const browser = giver.page.context().browser();
  const page = await browser.newPage({ viewport: giver.page.viewportSize(), locale: 'en-GB', reducedMotion: 'reduce' });
  const person = new Person(page, `${giver.story}-${name}`);
  try {
    await person.open(program.address);
    if (giver.language === 'de') await person.press(SAID.en.other);
    person.language = giver.language;
    await person.read(SAID[giver.language].practise);
    await tell(person);
    person.quiet('the end');
  } catch (fault) {
    await person.picture('FAILED').catch(() => {});
    fault.message += `\nThe page of ${name} says:\n${(await person.text().catch(() => '')).slice(0, 1_500)}`;
    throw fault;
  } finally {
    await page.close();
    await program.end();
  }
}

/** A half-measured job goes to a device near by; what stands on both screens meanwhile. Then as a file to a third one. */
export async function handedOver(giver, bench) {
  const words = HAND[giver.language];
  await toMeasuring(giver, bench);
  await untilTaken(giver, bench, 2);
  await handsOver(giver, words);
  await atAnother(giver, 'late', async (taker) => {
    const { text } = await showsCode(giver, words);
    await giver.press(words.end);
    await giver.key(words.offer).waitFor();
    await taker.press(words.near);
    await taker.write(words.nearText, text);
    await taker.press(words.fetch);
    await taker.read(words.gone);
    await taker.look('nobody-answers');
    await taker.press(words.leave);
    await fetches(taker, words, await showsCode(giver, words));
    await giver.read(words.out);
    await giver.look('handed-out');
  });
  await giver.press(words.back);
  await giver.read(words.backAsks);
  await giver.look('take-back-asked');
  await atAnother(giver, 'third', async (taker) => {
    await byFile(giver, taker, words);
    await taker.read(words.read);
    await taker.read(words.safe);
    await taker.look('taken-from-a-file');
  });
}
