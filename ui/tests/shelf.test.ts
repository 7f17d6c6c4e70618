import { fireEvent, screen, waitFor } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import { cards } from '../src/fixtures/cards';
import * as views from '../src/fixtures/views';
import * as works from '../src/fixtures/work';
import { said } from '../src/frame/said.svelte';
import type { BenchView } from '../src/generated/BenchView';
import type { View } from '../src/generated/View';
import { speech, tongues } from '../src/words/speech.svelte';
import { awaited, key, press } from './keys';
import { job, shown, wishes } from './worked';

const words = tongues.en.shelf;
const home: View = { ...views.measuring, bench: null };

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

it('lists only jobs with something open when asked to', async () => {
  const { backend } = shown(home);
  await fireEvent.click(await screen.findByLabelText(words.openOnly));
  await waitFor(() => expect(backend.asked.at(-1)).toEqual({ ask: 'jobs', search: '', open: true, skip: 0, limit: 30 }));
});

describe('the shop', () => {
  it('is shown as it is kept and kept with its logo left alone', async () => {
    const page = shown(home);
    page.backend.shop = { name: 'Lötauge & Sohn', address: 'Kabelgasse 4', phone: '', logo: 'iVBORw0K' };
    await press(words.shop.key);
    const name = (await screen.findByLabelText(words.shop.name)) as HTMLInputElement;
    await waitFor(() => expect(name.value).toBe('Lötauge & Sohn'));
    await fireEvent.input(screen.getByLabelText(words.shop.phone), { target: { value: '0000 1' } });
    await press(words.shop.keep);
    const shop = { name: 'Lötauge & Sohn', address: 'Kabelgasse 4', phone: '0000 1', logo: '' };
    await waitFor(() => expect(wishes(page.backend)).toEqual([{ wish: 'describe-shop', shop, logo: 'keep' }]));
    await screen.findByText(words.shop.kept);
    await press(words.shop.awayWithLogo);
    await waitFor(() => expect(screen.queryByAltText(words.shop.logo)).toBeNull());
    await press(words.shop.keep);
    const away = { wish: 'describe-shop', shop: { logo: '' }, logo: 'change' };
    await waitFor(() => expect(wishes(page.backend).at(-1)).toMatchObject(away));
  });

  it('is kept without a file that is no picture, and the file says so where it was chosen', async () => {
    const { backend } = shown(home);
    backend.shop = { name: 'Lötauge & Sohn', address: '', phone: '', logo: 'iVBORw0K' };
    await press(words.shop.key);
    const old = ((await screen.findByAltText(words.shop.logo)) as HTMLImageElement).src;
    const logo = () => screen.getByAltText(words.shop.logo) as HTMLImageElement;
    const phone = screen.getByLabelText(words.shop.phone) as HTMLInputElement;
    await fireEvent.input(phone, { target: { value: '0000 1' } });
    const file = new File([new Uint8Array([255, 216, 255])], 'logo.jpg');
    const choose = (of = file) => fireEvent.change(screen.getByLabelText(words.shop.chooseLogo), { target: { files: [of] } });

    // There is nothing in it.
    await choose(new File([], 'empty.png'));
    await screen.findByText(words.shop.noLogo);
    expect(logo().src).toBe(old);

    // The browser cannot draw it.
    await choose();
    await waitFor(() => expect(logo().src).not.toBe(old));
    await fireEvent.error(logo());
    expect(screen.getByText(words.shop.noLogo)).toBeTruthy();
    expect(logo().src).toBe(old);
    expect(screen.queryByText(words.shop.logoChosen)).toBeNull();

    // It can, and the program takes it for none all the same.
    await choose();
    await waitFor(() => expect(logo().src).not.toBe(old));
    expect(screen.queryByText(words.shop.noLogo)).toBeNull();
    const notice = { code: 'no-photo', words: 'No picture.', remedy: 'Choose another.' };
    backend.answers.push({ reply: 'refused', refusal: { code: 'no-photo' }, notice });
    await press(words.shop.keep);
    await waitFor(() => expect(document.activeElement?.textContent).toBe(words.shop.noLogo));
    expect(screen.queryByText(/No picture\./)).toBeNull();
    expect(screen.queryByText(words.shop.kept)).toBeNull();
    expect([logo().src, phone.value]).toEqual([old, '0000 1']);

    await press(words.shop.keep);
    const kept = { wish: 'describe-shop', shop: { name: 'Lötauge & Sohn', phone: '0000 1', logo: '' }, logo: 'keep' };
    await waitFor(() => expect(wishes(backend).at(-1)).toMatchObject(kept));
    await screen.findByText(words.shop.kept);
    expect(screen.queryByText(words.shop.noLogo)).toBeNull();
  });

  it('erases what is old after it was shown of how many, and never without a yes', async () => {
    const { backend } = shown(home);
    await press(words.shop.key);
    await fireEvent.input(await screen.findByLabelText(words.erase.months), { target: { value: '36' } });
    await press(words.erase.look);
    await press((await awaited(words.erase.oldKey)).textContent ?? '');
    await screen.findByText('Jobs opened before 2024-11-26: 3.');
    expect(wishes(backend)).toEqual([]);
    await press(words.erase.yes);
    expect(wishes(backend)).toEqual([{ wish: 'erase-older', months: 36 }]);
    await screen.findByText(words.erase.done);
  });
});

