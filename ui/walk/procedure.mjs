import assert from 'node:assert/strict';
import { SAID } from './job.mjs';
import { READ_ON } from './person.mjs';
import { KEY_REFUSED, NOT_REACHED } from './trouble.mjs';

/** What a person looks for on the screens of a procedure, in both languages. */
export const WORK = {
  en: {
    follow: /^Follow this procedure: /, take: 'Take a photo', words: 'What you saw', wrench: 'The wrench',
    none: 'The scanner shows none', codes: 'Codes that are stored now', lampOff: /came on and went off/,
    turns: ['Turns from end to end', 'Turns free to the left', 'Turns free to the right'],
    number: 'The number on the part', from: 'Where it comes from', used: 'used', repaired: 'Repaired',
    sweepSo: 'Sweep like this', swept: /^(?:End the sweep|The sweep is done)/, over: /take over-range$/,
  },
  de: {
    follow: /^Diesem Ablauf folgen: /, take: 'Foto aufnehmen', words: 'Was du gesehen hast', wrench: 'Der Schlüssel',
    none: 'Das Diagnosegerät zeigt keine', codes: 'Codes, die jetzt gespeichert sind', lampOff: /ging an und wieder aus/,
    turns: ['Umdrehungen von Ende zu Ende', 'Freie Umdrehungen links', 'Freie Umdrehungen rechts'],
    number: 'Die Nummer auf dem Teil', from: 'Woher es kommt', used: 'gebraucht', repaired: 'Repariert',
    sweepSo: 'So bewegen', swept: /^(?:Bewegung beenden)/, over: /Überlauf übernehmen$/,
  },
};

/** How long a wait of a procedure may take: the longest published one, and room for a busy machine. */
const WAIT_MS = 330_000;
/** How long the readings of one step may take: fifteen touches or four sweeps, side by side with other stories. */
const STEP_MS = 360_000;

/** What stands open: the step, its state and what it asks for. */
export async function stands(person) {
  return person.page.evaluate(() => {
    const card = document.querySelector('[data-step]');
    const seen = (css) => card?.querySelector(css) !== null && card !== null;
    return {
      title: document.querySelector('.open h2')?.textContent?.trim() ?? '',
      step: card?.dataset.step ?? null,
      state: card?.dataset.state ?? null,
      main: document.querySelector('button.main')?.textContent?.trim() ?? '',
      aside: document.querySelector('[data-aside]')?.dataset.aside ?? null,
      asks: {
        photo: seen('.photos input') && !seen('.photos img'),
        words: seen('textarea') && !seen('[data-field="list"]'),
        dead: card?.querySelectorAll('ol input').length ?? 0,
        ticks: card?.querySelectorAll('input[type="checkbox"]').length ?? 0,
        wait: card?.querySelector('[data-wait]')?.dataset.wait ?? null,
        unread: card?.querySelectorAll('[data-read="false"]').length ?? 0,
      },
      text: card?.innerText ?? '',
    };
  });
}

/** A picture as a camera would give it: drawn in the page, so that nothing foreign is kept here. */
export function drawn(person) {
  return person.page.evaluate(() => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [1200, 900];
    const pen = canvas.getContext('2d');
    for (let stripe = 0; stripe < 12; stripe += 1) {
      pen.fillStyle = stripe % 2 ? '#454e57' : '#c9cdd0';
      pen.fillRect(stripe * 100, 0, 100, 900);
    }
    return canvas.toDataURL('image/jpeg', 0.8).split(',')[1];
  });
}

async function snapshot(person, words) {
  const jpeg = await drawn(person);
  const photo = { name: 'bench.jpg', mimeType: 'image/jpeg', buffer: Buffer.from(jpeg, 'base64') };
  await person.page.getByLabel(words.take).setInputFiles(photo);
  await person.page.locator('.photos img').first().waitFor();
}

/** Fills in what a begun step asks for, by what stands on it. `wanted` are the numbers this vehicle gives. */
async function fill(person, words, at, wanted) {
  const card = person.page.locator('[data-step]');
  if (at.asks.photo) await snapshot(person, words);
  if (at.asks.dead > 0) {
    const volts = card.locator('ol input');
    for (let nth = 0; nth < at.asks.dead; nth += 1) await volts.nth(nth).fill(nth === 0 || nth === at.asks.dead - 1 ? '12.6' : '0.01');
  }
  if (await card.getByLabel(words.codes).count()) {
    if (await card.getByLabel(words.lampOff).count()) {
      await card.getByLabel(words.none).check();
      await card.getByLabel(words.lampOff).check();
    } else if (at.step === 'before-scan') await card.getByLabel(words.codes).fill('B0001-13');
    else await card.getByLabel(words.none).check();
  }
  if (await card.getByLabel(words.turns[0]).count()) {
    for (const [nth, label] of words.turns.entries()) await card.getByLabel(label).fill(wanted.turns[nth]);
  }
  if (await card.getByLabel(words.wrench, { exact: true }).count()) {
    await card.getByLabel(words.wrench, { exact: true }).fill('bench wrench 2');
    for (const box of await card.getByRole('checkbox').all()) await box.check();
  }
  const values = card.locator('.values input');
  for (let nth = 0; nth < (await values.count()); nth += 1) await values.nth(nth).fill(wanted.values[at.step] ?? '0');
  if (await card.getByLabel(words.number).count()) {
    await card.getByLabel(words.number).fill('A-2207');
    await card.getByLabel(words.from).fill('shelf 3');
    for (const origin of await card.getByRole('radio').all()) if (!(await origin.isChecked())) await origin.check();
  }
  if (await card.locator('[data-outcome]').count()) await card.getByLabel(words.repaired, { exact: true }).check();
  const note = card.getByLabel(words.words);
  if (await note.count()) await note.fill('as it should be');
}

