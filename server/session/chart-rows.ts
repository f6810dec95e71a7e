/**
 * The chart as rows of a table, as it is typed, pasted and exported. One row is one thing: a span, a point, a
 * component, a panel, a circuit. Points that are only named by spans are made up from their names.
 */
import type { Chart, ChartCircuit, ChartComponent, ChartPanel, ChartPoint, ChartSpan, PointKind, SpanExposure } from './chart.ts';
import { EXPOSURES, POINT_KINDS } from './chart.ts';
import type { ChartProblem, ReadChart } from './chart-validation.ts';
import { readChart, show } from './chart-validation.ts';
import type { SystemVoltage } from './limits.ts';
import { crossSectionOfGauge } from '../diagnosis/circuit/index.ts';

export const CHART_COLUMNS = [
  'row', 'id', 'kind', 'from', 'to', 'length m', 'cross-section mm2', 'colour', 'route', 'exposures', 'connector', 'joint ohm', 'access min', 'panel', 'ohm', 'cold ohm', 'volts', 'amps', 'name', 'marks',
] as const;
export type ChartColumn = (typeof CHART_COLUMNS)[number];
export const ROW_KINDS = ['chart', 'circuit', 'panel', 'point', 'span', 'component'] as const;

type Row = Partial<Record<ChartColumn, string>>;

/** Resistance of one joint where the table says nothing, ohm (common practice, no source). */
export const USUAL_JOINT_OHMS: Record<PointKind, number> = { blade: 0.001, pin: 0.004, splice: 0.001, stud: 0.0005, terminal: 0.002, post: 0.0005, contact: 0.001 };
/** Minutes to reach a point where the table says nothing (common practice, no source). */
const USUAL_ACCESS_MINUTES: Record<PointKind, number> = { blade: 0.5, pin: 1.5, splice: 10, stud: 2, terminal: 2, post: 0.5, contact: 1 };

/** The chart as rows, heading included; `chartFromRows` gives the same chart back. */
export function rowsOfChart(chart: Chart): string[][] {
  const rows: Row[] = [
    { row: 'chart', name: chart.name, volts: String(chart.systemVoltage), ...(chart.chassis === undefined ? {} : { id: chart.chassis }) },
    ...chart.circuits.map((circuit): Row => ({ row: 'circuit', id: circuit.id, name: circuit.name, marks: circuit.working, route: circuit.parts.join('; ') })),
    ...chart.panels.map((panel): Row => ({ row: 'panel', id: panel.id, 'access min': String(panel.minutes) })),
    ...chart.points.map((point): Row => ({
      row: 'point', id: point.id, kind: point.kind, 'joint ohm': String(point.jointOhms), 'access min': String(point.accessMinutes),
      ...(point.connector === undefined ? {} : { connector: point.connector }), ...(point.panel === undefined ? {} : { panel: point.panel }), ...(point.restraint === true ? { marks: 'restraint' } : {}),
    })),
    ...chart.spans.map((span): Row => ({
      row: 'span', id: span.id, from: span.from, to: span.to, 'length m': String(span.length), 'cross-section mm2': String(span.crossSection), colour: span.colour, route: span.route, exposures: span.exposures.join(' '),
    })),
    ...chart.components.map((component): Row => ({
      row: 'component', id: component.id, kind: component.kind, from: component.from, to: component.to, name: component.name, ohm: String(component.ohms),
      ...(component.kind === 'battery' ? { volts: String(component.volts) } : {}), ...(component.kind === 'fuse' ? { amps: String(component.amps) } : {}),
      ...(component.kind === 'load' ? { ...(component.coldOhms === undefined ? {} : { 'cold ohm': String(component.coldOhms) }), ...(component.electronic === true ? { marks: 'electronic' } : {}) } : {}),
    })),
  ];
  return [[...CHART_COLUMNS], ...rows.map((row) => CHART_COLUMNS.map((column) => row[column] ?? ''))];
}

/**
 * Reads a chart from rows with a heading. Columns may come in any order and be left out; a row without a word in
 * `row` that has `from` and `to` is a span. Numbers may have a decimal comma; a cross-section may be a gauge ("AWG 14").
 */
