import { fireEvent, render, screen, waitFor, within } from '@testing-library/svelte';
import { beforeEach, describe, expect, test } from 'vitest';
import { coil } from '../src/fixtures/coil';
import * as fixtures from '../src/fixtures/sweeps';
import { meterLive, meterStale } from '../src/fixtures/views';
import type { Ask } from '../src/generated/Ask';
import type { AsideView } from '../src/generated/AsideView';
import type { Command } from '../src/generated/Command';
import type { ProvingView } from '../src/generated/ProvingView';
import type { Reply } from '../src/generated/Reply';
import type { SweepPlan } from '../src/generated/SweepPlan';
import SweepList from '../src/sweep/SweepList.svelte';
import SweepRun from '../src/sweep/SweepRun.svelte';
import { speech } from '../src/words/speech.svelte';

let told: Command[] = [];
let asked: Ask[] = [];
const tell = (command: Command): void => void told.push(command);
const key = (name: string | RegExp): HTMLElement => screen.getByRole('button', { name });
const main = (): HTMLElement | null => document.querySelector('button.main');
const run = (aside: AsideView, meter = meterLive) => render(SweepRun, { aside, meter, tell });

beforeEach(() => {
  speech.language = 'en';
  told = [];
  asked = [];
});

describe('a sweep that is planned', () => {
  const begun = (plan: SweepPlan): Command => ({ wish: 'plan-sweep', conductor: 3, plan });

  test.each<[string, SweepPlan]>([
    ['More: Turns to each side', { movement: 'turns', each_side: 3, pace_s: 4 }],
    ['Fewer: Turns to each side', { movement: 'turns', each_side: 1, pace_s: 4 }],
    ['There and back', { movement: 'flexes', passes: 2, pace_s: 4 }],
    ['More: Seconds from tone to tone', { movement: 'turns', each_side: 2, pace_s: 5 }],
    ['Press at each mark', { movement: 'turns', each_side: 2, pace_s: 0 }],
  ])('"%s" wishes for it anew', async (name, plan) => {
    run(fixtures.plans);
    await fireEvent.click(key(name));
    expect(told).toEqual([begun(plan)]);
  });

  test('numbers stop at the ends of their ranges', () => {
    const planned = (plan: SweepPlan): AsideView => ({ ...fixtures.plans, sweep: fixtures.plans.sweep && { ...fixtures.plans.sweep, plan } });
    const { unmount } = run(planned({ movement: 'turns', each_side: 1, pace_s: 20 }));
    expect(key('Fewer: Turns to each side')).toHaveProperty('disabled', true);
    expect(key('More: Seconds from tone to tone')).toHaveProperty('disabled', true);
    unmount();
    run(planned({ movement: 'flexes', passes: 20, pace_s: 2 }));
    expect(key('More: Times there and back')).toHaveProperty('disabled', true);
    expect(key('Fewer: Seconds from tone to tone')).toHaveProperty('disabled', true);
  });

  test('a press that follows a tone comes back to the pace there was', async () => {
    const { rerender } = run(fixtures.plans);
    const sweep = fixtures.plans.sweep;
    const paced = (pace_s: number): AsideView => ({ ...fixtures.plans, sweep: sweep && { ...sweep, plan: { ...sweep.plan, pace_s } } });
    await rerender({ aside: paced(7) });
    await rerender({ aside: paced(0) });
    await fireEvent.click(key('Follow the tone'));
    expect(told).toEqual([begun({ movement: 'turns', each_side: 2, pace_s: 7 })]);
  });

  test('is confirmed with one key, and says in words what was chosen', async () => {
    const { container } = run(fixtures.plans);
    expect(main()?.textContent).toBe('Sweep like this');
    for (const said of fixtures.plans.sweep?.plan_words ?? ['nothing']) expect(container.textContent).toContain(said);
    expect(container.textContent).not.toContain('Clip conductor');
    await fireEvent.click(main() as HTMLElement);
    await fireEvent.click(key('Leave it'));
    const plan = fixtures.turnsByTone;
    expect(told).toEqual([{ wish: 'sweep', conductor: 3, plan }, { wish: 'back-to-conductors' }]);
  });
});

