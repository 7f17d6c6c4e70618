import { AxeBuilder } from '@axe-core/playwright';
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';

/** Stands in place of the main key while a caution ends below what can be seen. */
export const READ_ON = /^(Read on|Weiterlesen)$/;
/** How long anything may take to show on the page. */
export const PATIENCE_MS = 20_000;
/** How long a whole table may take to fill itself on a busy machine. */
export const TABLE_MS = 120_000;
/** The narrowest page that nothing may stick out of. */
const NARROW = 320;
/** The phone of the stories, and how high the bar at its bottom may be, in pixels. */
const PHONE = 390;
const MOST_STUB = 164;
const SHOTS = process.env.EVENWIRE_SHOTS;

/** Texts that show that something else than words reached the page. In German "null" is a word: zero. */
const NO_WORDS = { en: /undefined|\[object|\bnull\b|\bNaN\b/, de: /undefined|\[object|\bNaN\b/ };
/** Words that every longer sentence of the other language holds at least one of. */
const FOREIGN = {
  en: /\b(?:und|nicht|oder|wird|keine?|eine[mnrs]?|mit|auf|ist)\b/i,
  de: /\b(?:the|and|not|or|with|this|which|its|off|again|hold|read|take|first)\b/i,
};

/** Somebody in front of the page, who sees, presses, types and reads. Every wait has an end. */
export class Person {
  /** Sentences on the console that the story has a reason for. */
  expected = [];
  language = 'en';
  #complaints = [];
  #seen = 0;
  /** The name of the screen looked at last. */
  last = 'none';

  constructor(page, story) {
    this.page = page;
    this.story = story;
    page.setDefaultTimeout(PATIENCE_MS);
    page.on('pageerror', (error) => this.#complaints.push(`thrown: ${error.message}`));
    page.on('console', (said) => {
      if (said.type() === 'error' || said.type() === 'warning') this.#complaints.push(`console: ${said.text()} ${said.location().url}`);
    });
  }

  async open(address) {
    await this.page.goto(address);
  }

  key(words) {
    return this.page.getByRole('button', { name: words }).filter({ visible: true }).first();
  }

  /** Presses the key with these words, once it is there and nothing lies over it; reads cautions to their end before. */
  async press(words) {
    const [key, on] = [this.key(words), this.key(READ_ON)];
    await key.or(on).first().waitFor();
    while (!(await key.isVisible()) && (await on.isVisible())) await on.click();
    await key.click();
  }

  async write(label, text) {
    await this.page.getByLabel(label).filter({ visible: true }).first().fill(text);
  }

  async choose(label, option, nth = 0) {
    await this.page.getByLabel(label).filter({ visible: true }).nth(nth).selectOption({ label: option });
  }

  /** Waits until these words are on the screen, and gives the whole text they stand in. */
  async read(words, patience = PATIENCE_MS) {
    const found = this.page.getByText(words).filter({ visible: true }).first();
    await found.waitFor({ timeout: patience });
    return (await found.innerText()).trim();
  }

  /** Waits until `what`, asked in the page again and again, is true; gives what it gave. */
  async wait(what, given, patience = PATIENCE_MS) {
    const handle = await this.page.waitForFunction(what, given, { timeout: patience, polling: 'raf' });
    return handle.jsonValue();
  }

  async text() {
    return this.page.locator('body').innerText();
  }

  /** What must hold on every screen, looked at now; and a picture of it where pictures are wanted. */
  async look(name) {
    this.#seen += 1;
    this.last = name;
    await this.picture(`${String(this.#seen).padStart(2, '0')}-${name}`);
    await this.#words(name);
    await this.#width(name);
    await this.#product(name);
    await this.#stub(name);
    await this.#axe(name);
    this.quiet(name);
  }

  async picture(name) {
    if (!SHOTS) return;
    await mkdir(SHOTS, { recursive: true });
    await this.page.screenshot({ path: join(SHOTS, `${this.story}-${name}.png`), animations: 'disabled' });
  }

  /** The console has nothing on it but what was expected. */
  quiet(name) {
    const loud = this.#complaints.filter((said) => !this.expected.some((known) => known.test(said)));
    if (loud.length > 0) throw new Error(`${name}: the page complains: ${loud.join('; ')}`);
  }

  async #words(name) {
    // What a screen reader says counts as well as what is seen.
    const said = await this.page.evaluate(() => {
      const labels = [...document.querySelectorAll('[aria-label], [title], [aria-valuetext], [placeholder]')];
      const unseen = labels.flatMap((of) => ['aria-label', 'title', 'aria-valuetext', 'placeholder'].map((at) => of.getAttribute(at) ?? ''));
      return [document.title, document.body.innerText, document.body.textContent, ...unseen].join('\n');
    });
    for (const bad of [NO_WORDS[this.language], FOREIGN[this.language]]) {
      const found = bad.exec(said);
      if (!found) continue;
      const around = said.slice(Math.max(0, found.index - 60), found.index + 60).replace(/\s+/g, ' ');
      throw new Error(`${name}: "${found[0]}" stands on the page: …${around}…`);
    }
  }

  async #width(name) {
    const own = this.page.viewportSize();
    const scrolled = await this.page.evaluate(() => window.scrollY);
    for (const width of [own.width, NARROW]) {
      await this.page.setViewportSize({ width, height: own.height });
      const sticking = await this.page.evaluate(async () => {
        // A browser that draws nothing for a while tells no frame.
        const frame = () => Promise.race([new Promise(requestAnimationFrame), new Promise((over) => setTimeout(over, 500))]);
        for (let drawn = 0; drawn < 2; drawn += 1) await frame();
        const room = document.documentElement.clientWidth;
        if (document.documentElement.scrollWidth <= room) return null;
        const seen = [...document.body.querySelectorAll('*')].filter((of) => of.checkVisibility({ visibilityProperty: true }));
        const wide = seen.filter((of) => of.getBoundingClientRect().right > room + 0.5);
        const names = wide.slice(0, 8).map((of) => `${of.tagName}.${of.getAttribute('class')} "${of.textContent.trim().slice(0, 40)}"`);
        return `${names.join(', ') || 'something unseen'} (${document.documentElement.scrollWidth} of ${room})`;
      });
      if (sticking) throw new Error(`${name}: at ${width} pixels wide the page scrolls sideways; out of it sticks ${sticking}`);
    }
    await this.page.setViewportSize(own);
    await this.page.evaluate((y) => window.scrollTo(0, y), scrolled);
  }

  /** The name of the product stands in one piece wherever it stands. */
  async #product(name) {
    const torn = await this.page.evaluate((product) => {
      const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      for (let text = texts.nextNode(); text; text = texts.nextNode()) {
        const at = text.data.indexOf(product);
        if (at < 0) continue;
        const range = document.createRange();
        range.setStart(text, at);
        range.setEnd(text, at + product.length);
        const lines = new Set([...range.getClientRects()].map(({ top }) => Math.round(top)));
        if (lines.size > 1) return text.data.trim().slice(0, 60);
      }
      return null;
    }, 'Evenwire');
    if (torn) throw new Error(`${name}: the name of the product is torn in "${torn}"`);
  }

  /** The bar at the bottom leaves four fifths of a phone to read. */
  async #stub(name) {
    if (this.page.viewportSize().width !== PHONE) return;
    const height = await this.page.evaluate(() => document.querySelector('div.stub')?.getBoundingClientRect().height ?? 0);
    if (height > MOST_STUB) throw new Error(`${name}: the bar at the bottom is ${height} pixels high`);
  }

  async #axe(name) {
    const { violations } = await new AxeBuilder({ page: this.page }).setLegacyMode(true).analyze();
    const grave = violations.filter(({ impact }) => impact === 'serious' || impact === 'critical');
    if (grave.length === 0) return;
    const words = grave.map(({ id, help, nodes }) => `${id} (${help}) at ${nodes.map((node) => node.target.join(' ')).join(', ')}`);
    throw new Error(`${name}: axe finds ${words.join('; ')}`);
  }
}