export function chartFromRows(table: readonly (readonly string[])[]): ReadChart {
  const [heading = [], ...lines] = table;
  const columns = heading.map((name) => name.trim().toLowerCase());
  const unknown = columns.filter((name) => name !== '' && !(CHART_COLUMNS as readonly string[]).includes(name));
  if (unknown.length > 0) return { kind: 'problems', problems: [{ path: 'row 1', expected: `the columns ${CHART_COLUMNS.join(', ')}`, got: show(unknown.join(', ')) }] };
  const problems: ChartProblem[] = [];
  const builder = new Builder(problems);
  lines.forEach((line, order) => {
    const row: Row = {};
    columns.forEach((name, column) => {
      const cell = line[column]?.trim() ?? '';
      if (name !== '' && cell !== '') row[name as ChartColumn] = cell;
    });
    if (Object.keys(row).length > 0) builder.add(row, order + 2);
  });
  if (problems.length > 0) return { kind: 'problems', problems };
  return readChart(builder.chart());
}

/** A rested battery where the table says nothing, of the system voltage: 12.6 V of 12 V. Common practice, no source. */
const RESTED_PERCENT = 105;

class Builder {
  readonly #problems: ChartProblem[];
  readonly #points = new Map<string, ChartPoint>();
  readonly #spans: ChartSpan[] = [];
  readonly #components: ChartComponent[] = [];
  readonly #panels: ChartPanel[] = [];
  readonly #circuits: ChartCircuit[] = [];
  #name = '';
  #systemVoltage: SystemVoltage = 12;
  #chassis: string | undefined;

  constructor(problems: ChartProblem[]) {
    this.#problems = problems;
  }

