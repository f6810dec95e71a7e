/** How a table of text is read: guessed from its first rows, corrected by the user, carried out by the import. */
import { QUANTITIES } from '../../../drivers/reading.ts';
import { TextLineDecoder, type DecodedLine } from '../../../drivers/decoders/index.ts';
import { firstLines, readable } from './csv-rows.ts';
import { possibleFormats, readTime } from './time-format.ts';
import { CsvError, parse } from 'csv-parse/sync';
import { DELIMITERS, type CsvPreview, type Delimiter, type ImportPlan, type PlanBeginning, type ValueColumn } from '../offers.ts';

const LOOKED_AT = 200;
const SHOWN = 20;
/** A heading follows what stands above it within so many rows. */
const PREAMBLE = 12;
/** A column is one of values when at least this share of its cells reads as one. */
const VALUE_SHARE = 0.6;

/** So many rows may be unreadable or out of order, and a column still be one of times. */
const FAULT_SHARE = 0.2;

const TIME_NAME = /time|zeit|heure|hora|stamp|elapsed|second|^t$|^s$|^sec$|^date|datum/i;
const NOT_A_VALUE = /^(no\.?|nr\.?|#|id|index|count|seq|take|meter|channel|line|sample)$/i;
/** A number, perhaps with its unit; not a date, and not two numbers. */
const DECIMAL_COMMA = /^[^\d.,]*\d*,\d+(?![\d.,:/-])/;
const DECIMAL_POINT = /^[^\d.,]*\d*\.\d+(?![\d.,:/-])/;
const TIME_UNIT = /^(s|sec|seconds|ms|us|\u00b5s|ns|min|minutes|hh?:mm?:ss.*)$/i;
const UNIT_NAME = /^units?$|^einheit$/i;
const FLAG_NAME = /^flags?$|^state$|^status$|^overload$/i;

/**
 * @param beginning what the user corrected: the rest is guessed anew
 * @throws {Error} of the file system; {RangeError} when nothing in it looks like a table of values
 */
export async function previewCsv(file: string, beginning: PlanBeginning = {}): Promise<CsvPreview> {
  const lines = (await firstLines(file)).filter((line) => line.trim() !== '').slice(0, LOOKED_AT);
  if (lines.length === 0) throw new RangeError('the file is empty');
  const delimiter = beginning.delimiter ?? likeliestDelimiter(lines);
  const table = tableOf(lines, delimiter);
  const width = commonWidth(table);
  const firstData = beginning.headingRows ?? firstDataRow(table, width);
  if (firstData < 0) throw new RangeError('the file holds no row of numbers');
  if (firstData >= table.length) throw new RangeError('no row is left below the heading');
  const heading = headingOf(table.slice(0, firstData), width);
  const rows = table.slice(firstData).filter((row) => row.length === width);
  const decimal = delimiter !== ',' && countCells(rows, DECIMAL_COMMA) > countCells(rows, DECIMAL_POINT) ? 'comma' : 'point';
  const cells = (column: number) => rows.map((row) => row[column] ?? '').filter((cell) => cell !== '');
  const doubts: string[] = [];

  const named = (pattern: RegExp) => {
    const index = heading.findIndex((name) => pattern.test(name));
    return index < 0 ? null : index;
  };
  const unitColumn = named(UNIT_NAME);
  const flagColumn = named(/^flags$/i) ?? named(FLAG_NAME);
  const takeColumn = named(/^take$/i);
  const time = likeliestTime(heading, cells, doubts);
  const taken = new Set([time?.column, time?.dateColumn, unitColumn, named(FLAG_NAME), flagColumn, takeColumn]);
  const isOurs = ['time', 'value', 'unit', 'resolution', 'seq', 'arrival'].every((name) => heading.includes(name));
  const own = (pattern: RegExp) => (isOurs ? named(pattern) : null);
  const values: ValueColumn[] = [];
  for (let column = 0; column < width; column++) {
    if (taken.has(column) || (isOurs && heading[column] !== 'value')) continue;
    const name = heading[column]!;
    const unit = unitOf(name);
    if (NOT_A_VALUE.test(name) || (unit === '' && isCounter(cells(column)))) continue;
    if (readingShare(cells(column), unit, decimal) >= VALUE_SHARE) values.push({ column, unit, label: name });
  }
  if (values.length === 0) doubts.push('No column looks like readings: choose the columns of values.');
  if (time === null) doubts.push('No column looks like a time: choose one, or give the interval of the samples.');
  for (const { column, unit, label } of values) {
    if (unit === '' && unitColumn === null && !namesUnit(cells(column), decimal)) doubts.push(`Nothing names the unit of "${label}": give it, or its readings are not judged.`);
  }
  return {
    plan: {
      delimiter, decimal, headingRows: firstData, time, interval: null, values, unitColumn, flagColumn,
      takeColumn, resolutionColumn: own(/^resolution$/), meterColumn: own(/^meter$/),
      quantityColumn: own(/^quantity$/), couplingColumn: own(/^coupling$/), arrivalColumn: own(/^arrival$/),
    },
    heading, rows: rows.slice(0, SHOWN).map((row) => row.map(readable)), doubts,
  };
}

/** @throws {RangeError} for what is no table */
function tableOf(lines: readonly string[], delimiter: Delimiter): string[][] {
  try {
    return parse(lines.join('\n'), { delimiter, relax_column_count: true, relax_quotes: true, trim: true, skip_empty_lines: true });
  } catch (error) {
    if (error instanceof CsvError) throw new RangeError('this is no table of text: save the readings as CSV in the program that made the file, and bring that in', { cause: error });
    throw error;
  }
}

/** Where the readings begin. What a program says of itself above the heading may hold a date or a number too: with a heading close below, it is not that. */
function firstDataRow(table: readonly string[][], width: number): number {
  const isNames = (row: readonly string[]): boolean => row.length === width && width > 1 && row.every((cell) => cell !== '' && !/^[+-]?[\d.,]/.test(cell));
  return table.findIndex((row, at) => row.length === width && isData(row) && !table.slice(at + 1, at + 1 + PREAMBLE).some(isNames));
}

/** One cell is nothing but a number, or most begin with one: units and dates may follow. */
function isData(row: readonly string[]): boolean {
  const filled = row.filter((cell) => cell !== '');
  const begun = filled.filter((cell) => /^[+-]?[\d.,]*\d/.test(cell)).length;
  return filled.some((cell) => /^[+-]?[\d.,]+(e[+-]?\d+)?$/i.test(cell)) || (begun > 0 && 2 * begun >= filled.length);
}

/** Names of the columns: the last row above the data, joined with the one above it where it holds their units only. */
function headingOf(above: readonly string[][], width: number): string[] {
  const [names, last] = [above.at(-2), above.at(-1)].map((row) => (row?.length === width ? row.map(readable) : undefined));
  if (last === undefined) return Array.from({ length: width }, (_, i) => `column ${i + 1}`);
  const areUnits = last.every((cell) => cell === '' || TIME_UNIT.test(cell.replace(/[[\](){}]/g, '')) || isUnit(cell.replace(/[[\](){}]/g, '')));
  if (names === undefined || !areUnits) return last.map((name, i) => (name === '' ? `column ${i + 1}` : name));
  return names.map((name, i) => (last[i] === '' ? name : `${name} (${last[i]!.replace(/[[\](){}]/g, '')})`));
}

/** The separator that cuts most lines into the same number of parts, more than one. */
function likeliestDelimiter(lines: readonly string[]): Delimiter {
  const score = (delimiter: string) => {
    const counts = lines.map((line) => line.replace(/"[^"]*"/g, '').split(delimiter).length);
    const common = mostFrequent(counts.filter((count) => count > 1));
    return common === null ? 0 : counts.filter((count) => count === common).length * (delimiter === ',' ? 0.9 : 1);
  };
  return [...DELIMITERS].sort((a, b) => score(b) - score(a))[0]!;
}

function commonWidth(table: readonly string[][]): number {
  return mostFrequent(table.map((row) => row.length)) ?? 1;
}

function mostFrequent(numbers: readonly number[]): number | null {
  const counts = new Map<number, number>();
  for (const number of numbers) counts.set(number, (counts.get(number) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? null;
}

function countCells(rows: readonly string[][], pattern: RegExp): number {
  return rows.reduce((sum, row) => sum + row.filter((cell) => pattern.test(cell)).length, 0);
}

function likeliestTime(heading: readonly string[], cells: (column: number) => string[], doubts: string[]): ImportPlan['time'] {
  const dateColumn = heading.findIndex((_, column) => cells(column).length > 0 && cells(column).every((cell) => /^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}$/.test(cell)));
  const candidates = heading.flatMap((name, column) => {
    const texts = dateColumn >= 0 ? cells(column).map((cell, i) => `${cells(dateColumn)[i] ?? ''} ${cell}`) : cells(column);
    const joined = column !== dateColumn && dateColumn >= 0 ? possibleFormats(texts, name) : [];
    const alone = possibleFormats(cells(column), name);
    const [formats, date] = joined.length > 0 ? [joined, dateColumn] : [alone, null];
    const rising = isRising((date === null ? cells(column) : texts).map((cell) => readTime(cell, formats[0] ?? 's')));
    if (formats.length === 0 || (!rising && !TIME_NAME.test(name)) || NOT_A_VALUE.test(name)) return [];
    const isNumber = ['s', 'ms', 'us', 'ns', 'minutes'].includes(formats[0]!);
    return [{ column, formats, date, score: (TIME_NAME.test(name) ? 2 : 0) + (isNumber ? 0 : 3) - column / 100 }];
  }).filter(({ score }) => score > 0 || heading.length > 1);
  const best = candidates.sort((a, b) => b.score - a.score)[0];
  if (best === undefined) return null;
  const { column, formats, date, score } = best;
  if (score <= 0) doubts.push(`"${heading[column]}" is taken for the time because it rises.`);
  if (formats.includes('dmy-clock') && formats.includes('mdy-clock')) doubts.push('The dates may have the day or the month first: taken as day first.');
  if (formats[0] === 's' && !/\bs\b|sec|time/i.test(heading[column]!)) doubts.push(`"${heading[column]}" is taken as seconds.`);
  return { column, format: formats[0]!, dateColumn: date, zone: 'local' };
}

/** Nearly all rise, or stand still for a while; a clock may pass midnight. */
function isRising(times: readonly (number | null)[]): boolean {
  let last = -Infinity;
  let steps = 0;
  let faults = 0;
  for (const time of times) {
    if (time === null || (time < last && last - time < 43_200)) {
      faults++;
      continue;
    }
    if (time > last) steps++;
    last = time;
  }
  return (steps > 1 || times.length === 1) && faults <= FAULT_SHARE * times.length;
}

/** 0, 1, 2 ... or 1, 2, 3 ...: a number of the row. */
function isCounter(cells: readonly string[]): boolean {
  return cells.length > 2 && ['0', '1'].includes(cells[0]!) && cells.every((cell, i) => i === 0 || Number(cell) === Number(cells[i - 1]) + 1);
}

/** The unit that a heading names in brackets or after an underscore or comma, if it is one of a reading. */
function unitOf(heading: string): string {
  const candidates = [/[([{/]\s*([^)\]}]+?)\s*[)\]}]?$/, /[_,\s]\s*(\S+)$/, /^(\S+)$/].map((pattern) => pattern.exec(heading)?.[1]).filter((text) => text !== undefined);
  return candidates.find(isUnit) ?? '';
}

