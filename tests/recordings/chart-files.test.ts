import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import { harnessFromKbl } from '../../server/session/chart-kbl.ts';
import { chartFromRows, rowsOfChart } from '../../server/session/chart-rows.ts';
import { problemText } from '../../server/session/chart-validation.ts';
import type { Chart } from '../../server/session/chart.ts';
import { tableOfText, textOfTable } from '../../web/chart/table-text.ts';
import { Random } from '../signals/random.ts';
import { randomChart } from '../support/random-chart.ts';

const chartToCsv = (chart: Chart) => textOfTable(rowsOfChart(chart));
const chartFromCsv = (text: string) => {
  const read = tableOfText(text);
  return read.kind === 'table' ? chartFromRows(read.table) : read;
};

describe('a chart as CSV and back', () => {
  it('give the demo chart back as it was', () => {
    expect(chartFromCsv(chartToCsv(alder7Chart))).toEqual({ kind: 'chart', chart: alder7Chart });
  });

  it('give random charts back as they were, with names that need quoting', () => {
    const random = new Random(7);
    for (let order = 0; order < 30; order++) {
      const chart = { ...randomChart(random), name: 'a "quoted", name\nin two lines' };
      expect(chartFromCsv(chartToCsv(chart))).toEqual({ kind: 'chart', chart });
    }
  });

  it('write RFC 4180: CRLF, quotes doubled, as many cells in every row', () => {
    const text = chartToCsv({ ...alder7Chart, name: 'say "so"' });
    expect(text).toContain('"say ""so"""');
    expect(text.endsWith('\r\n')).toBe(true);
    expect(text.replaceAll('\r\n', '')).not.toContain('\n');
  });

  it('take what is pasted from a spreadsheet: tabs, spans only, gauges, decimal commas, points made up from their names', () => {
    const pasted = [
      'row\tid\tkind\tfrom\tto\tlength m\tcross-section mm2\tcolour\texposures\tohm',
      '\t\t\tB+\tF4/1\t0,6\tAWG 14\trd\theat', '\t\t\tF4/2\tC1/3\t2.4\t2.5\tRD/YE\tflex, damp', '\t\t\tC1/3\tL+\t1\t1\t', '\t\t\tL-\tG2\t1\t1\tbk', '\t\t\tG2\tB-\t1\t16\tbk',
      'component\tF4\tfuse\tF4/1\tF4/2', 'component\tlamp\tload\tL+\tL-\t\t\t\t\t7', 'component\tbattery\tbattery\tB+\tB-',
    ].join('\n');
    const read = chartFromCsv(pasted);
    if (read.kind !== 'chart') throw new Error(read.problems.map(problemText).join('\n'));
    expect(read.chart.spans[0]).toMatchObject({ id: 'B+ to F4/1', length: 0.6, crossSection: 2.081, colour: 'RD', exposures: ['heat'] });
    expect(read.chart.spans[1]).toMatchObject({ colour: 'RDYE', exposures: ['flex', 'damp'] });
    expect(Object.fromEntries(read.chart.points.map((point) => [point.id, point.kind]))).toEqual({
      'B+': 'post', 'F4/1': 'blade', 'F4/2': 'blade', 'C1/3': 'pin', 'L+': 'terminal', 'L-': 'terminal', G2: 'stud', 'B-': 'post',
    });
    expect(read.chart.points.find((point) => point.id === 'C1/3')?.connector).toBe('C1');
    expect(read.chart.circuits).toEqual([expect.objectContaining({ id: 'all' })]);
  });

  it.each<[string, string, RegExp]>([
    ['a length that is no number', 'from,to,length m\nA,B,long', /^row 2, length m: expected a number, got "long"$/],
    ['a column that is not known', 'from,to,weight\nA,B,1', /^row 1: expected the columns .*, got "weight"$/],
    ['an exposure that is not known', 'from,to,exposures\nA,B,rust', /^row 2, exposures: expected of flex, heat, damp, abrasion, got "rust"$/],
    ['a load without a resistance', 'row,id,kind,from,to\ncomponent,L,load,A,B', /^row 2, ohm: expected a number, got nothing$/],
    ['an open quote', 'from,to\n"A,B', /^chart: expected rows of comma-separated cells/],
  ])('name row and column for %s', (_, text, problem) => {
    const read = chartFromCsv(text);
    expect(read.kind === 'problems' ? read.problems.map(problemText) : []).toEqual(expect.arrayContaining([expect.stringMatching(problem)]));
  });
});

describe('harnessFromKbl(text)', () => {
  const sample = readFileSync(new URL('../reference/sample.kbl.xml', import.meta.url), 'utf8');

  it('reads wires, connectors and lengths of a small sample of our own', () => {
    const read = harnessFromKbl(sample);
    if (read.kind !== 'harness') throw new Error(read.reason);
    expect(read.harness.spans).toEqual([
      { id: '17', from: 'C1/1', to: 'C2/1', length: 1.8, crossSection: 2.5, colour: 'RDYE', route: '', exposures: [] },
      { id: '18', from: 'C2/4', to: 'C1/4', length: 1, crossSection: 1.5, colour: '', route: '', exposures: [] },
    ]);
    expect(read.harness.points.map((point) => [point.id, point.kind, point.connector])).toEqual([['C1/1', 'pin', 'C1'], ['C2/1', 'pin', 'C2'], ['C2/4', 'pin', 'C2'], ['C1/4', 'pin', 'C1']]);
  });

  it('says what it left out or made up', () => {
    const read = harnessFromKbl(sample);
    expect(read.kind === 'harness' ? read.harness.notes : []).toEqual([
      'GROUND: no length, 1 m taken', 'GROUND: colour ROSSO is no code of IEC 60757, left out', 'LOST: left out, its wire or one of its ends is not in the file',
    ]);
  });

  it.each([['nothing', ''], ['no XML', '<a><b></a>'], ['other XML', '<a/>'], ['text', 'from,to']])('refuses %s with a reason and does not throw', (_, text) => {
    expect(harnessFromKbl(text).kind).toBe('unreadable');
  });

  it('does not expand entities', () => {
    const bomb = `<!DOCTYPE k [<!ENTITY a "xxxxxxxxxx"><!ENTITY b "&a;&a;&a;">]>${sample.replace(/<\?xml.*\?>/, '').replace('CLUTCH_FEED', '&b;')}`;
    const read = harnessFromKbl(bomb);
    expect(JSON.stringify(read)).not.toContain('xxxxxxxxxx');
  });
});
