import assert from 'node:assert/strict';
import { READ_ON, TABLE_MS } from './person.mjs';

/** The practice hands have clipped on by then. */
const HANDS_MS = 3_000;

/** What a person looks for on the screens of a practice job, in both languages. */
export const SAID = {
  en: {
    practise: 'Start a practice job', newJob: 'New job', order: /^Order number/, open: 'Open the job',
    notReplace: 'does not replace', haveRead: 'I have read this', which: 'Which part lies on the bench?',
    coil: /8 conductors, 2 connectors/, turningPart: /bad only while turning/, isPart: 'This is the part', look: 'Look for meters', practiceMeter: /no hardware needed/,
    follows: 'Your meter shows this now?', use: 'Use this meter', never: 'Never put a meter on an airbag',
    clip: /^Clip conductor (\d+)(?: again)?: /, count: /(\d+) of 16 touches/, all: 'Every touch is taken.', judge: 'Judge',
    condemned: 'Condemned', tooHigh: /Conductor 4\b.*high/i, wide: 'Wide axis', practice: 'nothing real was measured',
    finish: 'Finish', closed: 'What stands in the record', back: 'Back to the jobs', jobs: 'Jobs',
    undo: /^Take back/, silent: 'The program does not answer.', other: 'Deutsch',
    zero: 'Zero the leads', zeroed: /Leads [\d.]+ Ω, taken off\./, zeroedWith: /leads zeroed/, zeroAgain: 'Zero the leads again', drift: /when checked again, (the same|moved by)/, candidate: /^Measure a replacement: Candidate for Practice$/, zeroFirst: /^Zero the leads first/, old: /old 0\.\d+ Ω/,
    used: 'Used restraint parts may be restricted', noRadio: 'My meter has no radio: I type what it shows', byEye: 'Read by eye, typed by you.',
    spec: ['Its name in your shop', 'Smallest step', 'Accuracy', 'and ± counts', 'Highest value'], sign: 'decimal sign',
    take: (text) => `Take ${text} Ω`, typed: 'typed',
  },
  de: {
    practise: 'Übungsauftrag beginnen', newJob: 'Neuer Auftrag', order: /^Auftragsnummer/, open: 'Auftrag anlegen',
    notReplace: 'ersetzt weder', haveRead: 'Ich habe das gelesen', which: 'Welches Teil liegt auf der Werkbank?',
    coil: /8 Leiter, 2 Stecker/, turningPart: /nur beim Drehen schlecht/, isPart: 'Das ist das Teil', look: 'Messgeräte suchen', practiceMeter: /ohne Gerät/,
    follows: 'Zeigt dein Messgerät das gerade?', use: 'Dieses Messgerät nehmen', never: 'Nie ein Messgerät an Airbag',
    clip: /^Leiter (\d+)(?: noch einmal)? klemmen: /, count: /(\d+) von 16 Berührungen/, all: 'Alle Berührungen sind da.', judge: 'Urteilen',
    condemned: 'Verworfen', tooHigh: /Leiter 4\b.*hoch/i, wide: 'Gestauchte Achse', practice: 'nichts Echtes wurde gemessen',
    finish: 'Abschließen', closed: 'Was festgehalten ist', back: 'Zurück zu den Aufträgen', jobs: 'Aufträge',
    undo: /zurücknehmen$/, silent: 'Das Programm antwortet nicht.', other: 'English',
    zero: 'Messleitungen nullen', zeroed: /Leitungen [\d.]+ Ω, abgezogen\./, zeroedWith: /Messleitungen genullt/, zeroAgain: 'Messleitungen nochmals nullen', drift: /beim Nachprüfen, (gleich geblieben|um .* gewandert)/, candidate: /^Ersatzteil messen: Ersatz für Übung$/, zeroFirst: /^Zuerst die Messleitungen nullen/, old: /alt 0[.,]\d+ Ω/,
    used: 'Gebrauchte Teile von Rückhaltesystemen', noRadio: 'Mein Messgerät hat keinen Funk: ich tippe, was es zeigt', byEye: 'Von dir abgelesen und eingetippt.',
    spec: ['Sein Name in der Werkstatt', 'Kleinster Schritt', 'Genauigkeit', 'und ± Schritte', 'Höchster Wert'], sign: 'Dezimalzeichen',
    take: (text) => `${text} Ω übernehmen`, typed: 'getippt',
  },
};

