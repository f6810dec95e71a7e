/** A table of cells as CSV (RFC 4180) and back; tabs and semicolons are read too, as spreadsheets write and paste them. Pure. */
import { parse } from 'csv-parse/browser/esm/sync';
import type { ChartProblem } from '../../server/session/chart-validation.ts';

/** A table is refused above this many characters. */
const MOST_CHARACTERS = 4_000_000;

export type ReadTable = { readonly kind: 'table'; readonly table: string[][] } | { readonly kind: 'problems'; readonly problems: readonly ChartProblem[] };

/** @returns text with CRLF line ends, as RFC 4180 has it */
export function textOfTable(table: readonly (readonly string[])[]): string {
  return table.map((row) => `${row.map(quote).join(',')}\r\n`).join('');
}

/** Never throws for bad data. */
export function tableOfText(text: string): ReadTable {
  if (text.length > MOST_CHARACTERS) return { kind: 'problems', problems: [{ path: '', expected: `at most ${MOST_CHARACTERS} characters`, got: `${text.length} characters, more than ${MOST_CHARACTERS}` }] };
  const first = text.slice(0, text.indexOf('\n') + 1);
  const delimiter = first.includes('\t') ? '\t' : first.includes(';') && !first.includes(',') ? ';' : ',';
  try {
    return { kind: 'table', table: parse(text, { bom: true, delimiter, relax_column_count: true, skip_empty_lines: true }) as string[][] };
  } catch (error) {
    return { kind: 'problems', problems: [{ path: '', expected: 'rows of comma-separated cells', got: error instanceof Error ? error.message : String(error) }] };
  }
}

/** Cells that a spreadsheet would take for a formula are left alone: the file must give the same chart back. */
function quote(cell: string): string {
  return /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}
