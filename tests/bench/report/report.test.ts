import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { FIGURES } from './figures.ts';
import { MissingResult, numberAt, TABLE_BEGIN, TABLE_END, tableLines, withRun, withTable } from './report.ts';
import type { BenchOutput, Figure, Report } from './report.ts';
import { readReport } from './report-files.ts';

const figures: readonly Figure[] = [
  { topic: 'zones', figure: 'zone named is right', say: (r) => `${100 * numberAt(r, 'as stated', 'right')} %` },
  { topic: 'links', figure: 'back after', isTimed: true, say: (r) => `${numberAt(r, 'seconds')} s` },
  { topic: 'path', figure: 'latency', say: (r) => `${numberAt(r, 'ms')} ms` },
];
const machine = { cores: 2, processor: 'a processor', node: 'v20.20.2' };
const empty: Report = { topics: {}, old: [{ figure: 'back after', date: '2026-11-25', value: '0.23 s' }] };
const run: BenchOutput = { date: '2026-11-28', ...machine, topics: { zones: { load: 3, results: { seed: 17, 'as stated': { right: 0.975 } } } } };

describe('the report', () => {
  it('takes in what a run gave, seed, date and all, and keeps what the other benches gave before', () => {
    const first = withRun(empty, { ...run, topics: { links: { load: 5, results: { seconds: 0.3 } } } });
    const both = withRun(first, run);
    expect(both.topics['links']).toEqual(first.topics['links']);
    expect(both.topics['zones']).toEqual({ date: '2026-11-28', load: 3, ...machine, results: { seed: 17, 'as stated': { right: 0.975 } } });
  });
  it('gives a row to each figure: of its last run, else as it was copied by hand, else none', () => {
    expect(tableLines(withRun(empty, run), figures)).toEqual([
      '| figure | value | bench | run |',
      '|---|---|---|---|',
      '| zone named is right | 97.5 % | `zones` | 2026-11-28 |',
      '| back after | 0.23 s | `links` | 2026-11-25 |',
    ]);
  });
  it('says with a time how busy the machine was', () => {
    const timed = withRun(empty, { ...run, topics: { links: { load: 5, results: { seconds: 0.3 } } } });
    expect(tableLines(timed, figures)).toContain('| back after | 0.3 s (5 processes wanting 2 cores) | `links` | 2026-11-28 |');
  });
  it('names bench and figure when a bench no longer gives what its row needs', () => {
    const broken = withRun(empty, { ...run, topics: { zones: { load: 3, results: { right: 1 } } } });
    expect(() => tableLines(broken, figures)).toThrow(MissingResult);
    expect(() => tableLines(broken, figures)).toThrow('bench zones, "zone named is right": no as stated, right');
  });
  it('replaces what stands between the markers and nothing else', () => {
    const before = `# Title\n\n${TABLE_BEGIN}\n| old |\n${TABLE_END}\n\nafter\n`;
    expect(withTable(before, ['| new |'])).toBe(`# Title\n\n${TABLE_BEGIN}\n| new |\n${TABLE_END}\n\nafter\n`);
    expect(() => withTable('# Title', [])).toThrow(RangeError);
  });
  it('is what the table of DEVELOPERS.md was made from, every figure once', () => {
    const document = readFileSync(new URL('../../../DEVELOPERS.md', import.meta.url), 'utf8');
    expect(withTable(document, tableLines(readReport(), FIGURES))).toBe(document);
    expect(new Set(FIGURES.map(({ figure }) => figure)).size).toBe(FIGURES.length);
  });
});
