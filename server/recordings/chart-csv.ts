/** A chart as CSV (RFC 4180) and back; tabs and semicolons are read too, as spreadsheets write and paste them. */
import { parse } from 'csv-parse/sync';
import type { Chart } from '../session/chart.ts';
import { chartFromRows, rowsOfChart } from '../session/chart-rows.ts';
import type { ReadChart } from '../session/chart-validation.ts';

/** A chart is refused above this many bytes. */
const MOST_BYTES = 4_000_000;

/** @returns text with CRLF line ends and a heading, as RFC 4180 has it */
export function chartToCsv(chart: Chart): string {
  return rowsOfChart(chart).map((row) => `${row.map(quote).join(',')}\r\n`).join('');
}

/** Reads a chart from text; never throws for bad data. */
export function chartFromCsv(text: string): ReadChart {
  if (text.length > MOST_BYTES) return { kind: 'problems', problems: [{ path: '', expected: `at most ${MOST_BYTES} characters`, got: `${text.length}` }] };
  const first = text.slice(0, text.indexOf('\n') + 1);
  const delimiter = first.includes('\t') ? '\t' : first.includes(';') && !first.includes(',') ? ';' : ',';
  try {
    return chartFromRows(parse(text, { bom: true, delimiter, relax_column_count: true, skip_empty_lines: true }));
  } catch (error) {
    return { kind: 'problems', problems: [{ path: '', expected: 'rows of comma-separated cells', got: error instanceof Error ? error.message : String(error) }] };
  }
}

/** Cells that a spreadsheet would take for a formula are left alone: the file must give the same chart back. */
function quote(cell: string): string {
  return /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}
