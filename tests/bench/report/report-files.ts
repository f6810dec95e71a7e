/** The report on disk: its JSON beside this file, its table in DEVELOPERS.md. */
import { readFileSync, writeFileSync } from 'node:fs';
import { FIGURES } from './figures.ts';
import { tableLines, withRun, withTable } from './report.ts';
import type { BenchOutput, Report } from './report.ts';

const REPORT = new URL('report.json', import.meta.url);
const DOCUMENT = new URL('../../../DEVELOPERS.md', import.meta.url);

export function readReport(): Report { return JSON.parse(readFileSync(REPORT, 'utf8')) as Report; }

/** Takes runs into the report and makes the table anew; without runs only the table. */
export function writeReport(runs: readonly BenchOutput[]): void {
  const report = runs.reduce(withRun, readReport());
  // The table first: a result that its row can't be said from must not get into the report.
  const document = withTable(readFileSync(DOCUMENT, 'utf8'), tableLines(report, FIGURES));
  writeFileSync(REPORT, `${JSON.stringify(report, null, 1)}\n`);
  writeFileSync(DOCUMENT, document);
}