describe('a sweep that waits for the clips', () => {
  test('leads back to its plan, which stands here no more', async () => {
    run(fixtures.waits);
    expect(screen.queryByRole('group')).toBeNull();
    await fireEvent.click(key('Change the plan'));
    expect(told).toEqual([{ wish: 'plan-sweep', conductor: 3, plan: fixtures.turnsByTone }]);
  });

  test('has no main key, and goes back by one', async () => {
    run(fixtures.waits);
    expect(main()).toBeNull();
    await fireEvent.click(key('Leave it'));
    expect(told).toEqual([{ wish: 'back-to-conductors' }]);
  });

  test('says what the clips have to do before it can begin, and only until then', () => {
    const said = (): (string | null)[] => screen.getAllByRole('status').map((one) => one.textContent);
    const { unmount } = run(fixtures.waits);
    expect(said()).toContain('Take the clips off first.');
    unmount();
    run({ ...fixtures.byTone, contact: fixtures.waits.contact });
    expect(said()).not.toContain('Take the clips off first.');
  });

  test('shows where the clips go, as long as it waits', () => {
    const faces = (): number => document.querySelectorAll('[data-state="clip"]').length;
    const { unmount } = render(SweepRun, { aside: fixtures.waits, meter: meterLive, tell, part: coil(3) });
    expect(faces()).toBe(2);
    unmount();
    render(SweepRun, { aside: fixtures.byTone, meter: meterLive, tell, part: coil(3) });
    expect(faces()).toBe(0);
  });
});

describe('a sweep that runs', () => {
  test('by tone: the next mark large, the way to the tone as a bar, ending it a quiet one', async () => {
    const { container } = run(fixtures.byTone);
    expect(screen.getAllByRole('status').map((one) => one.textContent)).toContain('At the next tone: +2 turns.');
    expect(container.querySelector('.words')?.textContent).toBe('At the next tone:');
    expect(container.querySelector('.mark b')?.textContent).toBe('+2');
    expect(container.querySelector<HTMLElement>('.to-tone span')?.style.width).toBe('64%');
    expect(container.textContent).toContain('2 of 9');
    expect(container.querySelector('svg.clockwise')).toBeTruthy();
    expect(main()).toBeNull();
    await fireEvent.click(key('End the sweep early'));
    await fireEvent.click(key('Leave it, keep nothing'));
    expect(told).toEqual([{ wish: 'end-sweep' }, { wish: 'back-to-conductors' }]);
  });

  test('by key: saying where the part is is the main key, ending a small one', async () => {
    const { container } = run(fixtures.byKey);
    expect(container.querySelector('.to-tone')).toBeNull();
    expect(container.querySelector('.mark b')?.textContent).toBe('other end');
    await fireEvent.click(main() as HTMLElement);
    await fireEvent.click(key('End the sweep early'));
    expect(told).toEqual([{ wish: 'mark-sweep' }, { wish: 'end-sweep' }]);
    expect(main()?.textContent).toBe('At other end now');
  });

  test('after the last mark its words stand whole and it can be ended', () => {
    const { container } = run(fixtures.moved);
    expect(container.querySelector('.words')?.textContent).toBe('Every mark is passed.');
    expect(container.querySelector('.mark, .to-tone')).toBeNull();
    expect(main()?.textContent).toBe('End the sweep');
  });

  test('its plan cannot be changed any more', () => {
    run(fixtures.byTone);
    expect(screen.queryByRole('group')).toBeNull();
  });

  test('the trace so far is there, without the table it will have', () => {
    run(fixtures.byTone);
    expect(screen.getByRole('img', { name: 'Trace of conductor 4 so far. One event.' })).toBeTruthy();
    expect(document.querySelector('details')).toBeNull();
  });

  test('no number stands there when the meter is not live', () => {
    const { unmount } = run(fixtures.byTone);
    const number = (): HTMLElement => screen.getByRole('region', { name: 'Meter now' });
    expect(number().textContent).toContain('0.352');
    unmount();
    run(fixtures.byTone, { ...meterStale, display: meterLive.display });
    expect(number().textContent).not.toContain('0.352');
    expect(number().textContent).toContain(meterStale.words);
  });

  test('in German', () => {
    speech.language = 'de';
    run(fixtures.byTone);
    expect(key('Abbrechen, nichts behalten')).toBeTruthy();
    expect(screen.getByRole('img', { name: /Ein Ereignis/ })).toBeTruthy();
  });
});