/** From the list to the step where a meter is chosen. `see` is told the name of each screen on the way. */
async function toTheMeter(person, words, see) {
  await person.read(words.practise);
  await see('no-job-yet');
  await person.press(words.practise);
  await person.read(words.notReplace);
  await see('before-you-begin');
  await person.press(words.haveRead);
  await person.read(words.which);
  await see('which-part');
  await person.press(words.coil);
  await person.key(words.isPart).waitFor();
  await see('the-part');
  await person.press(words.isPart);
  await person.key(words.look).waitFor();
  await see('no-meter-yet');
}

/** From the list to the screen that asks for the first clip of the practice meter. */
export async function toMeasuring(person, words, see = async () => {}) {
  await toTheMeter(person, words, see);
  await person.press(words.look);
  await person.key(words.practiceMeter).waitFor();
  await see('meters-found');
  await person.press(words.practiceMeter);
  await person.read(words.follows);
  await see('the-meter');
  await person.press(words.use);
  await person.read(words.never);
  await see('before-the-clips');
  await person.press(words.haveRead);
  await person.page.getByRole('heading', { name: words.clip }).waitFor();
}

/** What the measuring screen says has been taken, and which conductor it asks for. */
export async function shown(person, words) {
  return person.page.evaluate(
    ([count, clip]) => ({
      taken: Number(new RegExp(count).exec(document.body.innerText)?.[1] ?? -1),
      asked: [...document.querySelectorAll('h3')].map((of) => new RegExp(clip).exec(of.textContent)?.[1]).find(Boolean) ?? null,
      touches: [...document.querySelectorAll('tr[data-conductor] li.digits')].map((of) => of.textContent.trim()),
      live: document.querySelectorAll('section.live.fresh, svg.numerals, header .number').length,
    }),
    [words.count.source, words.clip.source],
  );
}

/** Waits until so many touches are shown as taken. */
export async function untilTaken(person, words, wanted) {
  await person.wait(
    ([count, wanted]) => Number(new RegExp(count).exec(document.body.innerText)?.[1] ?? -1) >= wanted,
    [words.count.source, wanted],
    TABLE_MS,
  );
}

async function assertVerdict(person, words) {
  const headline = await person.read(words.tooHigh);
  await person.read(words.wide);
  // The three that make the eye find it: the word, the mark's shape, the place out of the band.
  const rung = await person.page.evaluate(() => {
    const drawn = document.querySelector('.ladder');
    const ticks = [...drawn.querySelectorAll('.scale span')].map((of) => Number(of.textContent.replace(',', '.')));
    return { ticks, text: drawn.innerText };
  });
  assert.ok(rung.ticks.length >= 3, `an axis has at least three ticks: ${rung.ticks}`);
  const ratios = rung.ticks.slice(1).map((tick, at) => tick / rung.ticks[at]);
  assert.ok(Math.min(...ratios) > 1.5, `each tick of a logarithmic axis multiplies: ${rung.ticks}`);
  return headline;
}

/** Before the first touch the clips go on each other; the conductors come back by themselves. */
async function zeroTheLeads(person, words) {
  // The practice hands do not wait for a slow browser. With the first touch the key stands where its row is unfolded.
  await person.key(words.zero).click({ timeout: HANDS_MS }).catch(async () => {
    await person.page.locator('[data-place="zero"] summary').click();
    await person.press(words.zero);
  });
  await person.read(words.zeroed);
  await person.page.getByRole('heading', { name: words.clip }).waitFor();
}

