import { screen, waitFor } from '@testing-library/svelte';
import { beforeEach, expect, it, vi } from 'vitest';
import * as works from '../src/fixtures/work';
import { said } from '../src/frame/said.svelte';
import { speech, tongues } from '../src/words/speech.svelte';
import { press } from './keys';
import { job, shown } from './worked';

const words = tongues.en.report;

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

it('a report that was put into a folder is named with its place', async () => {
  const { backend } = shown(works.workEnded);
  backend.answers.push({ reply: 'paper', name: 'evenwire-1.pdf', file: '', kept: 'Documents/evenwire-1.pdf' });
  await press(words.key);
  await waitFor(() => expect(screen.getByText(words.kept('Documents/evenwire-1.pdf'))).toBeTruthy());
  expect(backend.asked).toContainEqual({ ask: 'report', job, letter: true });
});

it('else it is handed to the browser whole, under its name', async () => {
  const handed: { name: string; bytes: Blob }[] = [];
  let made: Blob | null = null;
  URL.createObjectURL = (blob) => {
    made = blob as Blob;
    return 'blob:report';
  };
  const click = vi.spyOn(HTMLAnchorElement.prototype, 'click').mockImplementation(function (this: HTMLAnchorElement) {
    if (made) handed.push({ name: this.download, bytes: made });
  });
  const { backend } = shown(works.workEnded);
  backend.answers.push({ reply: 'paper', name: 'evenwire-1.pdf', file: btoa('%PDF-1.7 all of it'), kept: '' });
  await press(words.key);
  await waitFor(() => expect(screen.getByText(words.handed('evenwire-1.pdf'))).toBeTruthy());
  expect(handed.map(({ name, bytes }) => [name, bytes.size, bytes.type])).toEqual([['evenwire-1.pdf', 18, 'application/pdf']]);
  click.mockRestore();
});

it('one that cannot be made says why, and hands over nothing', async () => {
  const { backend } = shown(works.workEnded);
  backend.answers.push({ reply: 'failed', notice: { code: 'no-paper', words: 'It could not be written.', remedy: 'Make room.' } });
  await press(words.key);
  await waitFor(() => expect(screen.getByText(/It could not be written/)).toBeTruthy());
  expect(screen.queryByText(/evenwire-/)).toBeNull();
});

it('a claim file is asked for by its own key, and handed over as a ZIP', async () => {
  let type = '';
  URL.createObjectURL = (blob) => {
    type = (blob as Blob).type;
    return 'blob:claim';
  };
  const click = vi.spyOn(HTMLAnchorElement.prototype, 'click').mockImplementation(() => {});
  const { backend } = shown(works.workEnded);
  backend.answers.push({ reply: 'paper', name: 'evenwire-1.zip', file: btoa('PK all of it'), kept: '' });
  await press(words.claim);
  await waitFor(() => expect(screen.getByText(words.handed('evenwire-1.zip'))).toBeTruthy());
  expect(backend.asked).toContainEqual({ ask: 'claim', job, letter: true });
  expect(type).toBe('application/zip');
  click.mockRestore();
});