export function isUnit(text: string): boolean {
  try {
    new TextLineDecoder({ unit: Buffer.from(text, 'utf8').toString('latin1') });
    return true;
  } catch {
    return false;
  }
}

function readingShare(cells: readonly string[], unit: string, decimal: 'point' | 'comma'): number {
  const decoder = cellDecoder(unit, decimal);
  return cells.length === 0 ? 0 : cells.filter((cell) => decoder.decodeLine(cell).kind === 'reading').length / cells.length;
}

function namesUnit(cells: readonly string[], decimal: 'point' | 'comma'): boolean {
  const decoder = cellDecoder('', decimal);
  return cells.some((cell) => {
    const decoded = decoder.decodeLine(cell);
    return decoded.kind === 'reading' && decoded.reading.quantity !== QUANTITIES[0];
  });
}

/** Reads a cell as the line of a meter. */
export interface CellDecoder {
  decodeLine(cell: string): DecodedLine;
}

/** @throws {RangeError} for a unit that is none of a reading */
export function cellDecoder(unit: string, decimal: 'point' | 'comma'): CellDecoder {
  const lines = new TextLineDecoder(unit === '' ? { decimal } : { decimal, unit: Buffer.from(unit, 'utf8').toString('latin1') });
  const sign = decimal === 'point' ? ',' : '.';
  const groups = new RegExp(`^(\\D*)(\\d{1,3}(?:\\${sign}\\d{3})+)(?!\\d)`);
  const between = new RegExp(`\\d\\${sign}\\d`);
  return {
    decodeLine(cell) {
      if (!cell.includes(sign)) return lines.decodeLine(cell);
      // Between groups of three digits the other sign says nothing; anywhere else between digits the number could be another one.
      const plain = cell.replace(groups, (_all, before: string, digits: string) => before + digits.replaceAll(sign, ''));
      return between.test(plain) ? { kind: 'skipped', why: 'no-value' } : lines.decodeLine(plain);
    },
  };
}