/** From measuring to the list, with a verdict given. */
async function toTheVerdictAndBack(person, words) {
  await person.read(words.all, TABLE_MS);
  await person.press(words.judge);
  await person.read(words.condemned);
  await person.press(words.finish);
  await person.read(words.closed);
  await person.press(words.back);
}

/** A loose part at the counter: from the list to its first clip in two touches, with the old part behind it. */
export async function candidate(person, words) {
  await toMeasuring(person, words);
  await toTheVerdictAndBack(person, words);
  await person.press(words.candidate);
  for (const caution of [words.notReplace, words.never, words.used]) await person.read(caution);
  assert.equal(await person.key(words.haveRead).or(person.key(READ_ON)).count(), 1, 'one key for all cautions');
  await person.look('candidate-cautions');
  await person.press(words.haveRead);
  await person.page.getByRole('heading', { name: words.clip }).waitFor();
  await person.read(words.zeroFirst);
  await untilTaken(person, words, 4);
  await person.read(words.old);
  assert.ok((await person.page.locator('.rail .old').count()) >= 2, 'the old part stands behind the new one');
  await person.look('candidate');
}

/** What a meter without radio shows is typed with the keypad, with the comma of the language. */
export async function typedJob(person, words) {
  await toTheMeter(person, words, async () => {});
  await person.press(words.noRadio);
  await person.look('meter-without-radio');
  const said = ['belt pouch', '0,01', '0,8', '3', '600'];
  for (const [at, label] of words.spec.entries()) await person.write(label, said[at]);
  await person.press(words.use);
  await person.read(words.never);
  await person.press(words.haveRead);
  await person.read(words.byEye);
  await person.page.getByRole('heading', { name: words.clip }).waitFor();
  await person.look('nothing-typed');
  for (let touch = 1; touch <= 16; touch += 1) {
    await typeReading(person, words, touch);
    if (touch === 2) await person.look('two-typed');
  }
  await person.press(words.judge);
  await person.read(words.condemned);
  await assertVerdict(person, words);
  await person.look('typed-verdict');
}

/** Types what the meter shows on whichever conductor is asked for; conductor 4 reads far off. */
async function typeReading(person, words, touch) {
  const { asked } = await shown(person, words);
  const digits = asked === '4' ? '12,31' : touch % 2 ? '0,35' : '0,36';
  for (const sign of digits) await person.page.getByRole('button', { name: sign === ',' ? words.sign : sign, exact: true }).click();
  const read = digits.replace(',', '.');
  if (touch === 3) await person.look('read-back');
  await person.press(words.take(read));
  await untilTaken(person, words, touch);
  const taken = person.page.locator('tr[data-conductor]').nth(Number(asked) - 1).locator('li.digits').last();
  assert.match((await taken.textContent()).replace(/\s+/g, ' ').trim(), new RegExp(`^${read} ${words.typed}$`), 'it stands there as typed');
}

/** A whole practice job, as a person at the bench would do it by what the screens say. */
export async function practiceJob(person, words) {
  const see = (name) => person.look(name);
  await toMeasuring(person, words, see);
  await zeroTheLeads(person, words);
  await untilTaken(person, words, 3);
  await see('measuring');
  await person.read(words.all, TABLE_MS);
  await see('all-taken');
  await person.press(words.zeroAgain);
  await person.read(words.drift);
  await see('zero-at-the-end');
  await person.press(words.judge);
  await person.read(words.condemned);
  const headline = await assertVerdict(person, words);
  await person.read(words.practice);
  await person.read(words.zeroedWith);
  await see('verdict');
  await person.press(words.finish);
  await person.read(words.closed);
  await see('closed');
  await person.press(words.back);
  const line = person.page.getByRole('listitem').filter({ hasText: words.condemned }).first();
  await line.waitFor();
  await see('in-the-list');
  await line.getByRole('button').first().click();
  await person.read(words.closed);
  const kept = await person.read(words.tooHigh);
  assert.equal(kept, headline, 'opened again, the job says the verdict it was given');
  await assertVerdict(person, words);
  await see('opened-again');
}
