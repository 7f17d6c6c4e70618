import assert from 'node:assert/strict';
import { TABLE_MS } from './person.mjs';

/** The part that comes with the program and breaks there, in turns from the centre, and how far the trace may be off. */
const BREAK = { conductor: '3', at: 0.64, off: 0.35 };
/** The travel drawn: two turns to either side. */
const TURNS = 2;

/** Alike at rest, condemned by the sweep, with the break drawn where it is. */
export async function badOnlyWhileTurning(person, words) {
  await person.press(words.practise);
  await person.press(words.haveRead);
  await person.press(/bad only while turning/);
  await person.press(words.isPart);
  await person.press(words.look);
  await person.press(words.practiceMeter);
  await person.read(words.follows);
  // The step of the display is known once a number was shown.
  await person.read(/0\.2\d/);
  await person.press(words.use);
  await person.press(words.haveRead);
  await person.read(words.all, TABLE_MS);
  await person.press(words.judge);
  await person.read('Alike at rest. Not yet proved turning.');
  await person.look('alike-at-rest');
  await person.page.locator('summary', { hasText: 'Sweeps' }).click();
  await person.press(`Sweep conductor ${BREAK.conductor}`);
  await person.read('Do not turn a steering coil past its end');
  await person.look('before-turning');
  await person.press(words.haveRead);
  await person.read('Turn slowly and evenly.');
  await person.look('turning');
  await person.read(/no longer counts/, TABLE_MS);
  const row = person.page.locator('[data-sweep-row]').filter({ hasText: 'drops out while moved' });
  if (!(await row.isVisible())) await person.page.locator('summary', { hasText: 'Sweeps' }).click();
  await row.waitFor();
  await row.locator('summary, button', { hasText: /^Sweep 1/ }).first().click();
  await person.page.locator('span[data-place]').nth(1).waitFor();
  await person.look('the-trace');
  const places = await person.page.evaluate(() =>
    [...document.querySelectorAll('span[data-place]')].map((of) => Number.parseFloat(of.style.left)),
  );
  assert.ok(places.length >= 2, `the break was passed on the way out and back: ${places}`);
  for (const place of places) {
    const turns = (place / 100) * 2 * TURNS - TURNS;
    assert.ok(Math.abs(turns - BREAK.at) <= BREAK.off, `the break is drawn at ${turns} turns: ${places}`);
  }
  await person.press('Judge again');
  await person.read(words.condemned);
  await person.read(new RegExp(`Conductor ${BREAK.conductor} jumps or drops out while moving`));
  await person.look('condemned-by-turning');
}
