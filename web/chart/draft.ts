/**
 * A chart while it is typed: rows of cells as text, whatever state they are in, with undo. What they mean and what is wrong
 * with them is said by the session's own reading of chart rows. Pure.
 */
import { CHART_COLUMNS, chartFromRows, rowsOfChart, type ChartColumn } from '../../server/session/chart-rows.ts';
import type { Chart } from '../../server/session/chart.ts';
import type { ChartProblem } from '../../server/session/chart-validation.ts';

export type RowKind = 'chart' | 'circuit' | 'panel' | 'point' | 'span' | 'component';
export type Cells = Readonly<Partial<Record<ChartColumn, string>>>;

export interface DraftRow {
  /** Stays with the row for as long as the draft lives. */
  readonly key: number;
  readonly kind: RowKind;
  readonly cells: Cells;
}

export type Draft = readonly DraftRow[];

/** The columns that each kind of row uses, in the order in which they are typed. */
export const SHEET_COLUMNS: Readonly<Record<RowKind, readonly ChartColumn[]>> = {
  chart: ['name', 'volts', 'id'],
  span: ['from', 'to', 'length m', 'cross-section mm2', 'colour', 'route', 'exposures'],
  component: ['kind', 'id', 'name', 'from', 'to', 'ohm', 'cold ohm', 'volts', 'amps', 'marks'],
  point: ['id', 'kind', 'connector', 'joint ohm', 'access min', 'panel', 'marks'],
  panel: ['id', 'access min'],
  circuit: ['id', 'name', 'marks', 'route'],
};

let lastKey = 0;

function row(kind: RowKind, cells: Cells): DraftRow {
  return { key: ++lastKey, kind, cells };
}

/** A draft to begin with when there is no chart: a battery, so that only wires and loads are left to type. */
export function emptyDraft(): Draft {
  return [row('chart', { volts: '12' }), row('component', { kind: 'battery', id: 'battery', from: 'B+', to: 'B-' })];
}

export function draftOfChart(chart: Chart | null): Draft {
  return chart === null ? emptyDraft() : draftOfTable(rowsOfChart(chart));
}

/** @param table  with a heading, as exported or pasted; unknown columns are dropped, rows without a kind but with both ends are spans */
export function draftOfTable(table: readonly (readonly string[])[]): Draft {
  const [heading = [], ...lines] = table;
  const columns = heading.map((name) => name.trim().toLowerCase());
  const rows = lines.map((line) => {
    const cells: Partial<Record<ChartColumn, string>> = {};
    columns.forEach((name, i) => {
      const text = line[i]?.trim() ?? '';
      if (text !== '' && (CHART_COLUMNS as readonly string[]).includes(name)) cells[name as ChartColumn] = text;
    });
    const { row: kind = 'span', ...rest } = cells;
    return row(kind in SHEET_COLUMNS ? (kind as RowKind) : 'span', rest);
  }).filter(({ cells }) => Object.keys(cells).length > 0);
  return rows.some(({ kind }) => kind === 'chart') ? rows : [row('chart', { volts: '12' }), ...rows];
}

/** The draft as a table with heading, for export and for reading. Empty rows are left out. */
export function tableOfDraft(draft: Draft): string[][] {
  const parts = draft.filter(({ kind }) => kind === 'span' || kind === 'component').map(partId).filter((id) => id !== '');
  return [[...CHART_COLUMNS], ...filled(draft).map(({ kind, cells }) => CHART_COLUMNS.map((column) =>
    // A circuit that names no parts has all of them.
    column === 'row' ? kind : kind === 'circuit' && column === 'route' && (cells.route ?? '') === '' ? parts.join('; ') : (cells[column] ?? '')))];
}

function filled(draft: Draft): DraftRow[] {
  return draft.filter(({ kind, cells }) => kind === 'chart' || Object.values(cells).some((cell) => cell.trim() !== ''));
}

function partId({ kind, cells }: DraftRow): string {
  if (cells.id !== undefined && cells.id !== '') return cells.id;
  return kind === 'span' && cells.from !== undefined && cells.to !== undefined ? `${cells.from} to ${cells.to}` : '';
}

export interface DraftProblem extends ChartProblem {
  /** Row that it is about; null for the chart as a whole. */
  readonly key: number | null;
  readonly column: ChartColumn | null;
}

export type ReadDraft =
  | { readonly kind: 'chart'; readonly chart: Chart }
  | { readonly kind: 'problems'; readonly problems: readonly DraftProblem[] };

