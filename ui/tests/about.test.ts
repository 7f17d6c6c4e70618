import { fireEvent, screen, waitFor, within } from '@testing-library/svelte';
import { beforeEach, describe, expect, it } from 'vitest';
import * as views from '../src/fixtures/views';
import { said } from '../src/frame/said.svelte';
import { nobody } from '../src/home/draft.svelte';
import type { View } from '../src/generated/View';
import { speech, tongues } from '../src/words/speech.svelte';
import { press } from './keys';
import { shown, wishes } from './worked';

const words = tongues.en.newJob;
const bench = views.measuring.bench!;
const told: View = {
  ...views.measuring,
  bench: {
    ...bench,
    about: {
      vehicle: 'Grey van',
      details: { ...nobody, customer: 'Sturmvogel' },
      before: [
        { field: 'order', text: 'W-2014', until: 'until 2026-03-14 10:20' },
        { field: 'customer', text: 'Sturmvogl', until: 'until 2026-03-14 10:21' },
      ],
    },
  },
};

async function about() {
  const page = shown(told);
  await press(`${words.about}: W-2041`);
  await waitFor(() => expect(screen.getByRole('heading', { name: words.about })).toBeTruthy());
  return page;
}

beforeEach(() => {
  speech.language = 'en';
  said.hush();
});

describe('what was entered about a job', () => {
  it('stands there as it is, with what stood there before struck through', async () => {
    await about();
    expect((screen.getByLabelText(words.order) as HTMLInputElement).value).toBe('W-2041');
    expect((screen.getByLabelText(words.customer) as HTMLInputElement).value).toBe('Sturmvogel');
    const struck = [...document.querySelectorAll('s')].map((s) => s.textContent);
    expect(struck).toEqual(['W-2014', 'Sturmvogl']);
    expect(within(document.querySelector('li')!).getByText('until 2026-03-14 10:20')).toBeTruthy();
  });

  it('is corrected as a whole, and the job is there again', async () => {
    const { backend } = await about();
    await fireEvent.input(screen.getByLabelText(words.plate), { target: { value: 'ZZ-QX 404' } });
    await press(words.keep);
    const details = { ...nobody, customer: 'Sturmvogel', plate: 'ZZ-QX 404' };
    expect(wishes(backend)).toEqual([
      { wish: 'correct-job', job: bench.job, order: 'W-2041', vehicle: 'Grey van', details },
    ]);
    await waitFor(() => expect(screen.queryByRole('heading', { name: words.about })).toBeNull());
  });

  it('is left as it was', async () => {
    const { backend } = await about();
    await press(words.backToJob);
    await waitFor(() => expect(screen.queryByRole('heading', { name: words.about })).toBeNull());
    expect(wishes(backend)).toEqual([]);
  });
});