it('says where the key lies, and keeps a copy of the whole record where the program puts it', async () => {
  const { backend } = shown(home);
  await press(words.shop.key);
  await screen.findByText(home.key);
  backend.answers.push({ reply: 'paper', name: 'evenwire-records.db', file: '', kept: 'Documents/evenwire-records.db' });
  await press(words.record.copy);
  await screen.findByText(tongues.en.report.kept('Documents/evenwire-records.db'));
  expect(backend.asked.at(-1)).toEqual({ ask: 'back-up' });
});

describe('a closed job', () => {
  const closed = (erasing: BenchView['erasing']): View => {
    const done = cards('en')['done'] as View;
    return { ...done, bench: { ...(done.bench as BenchView), erasing } };
  };

  it('is erased after what goes was said, and a yes', async () => {
    const { backend } = shown(closed({ words: 'The customer goes for ever.', done: '' }));
    await press(words.erase.key);
    await screen.findByText('The customer goes for ever.');
    expect(wishes(backend)).toEqual([]);
    await press(words.erase.yes);
    expect(wishes(backend)).toEqual([{ wish: 'erase-details', job }]);
  });

  it('says that it was erased and offers it no more', () => {
    shown(closed({ words: '', done: 'Details were erased: 2026-11-26.' }));
    expect(screen.getByText('Details were erased: 2026-11-26.')).toBeTruthy();
    expect(key(words.erase.key)).toBeNull();
  });
});

describe('a photo', () => {
  const file = () => new File([new Uint8Array([255, 216, 255])], 'x.png', { type: 'image/png' });
  const kept = (backend: ReturnType<typeof shown>['backend']) => backend.asked.filter((ask) => ask.ask === 'keep-photo').length;

  it('is taken when it is dropped or pasted, and nothing else is', async () => {
    const { backend, container } = shown(works.workBag);
    const place = container.querySelector('.photos') as HTMLElement;
    await fireEvent.drop(place, { dataTransfer: { files: [new File(['x'], 'x.txt', { type: 'text/plain' })] } });
    expect(kept(backend)).toBe(0);
    await fireEvent.drop(place, { dataTransfer: { files: [file()] } });
    await waitFor(() => expect(kept(backend)).toBe(1));
    await waitFor(() => expect(screen.queryByText(tongues.en.work.photo.sending)).toBeNull());
    await fireEvent.paste(window, { clipboardData: { files: [file(), file()] } });
    await waitFor(() => expect(kept(backend)).toBe(3));
  });
});