/** Hands the meter what the screen asks for, until the step itself is back. */
async function read(person, words, said) {
  const asked = [said.look, said.practiceMeter, said.use, READ_ON, said.haveRead, words.sweepSo, words.over];
  const until = Date.now() + STEP_MS;
  while ((await person.page.locator('[data-step]').count()) === 0) {
    assert.ok(Date.now() < until, `the readings of a step take too long: ${await person.text()}`);
    for (const key of asked) {
      if (await person.key(key).count()) await person.key(key).click({ timeout: 1_000 }).catch(() => {});
    }
    await person.page.waitForTimeout(100);
  }
}

/** Does the next thing that stands open: begins it, reads, fills in, confirms. Gives what stood there. */
export async function goOn(person, words, wanted) {
  const said = SAID[person.language];
  const at = await stands(person);
  if (at.step === null) await read(person, words, said);
  else if (at.state === 'blocked') await person.page.locator('[data-step] section li button').first().click();
  else if (at.state === 'to-begin' || at.asks.unread > 0) await person.press(at.main);
  else {
    assert.equal(at.state, 'begun', `${at.step}: ${at.text}`);
    if (at.asks.wait) await person.page.locator('[data-wait="over"]').waitFor({ timeout: WAIT_MS });
    await fill(person, words, at, wanted);
    await person.page.locator('button.main').click();
  }
  // The next thing stands there, or what was refused.
  await person.wait(
    (before) => {
      const card = document.querySelector('[data-step]');
      const unread = card?.querySelectorAll('[data-read="false"]').length ?? 0;
      return `${card?.dataset.step} ${card?.dataset.state} ${unread}` !== before || document.querySelector('[aria-invalid="true"], [data-marked], .sentence') !== null;
    },
    `${at.step ?? undefined} ${at.state ?? undefined} ${at.asks.unread}`,
  );
  return at;
}

/** What this vehicle gives at the steps that ask for a number: the middle of what is asked for. */
const GIVES = { turns: ['5', '2.5', '2.5'], values: { 'loop-before': '2.2', 'loop-after': '2.2', 'loop-steady': '2.2' } };
/** More steps than any procedure that comes with the program has things to press. */
const MOST = 400;

/**
 * Goes on until the job is closed, or the step `last` is to be begun, and looks at each step in each state once. What
 * pauses it is done before the step of that id.
 */
async function follow(person, words, pause, last) {
  const looked = new Set();
  const begun = [];
  for (let pressed = 0; pressed < MOST; pressed += 1) {
    if (await person.page.locator('.ended').count()) return begun;
    const at = await stands(person);
    if (at.step === last && at.state === 'to-begin') return begun;
    if (at.step === pause.before && at.state === 'to-begin' && !looked.has('pause')) {
      looked.add('pause');
      await pause.what();
      continue;
    }
    const screen = `${at.step ?? at.aside ?? 'meter'}-${at.state ?? 'reads'}`;
    if (!looked.has(screen)) {
      looked.add(screen);
      await person.look(screen);
    }
    if (at.state === 'to-begin') begun.push(at.step);
    await goOn(person, words, GIVES);
  }
  throw new Error(`the procedure does not come to its end: ${begun}`);
}

/** A procedure as a person works through it, the program killed before one step; to its end, or up to another. */
export function follows(title, pauseBefore, last = null) {
  return async (person, said, program) => {
    const words = WORK[person.language];
    await person.press(said.practise);
    await person.read(said.notReplace);
    await person.press(new RegExp(`${words.follow.source}${title}`));
    const killed = async () => {
      person.expected.push(...NOT_REACHED, ...KEY_REFUSED);
      const before = await stands(person);
      await program.kill();
      await person.read(said.silent);
      await program.again();
      await person.open(program.address);
      await person.page.getByRole('listitem').first().getByRole('button').first().click();
      await person.wait((step) => document.querySelector('[data-step]')?.dataset.step === step, before.step);
    };
    const begun = await follow(person, words, { before: pauseBefore, what: killed }, last);
    assert.ok(begun.includes(pauseBefore), `it was interrupted at ${pauseBefore}: ${begun}`);
    if (last !== null) return;
    await person.look('ended');
    assert.match(await person.page.locator('.ended').innerText(), new RegExp(`^${words.repaired}\\.`));
  };
}
