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
  await person.press(words.turningPart);
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
  await person.read('+ is clockwise from the centre, seen from the driver.');
  await person.read(/Stop a quarter turn short of its end/);
  await person.look('the-plan');
  await person.press('Sweep like this');
  await person.read('Do not turn a steering coil past its end');
  await person.look('before-turning');
  await person.press(words.haveRead);
  await person.read('Turn clockwise, slowly and evenly.');
  await inSight(person, 'h3', 'the instruction of a sweep');
  await person.look('turning');
  await person.page.getByText(`Conductor ${BREAK.conductor} breaks while turning; judge again.`).waitFor({ timeout: TABLE_MS });
  await person.read(/Longest drop-out, open, at \+0\.\d ± 0\.\d turns/);
  assert.doesNotMatch(await person.text(), /6 of 6 conductors read alike/, 'a break that stands is no pass');
  const row = person.page.locator('[data-sweep-row]').filter({ hasText: 'drops out while moved' });
  // The list stands as open as it was left, and where it was.
  await row.waitFor();
  await inSight(person, `[data-sweep-row="${Number(BREAK.conductor) - 1}"]`, 'the conductor that was swept');
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
  await person.press(words.finish);
  await person.read(words.closed);
  await person.page.locator('summary', { hasText: 'Sweeps' }).click();
  // Its trace stands as open as it was left.
  await person.page.locator('span[data-place]').nth(1).waitFor();
  assert.equal(await person.key(/Take back|Sweep conductor|Sweep again/).count(), 0, 'a closed job is only read');
  await person.look('closed-with-its-trace');
}

/** Nobody has to scroll for it: it stands between the top line and the stub. */
async function inSight(person, css, what) {
  await person.wait((css) => {
    const at = document.querySelector(css)?.getBoundingClientRect();
    const top = document.querySelector('header').getBoundingClientRect().bottom;
    const stub = document.querySelector('div.stub').getBoundingClientRect().top;
    return at && at.top >= top - 1 && at.bottom <= stub + 1;
  }, css).catch(() => {
    throw new Error(`${what} is not in sight`);
  });
}
