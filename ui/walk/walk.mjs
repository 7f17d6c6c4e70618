/**
 * Goes through the page in a browser as a person would, by what stands on the screens, against the program that
 * serves it. EVENWIRE_CLI names that program, EVENWIRE_HUB the one of the shop; EVENWIRE_SHOTS, if given, the folder for pictures. With words behind
 * it (`npm run walk -- undo`) only the stories whose names hold one of them are told; `whole` tells those of whole
 * procedures.
 */
import { chromium } from 'playwright-core';
import { handedOver } from './hand.mjs';
import { candidate, practiceJob, SAID, typedJob } from './job.mjs';
import { officeDay } from './office.mjs';
import { Person } from './person.mjs';
import { follows } from './procedure.mjs';
import { Program } from './program.mjs';
import { badOnlyWhileTurning } from './turning.mjs';
import { killedWhileMeasuring, takenBack, unsafePart, wrongKey } from './trouble.mjs';

const PHONE = { width: 390, height: 844 };
const WIDE = { width: 1280, height: 800 };
const TABLET = { width: 820, height: 1180 };
/** Per cent of life: hands are three times as quick; how long a contact has to stand still stays as it is. */
const SPEED = 300;
const MINUTE_MS = 60_000;
/** Stories told side by side. Most of each is waiting for contacts to stand still. */
const ABREAST = 4;
const BROWSER = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

// What waits as long as a vehicle wants it comes first: no clock is turned for it.
const stories = [
  { name: 'procedure', size: PHONE, tell: follows('Quillan', 'plugs-apart', 'measure-motor') },
  { name: 'office', size: WIDE, tell: officeDay },
  { name: 'office-german-tablet', size: TABLET, tell: officeDay },
  { name: 'job-phone', size: PHONE, tell: practiceJob },
  { name: 'job-wide', size: WIDE, tell: practiceJob },
  { name: 'job-german', size: PHONE, language: 'de', tell: practiceJob },
  { name: 'hand-phone', size: PHONE, tell: handedOver },
  { name: 'hand-wide', size: WIDE, language: 'de', tell: handedOver },
  { name: 'typed', size: PHONE, language: 'de', tell: typedJob },
  { name: 'candidate', size: PHONE, tell: candidate },
  { name: 'turning', size: PHONE, tell: badOnlyWhileTurning },
  { name: 'killed', size: PHONE, tell: killedWhileMeasuring },
  { name: 'undo', size: WIDE, tell: takenBack },
  { name: 'unsafe-part', size: PHONE, tell: unsafePart },
  { name: 'wrong-key', size: PHONE, tell: wrongKey },
];

/** Whole procedures with all their waits and sweeps, told only when they are asked for by name: 8 minutes and more. */
const whole = [
  { name: 'whole-coil', size: PHONE, tell: follows('Orrin 3', 'bag-off') },
  { name: 'whole-door', size: WIDE, language: 'de', tell: follows('Quillan', 'plugs-apart') },
  { name: 'whole-seat', size: PHONE, language: 'de', tell: follows('Sabrel 5', 'load-back') },
];

/** What the page itself is asked waits without an end where a browser is stuck: a story has one. */
async function within(ms, telling) {
  let timer;
  const over = new Promise((_, fail) => {
    timer = setTimeout(() => fail(new Error(`not told to its end in ${ms / 60_000} minutes`)), ms);
  });
  try {
    await Promise.race([telling, over]);
  } finally {
    clearTimeout(timer);
  }
}

async function tell(browser, story) {
  const begun = performance.now();
  const took = () => `${((performance.now() - begun) / 1000).toFixed(1)} s`;
  const program = await Program.start(SPEED);
  const page = await browser.newPage({ viewport: story.size, locale: 'en-GB', reducedMotion: 'reduce' });
  const person = new Person(page, story.name);
  try {
    if (story.tell !== wrongKey) await person.open(program.address);
    if (story.language === 'de') {
      await person.press(SAID.en.other);
      await person.read(SAID.de.practise);
      person.language = 'de';
    }
    await within(whole.includes(story) ? 45 * MINUTE_MS : 15 * MINUTE_MS, story.tell(person, SAID[person.language], program));
    person.quiet('the end');
    console.log(`ok     ${story.name} (${took()})`);
    return true;
  } catch (fault) {
    await person.picture('FAILED').catch(() => {});
    const text = await person.text().catch(() => '(the page is gone)');
    console.error(`FAILED ${story.name} (${took()}), the last screen looked at: ${person.last}`);
    console.error(`${fault.stack ?? fault}\nThe page says:\n${text.replace(/\n+/g, '\n').slice(0, 2_000)}\n`);
    return false;
  } finally {
    await page.close();
    await program.end();
  }
}

async function walk(wanted) {
  const named = ({ name }) => wanted.some((word) => name.includes(word));
  const chosen = wanted.length === 0 ? stories : [...stories, ...whole].filter(named);
  if (chosen.length === 0) throw new Error(`no story is called ${wanted.join(' or ')}`);
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: BROWSER });
  const waiting = [...chosen];
  const results = [];
  const next = async () => {
    for (let story = waiting.shift(); story; story = waiting.shift()) results.push(await tell(browser, story));
  };
  try {
    await Promise.all(Array.from({ length: ABREAST }, next));
  } finally {
    await browser.close();
  }
  const failed = results.filter((good) => !good).length;
  console.log(`The walk: ${results.length - failed} of ${chosen.length} stories told to their end.`);
  return failed === 0 && results.length === chosen.length;
}

const good = await walk(process.argv.slice(2));
process.exitCode = good ? 0 : 1;
