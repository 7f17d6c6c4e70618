import assert from 'node:assert/strict';
import { shown, toMeasuring, untilTaken } from './job.mjs';
import { TABLE_MS } from './person.mjs';

/** Of each conductor so many touches are taken before the next is asked for. */
const TOUCHES = 2;

const ABOUT = /^You were about to measure conductor (\d+)\./;

export const NOT_REACHED = [/ERR_CONNECTION_REFUSED/, /ERR_EMPTY_RESPONSE/, /ERR_CONNECTION_RESET/, /WebSocket connection/];
export const KEY_REFUSED = [/Unexpected response code: 403/, /status of 403/];

/** The program is gone in the middle of measuring and comes back: nothing live meanwhile, nothing lost after. */
export async function killedWhileMeasuring(person, words, program) {
  await toMeasuring(person, words);
  await untilTaken(person, words, 3);
  person.expected.push(...NOT_REACHED, ...KEY_REFUSED);
  await program.kill();
  await person.read(words.silent);
  const before = await shown(person, words);
  assert.equal(before.live, 0, 'no live number stands on the screen while the program is away');
  assert.ok(before.asked !== null && before.taken >= 3, `what was shown stays: ${JSON.stringify(before)}`);
  await person.look('program-away');

  // Started again it has a new key; the page left open says by itself that it has the old one.
  await program.again();
  await person.read('does not hold the key');
  assert.equal((await shown(person, words)).live, 0, 'a page without its key shows no live number');
  await person.look('key-too-old');

  await person.open(program.address);
  const line = await person.read(/^Measuring: \d+ of 16 touches\./);
  await person.press(/^Practice/);
  const asked = ABOUT.exec(await person.read(ABOUT))?.[1];
  const after = await shown(person, words);
  // One more may have been written down in the moment before the end, and be seen only now.
  assert.ok(after.taken - before.taken <= 1, `no touch comes out of nothing: ${after.taken}, ${before.taken} before`);
  assert.deepEqual(after.touches.slice(0, before.taken), before.touches, 'the same touches');
  assert.match(line, new RegExp(`^Measuring: ${after.taken} of`));
  if (after.taken === before.taken) assert.equal(asked, before.asked, 'it is asked for what was asked for');
  assert.equal(after.live, 0, 'no meter is connected yet');
  await person.look('back-again');

  await person.press('Connect the meter');
  await person.press(words.practiceMeter);
  await person.press('Back to the open step');
  await untilTaken(person, words, after.taken + 1);
  const later = await shown(person, words);
  assert.deepEqual(later.touches.slice(0, after.taken), after.touches, 'what was taken before stays in its place');
}

/** A touch is taken back: struck through, not counted, and the same conductor is asked for again. */
export async function takenBack(person, words) {
  await toMeasuring(person, words);
  await untilTaken(person, words, 2);
  // Read and pressed in one go, so that no touch that is taken in between changes what the key says.
  const before = await person.key(words.undo).evaluate((key) => {
    const taken = Number(/(\d+) of 16 touches/.exec(document.body.innerText)?.[1]);
    key.click();
    return { taken, says: key.textContent.trim() };
  });
  const [, digits, conductor] = /^Take back ([\d.]+) Ω on conductor (\d+)$/.exec(before.says) ?? [];
  assert.ok(conductor, `the key says what it takes back: ${before.says}`);
  const row = person.page.locator('tr[data-conductor]').filter({ has: person.page.getByText(conductor, { exact: true }) });
  const struck = row.locator('del').filter({ visible: true });
  await struck.waitFor();
  assert.equal(await struck.innerText(), digits);
  // The practice hands go on: what is counted and what stands is compared as it stood in one moment.
  const { taken, standing } = await person.page.evaluate(() => ({
    taken: Number(/(\d+) of 16 touches/.exec(document.body.innerText)?.[1]),
    standing: [...document.querySelectorAll('tr[data-conductor] li.digits:not(.undone)')].length,
  }));
  assert.equal(taken, standing, 'it is not counted any more');
  await person.look('taken-back');
  // It is measured again on the same conductor.
  const own = before.taken % TOUCHES || TOUCHES;
  await row.locator('li.digits:not(.undone)').nth(own - 1).waitFor({ timeout: TABLE_MS });
  assert.equal(await struck.innerText(), digits, 'it stays there, struck through');
}

/** A part with an end that must not or may not be known to be safe is refused with the reason. */
export async function unsafePart(person, words) {
  await person.press(words.newJob);
  await person.write(words.order, 'Bench 17');
  await person.look('new-job');
  await person.press(words.open);
  await person.press(words.haveRead);
  await person.press('Describe another part');
  await person.write('What is it?', 'Steering coil, unknown plug');
  await person.write('Cavities', '2');
  await person.page.getByLabel('Cavities').nth(1).fill('2');
  await person.press('Fill in one conductor per cavity, straight through');
  await person.read('It is not known what is at this end.');
  await person.press(words.isPart);
  await person.read('The part cannot be measured as described.');
  await person.look('end-not-known');
  await person.choose('On this connector hangs', 'nothing, plug is apart', 0);
  await person.choose('On this connector hangs', 'airbag inflator', 1);
  await person.read('This conductor leads to an airbag inflator. It is never measured.');
  await person.press(words.isPart);
  await person.read('The part cannot be measured as described.');
  await person.look('end-is-an-inflator');
  assert.equal(await person.key(words.look).count(), 0, 'the job does not go on to the meter');
  await person.choose('On this connector hangs', 'nothing, plug is apart', 1);
  await person.wait(() => !document.body.innerText.includes('airbag inflator. It is never'));
  await person.press(words.isPart);
  await person.key(words.look).waitFor();
}

/** Without the right key the page is let in nowhere, and says so. */
export async function wrongKey(person, words, program) {
  const address = new URL(program.address);
  address.searchParams.set('token', '0'.repeat(32));
  person.expected.push(...KEY_REFUSED);
  const refused = person.page.waitForResponse((of) => of.url().includes('/socket') && of.status() === 403);
  await person.open(address.href);
  await refused;
  await person.read('This address does not hold the key');
  assert.equal(await person.page.getByRole('button').count(), 0, 'there is nothing to press');
  await person.look('wrong-key');
}
