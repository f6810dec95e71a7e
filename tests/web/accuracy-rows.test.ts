import { describe, expect, it } from 'vitest';
import { type AccuracyRow, pastedRows, rangesOf, rowsOf } from '../../web/meters/accuracy-rows.ts';

const row = (changes: Partial<AccuracyRow>): AccuracyRow => ({ name: 'v-dc', ranges: '', percent: '0.5', counts: '2', ...changes });

describe('rangesOf(rows)', () => {
  it('makes a line of each range that a row names, with prefixes, and one for all where it names none', () => {
    const read = rangesOf([row({ ranges: '600 mV, 6 V 60 V', percent: '0,7' }), row({ name: 'ohm', ranges: '600 6k 60k', percent: '1', counts: '' }), row({ name: 'a-ac' }), row({ name: 'hz', percent: '', counts: '' })]);
    if (read.kind !== 'ranges') throw new Error(JSON.stringify(read));
    expect(read.ranges).toEqual([
      ...[0.6, 6, 60].map((upTo) => ({ quantity: 'voltage', coupling: 'dc', upTo, fraction: 0.007, counts: 2 })),
      ...[600, 6000, 60_000].map((upTo) => ({ quantity: 'resistance', coupling: null, upTo, fraction: 0.01, counts: 0 })),
      { quantity: 'current', coupling: 'ac', upTo: null, fraction: 0.005, counts: 2 },
    ]);
  });
  it('takes the unit at the end for the numbers before it', () => {
    expect(rangesOf([row({ ranges: '6 60 600 mV' })])).toMatchObject({ ranges: [{ upTo: 0.006 }, { upTo: 0.06 }, { upTo: 0.6 }] });
    expect(rangesOf([row({ ranges: '6 60 600' })])).toMatchObject({ ranges: [{ upTo: 6 }, { upTo: 60 }, { upTo: 600 }] });
  });
  it.each([
    ['ranges', { ranges: 'six volts' }], ['ranges', { ranges: '0 V' }], ['percent', { percent: 'x' }], ['percent', { percent: '-1' }], ['counts', { counts: '2 d' }], ['counts', { percent: '', counts: '', ranges: '6 V' }],
  ] as const)('names the cell that it cannot read: %s', (cell, changes) => {
    expect(rangesOf([row({}), row(changes)])).toEqual({ kind: 'problem', row: 1, cell });
  });
});

describe('rowsOf(ranges)', () => {
  it('brings back the rows that were typed', () => {
    const rows = [row({ ranges: '600 mV  6 V  60 V', percent: '0.7' }), row({ ranges: '600 V', percent: '0.9', counts: '3' }), row({ name: 'ohm', ranges: '600 Ω  6 kΩ  60 MΩ', percent: '1.2' }), row({ name: 'a-dc' }), row({ name: 'farad', ranges: '60 nF  6 µF' })];
    const read = rangesOf(rows);
    if (read.kind !== 'ranges') throw new Error(JSON.stringify(read));
    expect(rowsOf(read.ranges)).toEqual(rows);
  });
});

describe('pastedRows(text)', () => {
  it('reads a table copied from a manual', () => {
    expect(pastedRows('DC V\t600 mV 6 V\t±0.5 %\t2 digits\nACV\t6 V\t1.2%\t+5\nOhms\t600 Ω\t1\t3\n')).toEqual([
      row({ ranges: '600 mV 6 V' }), row({ name: 'v-ac', ranges: '6 V', percent: '1.2', counts: '5' }), row({ name: 'ohm', ranges: '600 Ω', percent: '1', counts: '3' }),
    ]);
  });
  it('leaves other text alone', () => {
    expect(pastedRows('0.5')).toBeNull();
    expect(pastedRows('')).toBeNull();
    expect(pastedRows('a\tb\tc')).toBeNull();
  });
});
