import { describe, expect, it } from 'vitest';
import { quantityOf } from '../src/steps/number';
import * as draft from '../src/steps/part-draft';

describe('a description being typed', () => {
  it('assumes nothing of what hangs on a connector', () => {
    const part = draft.unknownPart();
    draft.straightThrough(part);
    expect(part.conductors).toHaveLength(8);
    expect(part.conductors.every(({ from, to }) => from.at === 'unknown' && to.at === 'unknown')).toBe(true);
    expect(part.conductors[7]).toMatchObject({ name: '8', from: { connector: 0, cavity: 8 }, to: { connector: 1, cavity: 8 } });
  });

  it('goes on from the last conductor', () => {
    const part = draft.unknownPart();
    draft.addConductor(part);
    Object.assign(part.conductors[0] ?? {}, { group: 'coil', name: '2' });
    draft.addConductor(part);
    expect(part.conductors[1]).toMatchObject({ name: '3', group: 'coil', from: { cavity: 2 }, to: { connector: 1, cavity: 2 } });
  });

  it('says what hangs on one connector without touching the other', () => {
    const part = draft.unknownPart();
    draft.straightThrough(part);
    draft.allEndsOn(part, 1, 'open-plug');
    expect(draft.sameOn(part, 1)).toBe('open-plug');
    expect(draft.sameOn(part, 0)).toBe('unknown');
    const first = part.conductors[0];
    if (first) first.to.at = 'inflator';
    expect(draft.sameOn(part, 1)).toBe('');
  });

  it('forgets the seats of a removed connector and what hung there, and moves the rest up', () => {
    const part = draft.unknownPart();
    draft.addConnector(part);
    expect(part.connectors[2]?.name).toBe('C');
    draft.addConductor(part);
    const only = part.conductors[0];
    if (only) only.to = { connector: 2, cavity: 4, at: 'open-plug' };
    if (only) only.from = { connector: 1, cavity: 3, at: 'open-plug' };
    draft.removeConnector(part, 1);
    expect(only?.from).toEqual({ connector: 0, cavity: 0, at: 'unknown' });
    expect(only?.to).toEqual({ connector: 1, cavity: 4, at: 'open-plug' });
  });

  it.each([['8', 8], ['', 0], ['8.5', 0], ['-1', 0], ['256', 0], ['acht', 0]])('reads %j as %d cavities', (typed, number) => {
    expect(draft.whole(typed)).toBe(number);
  });

  it('puts each problem at its row', () => {
    const problems = [
      { problem: { problem: 'face' as const, index: 1 }, words: 'rows' },
      { problem: { problem: 'end' as const, index: 0, why: 'unknown' as const }, words: 'end' },
      { problem: { problem: 'count' as const, place: 'conductor' }, words: 'none' },
      { problem: { problem: 'name' as const, place: 'part', index: 0 }, words: 'name' },
    ];
    expect(draft.sentencesAt(problems, 'connector', 1)).toEqual(['rows']);
    expect(draft.sentencesAt(problems, 'conductor', 0)).toEqual(['end']);
    expect(draft.sentencesAt(problems, 'conductor', null)).toEqual(['none']);
    expect(draft.sentencesAt(problems, 'part', null)).toEqual(['name']);
  });
});

describe('pairs a bar may bridge', () => {
  it('stand there once, the lower conductor first', () => {
    const part = draft.unknownPart();
    draft.straightThrough(part);
    draft.addBar(part, 5, 2);
    draft.addBar(part, 2, 5);
    expect(part.bars).toEqual([[2, 5]]);
  });

  it('go on naming the same two when a conductor is removed, and go with their own', () => {
    const part = draft.unknownPart();
    draft.straightThrough(part);
    draft.addBar(part, 0, 1);
    draft.addBar(part, 2, 3);
    draft.addBar(part, 5, 6);
    draft.removeConductor(part, 2);
    expect(part.bars).toEqual([[0, 1], [4, 5]]);
    expect(part.conductors).toHaveLength(7);
  });
});

describe('a typed figure of a limit', () => {
  it.each([
    ['0,35', { value: '0.35', unit: 'ohm' }],
    ['1.00', { value: '1.00', unit: 'ohm' }],
    ['1234', { value: '1234', unit: 'ohm' }],
    ['0,350', { value: '0.350', unit: 'ohm' }],
    ['−5', { value: '-5', unit: 'ohm' }],
    ['  ', null],
    ['1,234', 'ambiguous'],
    ['12.345', 'ambiguous'],
    ['1,2340', { value: '1.2340', unit: 'ohm' }],
    ['1.2.3', 'unreadable'],
    ['about 1', 'unreadable'],
  ])('%j is %j', (typed, read) => {
    expect(quantityOf(typed, 'ohm')).toEqual(read);
  });
});
