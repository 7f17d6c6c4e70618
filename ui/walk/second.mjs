import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { OWNER } from './office.mjs';
import { drawn } from './procedure.mjs';

/** The built-in procedure for a steering coil; here its first step is signed by a second person. */
const FILE = new URL('../../core/src/procedure/builtin/steering-coil.toml', import.meta.url);
const OWN = 'own-coil';
/** How long a device may take to bring what it has, or to fetch what is for it. */
const BRINGING_MS = 60_000;

/** Wishes to the device's program over a line of its own, one after the other. JOB is the job on the bench, PERSON whoever is on the roster. */
async function wishes(device, steps) {
  await device.page.evaluate(async ([all, patience]) => {
    const token = new URLSearchParams(location.search).get('token') ?? '';
    const socket = new WebSocket(`ws://${location.host}/socket?token=${token}`);
    let view = null;
    let looks = () => {};
    const replies = new Map();
    socket.onmessage = ({ data }) => {
      const heard = JSON.parse(data);
      if (heard.pushed?.view) view = heard.pushed.view;
      else if (heard.reply) replies.get(heard.id)?.(heard.reply);
      looks();
    };
    /** What `of` finds in what is shown, once it is there. */
    const shown = (of) =>
      new Promise((found) => {
        looks = () => {
          const it = view && of(view);
          if (it) found(it);
        };
        looks();
      });
    await shown((it) => it);
    // A line that ends answers nothing any more.
    const ended = new Promise((_, gone) => {
      socket.onclose = socket.onerror = () => gone(new Error('the line to the program ended'));
      setTimeout(() => gone(new Error('the program answers no wish')), patience);
    });
    ended.catch(() => {});
    let id = 0;
    for (const ask of all) {
      let text = JSON.stringify(ask);
      if (text.includes('"JOB"')) text = text.replaceAll('JOB', await shown((it) => it.bench?.job));
      if (text.includes('"PERSON"')) text = text.replaceAll('PERSON', await shown((it) => it.people[0]?.person));
      const filled = JSON.parse(text);
      const answered = new Promise((answer) => {
        id += 1;
        replies.set(id, answer);
        socket.send(JSON.stringify({ id, ask: filled }));
      });
      const reply = await Promise.race([answered, ended]);
      if (reply.reply !== 'done') throw new Error(`${JSON.stringify(ask)}: ${JSON.stringify(reply)}`);
    }
    socket.close();
  }, [steps, BRINGING_MS]);
}

const wish = (command) => ({ ask: 'do', command });

/** Somebody works alone at the device: a job whose first step waits for a second person. */
export async function worksAlone(device) {
  const text = (await readFile(FILE, 'utf8'))
    .replace('id = "orrin-3-steering-coil"', `id = "${OWN}"`)
    .replace('id = "identify"\n', 'id = "identify"\nsign_off = "second"\n');
  const details = { customer: '', phone: '', plate: '', vin: '', technician: '', complaint: '' };
  const at = (act) => wish({ wish: 'at-step', job: 'JOB', step: 'identify', act });
  await wishes(device, [
    wish({ wish: 'add-person', name: 'Jakob Specht', pin: '4711', role: '' }),
    wish({ wish: 'keep-procedure', text }),
    wish({ wish: 'new-job', order: 'W-2041', vehicle: 'Orrin 3', details }),
    wish({ wish: 'begin-procedure', procedure: OWN, technician: 'PERSON', pin: '4711' }),
    at({ act: 'begin' }),
    { ask: 'keep-photo', job: 'JOB', step: 'identify', picture: await drawn(device) },
    at({ act: 'done', words: 'OK: W-2041', entry: { entry: 'tick' } }),
    { ask: 'send-to-shop' },
  ]);
}

/** The step is looked at and signed in the office; the device has it, and the office hears so. */
export async function signsSecond(person, words, device) {
  await worksAlone(device);
  const today = () => person.page.getByRole('link', { name: words.today, exact: true }).click();
  const record = async () => {
    await person.page.getByRole('link', { name: /W-2041/ }).first().click();
    await person.page.getByRole('article').waitFor();
  };
  await today();
  // The page looks again by itself.
  await person.page.getByRole('link', { name: /W-2041/ }).filter({ hasText: words.missing }).first().waitFor({ timeout: BRINGING_MS });
  await record();
  await person.read(words.second);
  await person.page.getByRole('region', { name: words.second }).getByRole('img').waitFor();
  await person.look('waits-for-a-second');
  await person.write(words.again, 'brass kettle');
  await person.press(words.sign);
  await person.read(words.wrong);
  await person.write(words.again, OWNER.password);
  await person.press(words.sign);
  await person.read(words.under);
  await person.read(words.counts);
  assert.equal(await person.key(words.sign).count(), 0, 'nobody signs it twice');
  await person.look('signed-and-sent');
  await wishes(device, [{ ask: 'send-to-shop' }]);
  await today();
  await person.page.getByRole('link', { name: /W-2041/ }).filter({ hasText: words.open }).first().waitFor({ timeout: BRINGING_MS });
  await record();
  await person.page.getByText(words.behind).click();
  await person.read(words.stands);
  assert.equal(await person.page.getByRole('region', { name: words.second }).count(), 0);
  await person.look('the-device-has-it');
  await device.read(/Signed second by Toma Quell at the office\./);
  await device.look('signed-at-the-office');
}