describe('the list of sweeps', () => {
  const found: Reply = { reply: 'trace', trace: fixtures.jumps };
  const refused: Reply = {
    reply: 'refused',
    refusal: { code: 'no-such-reading' },
    notice: { code: 'no-such-reading', words: 'There is no such sweep.', remedy: '' },
  };

  function list(change: Partial<ProvingView> = {}, answers: (Reply | null)[] = [found]) {
    const ask = (one: Ask): Promise<Reply | null> => {
      asked.push(one);
      return Promise.resolve(answers.shift() ?? null);
    };
    return render(SweepList, { proving: { ...fixtures.proving, ...change }, ask, tell });
  }
  const row = (index: number): HTMLElement => {
    const one = document.querySelector<HTMLElement>(`[data-sweep-row="${index}"]`);
    if (!one) throw new Error(`no row ${index}`);
    return one;
  };
  async function open(words: string): Promise<HTMLElement> {
    const details = screen.getByText(words).closest('details');
    if (!details) throw new Error(`"${words}" opens nothing`);
    details.open = true;
    await fireEvent(details, new Event('toggle'));
    return details;
  }

  test('each state has its own shape beside its words; one not known is never good', () => {
    const [first] = fixtures.proving.sweeps;
    if (!first) throw new Error('no first row');
    const strange = { ...first, conductor: 8, line: { state: 'excellent', words: 'excellent' } };
    list({ sweeps: [...fixtures.proving.sweeps, strange] });
    const shapes = [0, 1, 2, 3, 8].map((index) => row(index).querySelector('[data-mark]')?.getAttribute('data-mark'));
    expect(shapes).toEqual(['consistent', 'not-measured', 'undecided', 'unstable', 'undecided']);
    expect(row(2).textContent).toContain('proves nothing: too short');
  });

  test('the next conductor not yet swept is one key away, with the newest plan', async () => {
    list({ plan: fixtures.flexesByKey });
    await fireEvent.click(key('Next: sweep conductor 2'));
    await fireEvent.click(key('Sweep conductor 4 again'));
    const plan = fixtures.flexesByKey;
    expect(told).toEqual([
      { wish: 'plan-sweep', conductor: 1, plan },
      { wish: 'plan-sweep', conductor: 3, plan },
    ]);
  });

  test('a sweep that proved nothing is asked for again when no other is left; then nothing is next', () => {
    const [one, , three, four] = fixtures.proving.sweeps;
    if (!one || !three || !four) throw new Error('rows are missing');
    const { unmount } = list({ sweeps: [one, three, four] });
    expect(key('Next: sweep conductor 3')).toBeTruthy();
    unmount();
    list({ sweeps: [one, four] });
    expect(screen.queryByRole('button', { name: /^Next/ })).toBeNull();
  });

  test('where no sweep can be started the keys are dead and it says why', () => {
    list({ can_sweep: false });
    expect(key('Sweep conductor 2')).toHaveProperty('disabled', true);
    expect(screen.queryByRole('button', { name: /^Next/ })).toBeNull();
    expect(screen.getByText(/in contact by radio/)).toBeTruthy();
  });

  test('a stored trace is fetched when it is opened, and not before', async () => {
    list();
    expect(asked).toEqual([]);
    await open('Sweep 2: jumps while moved');
    expect(asked).toEqual([{ ask: 'trace', sweep: 's4' }]);
    expect(await screen.findByRole('img', { name: fixtures.jumps.sentence })).toBeTruthy();
  });

  test('one that does not come says so and can be asked for again', async () => {
    list({}, [refused, found]);
    await open('Sweep 2: jumps while moved');
    await fireEvent.click(await screen.findByRole('button', { name: 'Fetch it again' }));
    expect(await screen.findByRole('img', { name: fixtures.jumps.sentence })).toBeTruthy();
    expect(asked).toHaveLength(2);
  });

  test('after a change of language the sentences are fetched anew', async () => {
    list({}, [found, { reply: 'trace', trace: { ...fixtures.jumps, sentence: 'Leiter 4 springt.' } }]);
    await open('Sweep 2: jumps while moved');
    await screen.findByRole('img', { name: fixtures.jumps.sentence });
    speech.language = 'de';
    await waitFor(() => expect(screen.getByRole('img', { name: 'Leiter 4 springt.' })).toBeTruthy());
  });

  test('one can be taken back; one that was is struck through and has no key', async () => {
    list({}, [found, found]);
    const kept = await open('Sweep 2: jumps while moved');
    await fireEvent.click(within(kept).getByRole('button', { name: 'Take back sweep 2 of conductor 4' }));
    expect(told).toEqual([{ wish: 'withdraw', reading: 's4' }]);
    const gone = await open('Sweep 1: drops out while moved');
    expect(gone.querySelector('s')?.textContent).toBe('Sweep 1: drops out while moved');
    expect(within(gone).queryByRole('button', { name: /Take back/ })).toBeNull();
  });
});