/** What the draft means, or what is wrong with it and in which cell. */
export function readDraft(draft: Draft): ReadDraft {
  const rows = filled(draft);
  const read = chartFromRows(tableOfDraft(draft));
  if (read.kind === 'chart') return read;
  return { kind: 'problems', problems: read.problems.map((problem) => ({ ...problem, ...placeOf(problem.path, rows) })) };
}

const LISTS: Readonly<Record<string, RowKind>> = { points: 'point', spans: 'span', components: 'component', panels: 'panel', circuits: 'circuit' };
const FIELDS: Readonly<Record<string, ChartColumn>> = {
  from: 'from', to: 'to', id: 'id', kind: 'kind', length: 'length m', crossSection: 'cross-section mm2', colour: 'colour', route: 'route', exposures: 'exposures', connector: 'connector',
  jointOhms: 'joint ohm', accessMinutes: 'access min', panel: 'panel', ohms: 'ohm', coldOhms: 'cold ohm', volts: 'volts', amps: 'amps', name: 'name', minutes: 'access min', working: 'marks', parts: 'route',
};

/** "row 7, length m" and "spans[2].length" name the same kind of place. */
function placeOf(path: string, rows: readonly DraftRow[]): { key: number | null; column: ChartColumn | null } {
  const byRow = /^row (\d+), (.+)$/.exec(path);
  if (byRow !== null) {
    const column = (CHART_COLUMNS as readonly string[]).includes(byRow[2]!) ? (byRow[2] as ChartColumn) : null;
    return { key: rows[Number(byRow[1]) - 2]?.key ?? null, column };
  }
  const byList = /^(\w+)\[(\d+)\](?:\.(\w+))?/.exec(path);
  const kind = byList === null ? undefined : LISTS[byList[1]!];
  if (byList === null || kind === undefined) return { key: null, column: null };
  return { key: rows.filter((one) => one.kind === kind)[Number(byList[2])]?.key ?? null, column: FIELDS[byList[3] ?? ''] ?? null };
}

export function setCell(draft: Draft, key: number, column: ChartColumn, text: string): Draft {
  return draft.map((one) => (one.key === key ? { ...one, cells: { ...one.cells, [column]: text } } : one));
}

export function addRow(draft: Draft, kind: RowKind, cells: Cells = {}): Draft {
  return [...draft, row(kind, cells)];
}

export function removeRow(draft: Draft, key: number): Draft {
  return draft.filter((one) => one.key !== key);
}

/**
 * A block of cells, as a spreadsheet copies it, put in from a cell to the right and down; rows are added as needed.
 * @param place  index among the rows of that kind, and among the columns of its sheet
 */
export function pasteBlock(draft: Draft, kind: RowKind, place: { readonly row: number; readonly column: number }, block: readonly (readonly string[])[]): Draft {
  let next = draft;
  block.forEach((line, down) => {
    const at = next.filter((one) => one.kind === kind)[place.row + down];
    if (at === undefined) next = addRow(next, kind);
    const target = at ?? next.at(-1)!;
    line.forEach((text, right) => {
      const column = SHEET_COLUMNS[kind][place.column + right];
      if (column !== undefined) next = setCell(next, target.key, column, text.trim());
    });
  });
  return next;
}

export interface History {
  readonly past: readonly Draft[];
  readonly now: Draft;
  readonly future: readonly Draft[];
}

/** A battery flat or on charge still lies within these shares of the system voltage. Common practice, no source. */
const BATTERY_SHARE = { low: 0.75, high: 1.4 };

/** A battery that can't be that of the system: the circuit would be worked out with another voltage than its limits. @returns its volts, null when there is none */
export function strangeBattery({ components, systemVoltage }: Chart): number | null {
  const strange = components.find((own) => own.kind === 'battery' && (own.volts < BATTERY_SHARE.low * systemVoltage || own.volts > BATTERY_SHARE.high * systemVoltage));
  return strange?.kind === 'battery' ? strange.volts : null;
}

/** Steps that can be taken back. */
const MOST_STEPS = 200;

export function begin(draft: Draft): History {
  return { past: [], now: draft, future: [] };
}

/** @param joins  the change goes on with the last one (typing in one cell): both are one step */
export function change(history: History, draft: Draft, joins = false): History {
  if (draft === history.now) return history;
  return { past: joins ? history.past : [...history.past, history.now].slice(-MOST_STEPS), now: draft, future: [] };
}

export function undo({ past, now, future }: History): History {
  const last = past.at(-1);
  return last === undefined ? { past, now, future } : { past: past.slice(0, -1), now: last, future: [now, ...future] };
}

export function redo({ past, now, future }: History): History {
  const [next, ...rest] = future;
  return next === undefined ? { past, now, future } : { past: [...past, now], now: next, future: rest };
}