  chart(): Chart {
    const points = new Map(this.#points);
    for (const part of [...this.#spans, ...this.#components]) for (const end of [part.from, part.to]) if (!points.has(end)) points.set(end, guessPoint(end));
    const parts = [...this.#spans, ...this.#components].map((part) => part.id);
    return {
      name: this.#name, systemVoltage: this.#systemVoltage, points: [...points.values()], panels: this.#panels, spans: this.#spans, components: this.#components,
      circuits: this.#circuits.length > 0 ? this.#circuits : [{ id: 'all', name: 'all', parts, working: 'everything on' }], ...(this.#chassis === undefined ? {} : { chassis: this.#chassis }),
    };
  }

  add(row: Row, line: number): void {
    const cells = new Cells(row, line, this.#problems);
    switch (row.row ?? (row.from !== undefined && row.to !== undefined ? 'span' : '')) {
      case 'chart':
        this.#name = row.name ?? '';
        this.#systemVoltage = cells.number('volts', 12) as SystemVoltage;
        this.#chassis = row.id;
        break;
      case 'circuit':
        this.#circuits.push({ id: cells.text('id'), name: row.name ?? cells.text('id'), parts: (row.route ?? '').split(';').map((part) => part.trim()).filter((part) => part !== ''), working: row.marks ?? '' });
        break;
      case 'panel':
        this.#panels.push({ id: cells.text('id'), minutes: cells.number('access min', 0) });
        break;
      case 'point': {
        const guessed = guessPoint(cells.text('id'));
        const kind = row.kind === undefined ? guessed.kind : cells.oneOf('kind', POINT_KINDS);
        const connector = row.connector ?? (kind === 'pin' ? guessed.connector ?? guessed.id : undefined);
        this.#points.set(guessed.id, {
          id: guessed.id, kind, jointOhms: cells.number('joint ohm', USUAL_JOINT_OHMS[kind]), accessMinutes: cells.number('access min', USUAL_ACCESS_MINUTES[kind]),
          ...(connector === undefined ? {} : { connector }), ...(row.panel === undefined ? {} : { panel: row.panel }), ...(row.marks === 'restraint' ? { restraint: true } : {}),
        });
        break;
      }
      case 'span':
        this.#spans.push({
          id: row.id ?? `${cells.text('from')} to ${cells.text('to')}`, from: cells.text('from'), to: cells.text('to'), length: cells.number('length m', 1), crossSection: cells.crossSection(),
          colour: (row.colour ?? '').toUpperCase().replace(/[^A-Z]/g, ''), route: row.route ?? '', exposures: (row.exposures ?? '').split(/[\s,;]+/).filter((word) => word !== '').map((word) => cells.exposure(word)),
        });
        break;
      case 'component':
        this.#components.push(this.#component(row, cells));
        break;
      default:
        cells.say('row', `one of ${ROW_KINDS.join(', ')}`, row.row);
    }
  }

  #component(row: Row, cells: Cells): ChartComponent {
    const kind = cells.oneOf('kind', ['battery', 'fuse', 'contact', 'load'] as const);
    const id = cells.text('id');
    const own = { id, name: row.name ?? id, from: cells.text('from'), to: cells.text('to') };
    switch (kind) {
      case 'battery':
        // Of the system that the chart's own row, which comes first, names.
        return { ...own, kind, volts: cells.number('volts', (RESTED_PERCENT * this.#systemVoltage) / 100), ohms: cells.number('ohm', 0.01) };
      case 'fuse':
        return { ...own, kind, amps: cells.number('amps', 15), ohms: cells.number('ohm', 0.006) };
      case 'contact':
        return { ...own, kind, ohms: cells.number('ohm', 0.01) };
      case 'load':
        return { ...own, kind, ohms: cells.number('ohm', NaN), ...(row['cold ohm'] === undefined ? {} : { coldOhms: cells.number('cold ohm', 0) }), ...(row.marks === 'electronic' ? { electronic: true } : {}) };
    }
  }
}

/** Cells of one row, read with what is wrong noted by row and column. */
class Cells {
  readonly #row: Row;
  readonly #line: number;
  readonly #problems: ChartProblem[];

  constructor(row: Row, line: number, problems: ChartProblem[]) {
    this.#row = row;
    this.#line = line;
    this.#problems = problems;
  }

  say(column: ChartColumn, expected: string, got: unknown): void {
    this.#problems.push({ path: `row ${this.#line}, ${column}`, expected, got: show(got) });
  }

  text(column: ChartColumn): string {
    const cell = this.#row[column];
    if (cell === undefined) this.say(column, 'a name', undefined);
    return cell ?? '';
  }

  /** @param missing  value for an empty cell; NaN for one that must be filled */
  number(column: ChartColumn, missing: number): number {
    const cell = this.#row[column];
    const value = cell === undefined ? missing : Number(cell.replace(',', '.'));
    if (!Number.isFinite(value)) this.say(column, 'a number', cell);
    return Number.isFinite(value) ? value : 1;
  }

  oneOf<T extends string>(column: ChartColumn, words: readonly T[]): T {
    const cell = this.#row[column]?.toLowerCase();
    const found = words.find((word) => word === cell);
    if (found === undefined) this.say(column, `one of ${words.join(', ')}`, cell);
    return found ?? (words[0] as T);
  }

  exposure(word: string): SpanExposure {
    const found = EXPOSURES.find((exposure) => exposure === word.toLowerCase());
    if (found === undefined) this.say('exposures', `of ${EXPOSURES.join(', ')}`, word);
    return found ?? 'flex';
  }

  crossSection(): number {
    const cell = this.#row['cross-section mm2'];
    const gauge = cell === undefined ? null : /^(?:awg\s*(\d+)|(\d+)\s*awg)$/i.exec(cell);
    if (gauge === null) return this.number('cross-section mm2', 1);
    const number = Number(gauge[1] ?? gauge[2]);
    if (number <= 40) return Number(crossSectionOfGauge(number).toPrecision(4));
    this.say('cross-section mm2', 'AWG up to 40', cell);
    return 1;
  }
}

/** What a point is, by the way such points are named on diagrams: "C2/4" a pin, "S3" a splice, "G2" a stud, "F4/1" a blade, "K1/87" a contact. */
export function guessPoint(id: string): ChartPoint {
  const slash = id.indexOf('/');
  const letter = id.charAt(0).toUpperCase();
  const kind: PointKind = id === 'B+' || id === 'B-' ? 'post' : slash > 0 ? (letter === 'F' ? 'blade' : letter === 'K' ? 'contact' : 'pin')
    : /^S\d/i.test(id) ? 'splice' : /^G\d/i.test(id) ? 'stud' : 'terminal';
  return { id, kind, jointOhms: USUAL_JOINT_OHMS[kind], accessMinutes: USUAL_ACCESS_MINUTES[kind], ...(kind === 'pin' ? { connector: id.slice(0, slash) } : {}) };
}
