/**
 * A stored take as comma-separated text: columns `time,value,unit` and optional `flag`, `resolution` (value of one count, in the unit of the row). Comma, semicolon or tab; decimal comma with
 * the last two; byte order mark and any line ending are accepted. Units may carry SI prefixes.
 */
import { CsvError, parse } from 'csv-parse';
import type { Readable } from 'node:stream';
import { Flag, functionCode } from '../../drivers/reading.ts';
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import type { SampleColumns } from '../diagnosis/index.ts';
import { respaceBursts } from './burst-times.ts';

/** A file that can't be judged: what is wrong, and on which line (1 is the heading; 0 when no line is to blame). */
export class UnusableFile extends Error {
  readonly code = 'FILE_UNUSABLE';
  readonly line: number;
  constructor(line: number, reason: string) {
    super(line > 0 ? `line ${line}: ${reason}` : reason);
    this.name = 'UnusableFile';
    this.line = line;
  }
}

/** What the reader of tables stumbled over, with its line; any other error as it is. @param what  that can't be read as a table */
export function ofTable(error: unknown, what: string): unknown {
  if (!(error instanceof CsvError)) return error;
  // It quotes what it found, which may be anything.
  const why = error.message.replaceAll(/[^\x20-\x7e]+/g, '?').slice(0, 120);
  return new UnusableFile((error as { lines?: number }).lines ?? 0, `the ${what} can't be read as a table (${why})`);
}

export interface TakeFile {
  readonly samples: SampleColumns;
  readonly quantity: Quantity;
  /** Line of each sample. */
  readonly lines: Uint32Array;
}

const NO_FLAG = 0;
const FLAGS: Record<string, number> = { '': NO_FLAG, ol: Flag.overRange, hold: Flag.hold, blank: Flag.blank };
const PREFIX: Record<string, number> = { p: 1e-12, n: 1e-9, u: 1e-6, '\u00b5': 1e-6, '\u03bc': 1e-6, m: 1e-3, '': 1, k: 1e3, K: 1e3, M: 1e6, G: 1e9 };
const UNIT: Record<string, Quantity> = {
  v: 'voltage', volt: 'voltage', volts: 'voltage', a: 'current', amp: 'current', ohm: 'resistance', ohms: 'resistance', '\u03c9': 'resistance',
  hz: 'frequency', f: 'capacitance', degc: 'temperature', '\u00b0c': 'temperature', s: 'conductance', w: 'power', '%': 'duty',
};

/** @returns quantity, coupling and scale to SI; null for text that names no unit known here */
export function readUnit(text: string): { quantity: Quantity; coupling: Coupling; scale: number } | null {
  const match = /^(.*?)\s*(ac\+dc|ac|dc)?$/i.exec(text.trim());
  if (match === null) return null;
  const bare = match[1] as string;
  const coupling: Coupling = match[2] === undefined ? 'none' : match[2].toLowerCase() === 'ac+dc' ? 'acdc' : match[2].toLowerCase() === 'ac' ? 'ac' : 'dc';
  const whole = UNIT[bare.toLowerCase()];
  if (whole !== undefined) return { quantity: whole, coupling, scale: whole === 'duty' ? 0.01 : 1 };
  const scale = PREFIX[bare.charAt(0)];
  const quantity = UNIT[bare.slice(1).toLowerCase()];
  if (scale === undefined || quantity === undefined || quantity === 'duty' || quantity === 'temperature') return null;
  return { quantity, coupling, scale };
}

/** Number as written, and the value of its last digit; null for text that is no number. */
export function readNumber(text: string): { value: number; step: number } | null {
  const match = /^[+-]?\s*(\d*)(?:\.(\d*))?(?:e([+-]?\d+))?$/i.exec(text);
  if (match === null || ((match[1] ?? '') === '' && (match[2] ?? '') === '')) return null;
  const exponent = Number(match[3] ?? 0);
  // Written by its exponent, so that 0.01 is exactly 0.01.
  return { value: Number(text.replace(/\s/g, '')), step: Number(`1e${exponent - (match[2] ?? '').length}`) };
}

class Columns {
  length = 0;
  time = new Float64Array(1024);
  value = new Float64Array(1024);
  step = new Float64Array(1024);
  flags = new Uint16Array(1024);
  codes = new Uint8Array(1024);
  lines = new Uint32Array(1024);

  add(time: number, value: number, step: number, flags: number, code: number, line: number): void {
    if (this.length === this.time.length) this.#grow();
    const i = this.length++;
    this.time[i] = time;
    this.value[i] = value;
    this.step[i] = step;
    this.flags[i] = flags;
    this.codes[i] = code;
    this.lines[i] = line;
  }

  #grow(): void {
    const n = this.length * 2;
    const longer = (old: Float64Array): Float64Array<ArrayBuffer> => { const next = new Float64Array(n); next.set(old); return next; };
    this.time = longer(this.time);
    this.value = longer(this.value);
    this.step = longer(this.step);
    const flags = new Uint16Array(n);
    flags.set(this.flags);
    this.flags = flags;
    const codes = new Uint8Array(n);
    codes.set(this.codes);
    this.codes = codes;
    const lines = new Uint32Array(n);
    lines.set(this.lines);
    this.lines = lines;
  }
}

/** The separator of the heading; put back, so that the table is read from its beginning. */
async function findDelimiter(input: Readable): Promise<string> {
  for await (const chunk of input.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>) {
    const heading = /^\W*[^\r\n]*/.exec(chunk.toString('utf8'))?.[0] ?? '';
    input.unshift(chunk);
    return [';', '\t'].find((one) => heading.includes(one)) ?? ',';
  }
  return ',';
}

interface Row { readonly record: string[]; readonly info: { readonly lines: number } }

/**
 * @param interval  declared sample interval, s; null to take it from the times
 * @throws {UnusableFile} naming the line
 */
export async function readTakeFile(input: Readable, interval: number | null): Promise<TakeFile> {
  const delimiter = await findDelimiter(input);
  const parser = parse({
    bom: true, delimiter, relax_column_count: true, skip_empty_lines: true, trim: true, info: true, max_record_size: 65536,
  });
  // An unreadable file ends the parser with the same error.
  input.on('error', (error) => parser.destroy(error));
  input.pipe(parser);
  const columns = new Columns();
  const number = (text: string): ReturnType<typeof readNumber> => readNumber(delimiter === ',' ? text : text.replace(',', '.'));
  let at: ReturnType<typeof findColumns> | null = null;
  const firsts: Record<string, string> = {};
  let quantity: Quantity | null = null;
  let firstUnit = '';
  let code = 0;
  let unitText = '';
  let unit: ReturnType<typeof readUnit> = null;
  try {
    for await (const { record, info } of parser as AsyncIterable<Row>) {
      const line = info.lines;
      if (at === null) {
        at = findColumns(record, line);
        continue;
      }
      const cell = (i: number): string => (i < 0 ? '' : record[i] ?? '');
      for (const [name, column] of at.alike) {
        const first = (firsts[name] ??= cell(column));
        if (cell(column) !== first) throw new UnusableFile(line, `${name} ${first} is followed by ${name} ${cell(column)}: judge one ${name} at a time`);
      }
      const time = number(cell(at.time));
      if (time === null || !Number.isFinite(time.value)) throw new UnusableFile(line, `time is "${cell(at.time)}", not a number of seconds`);
      const flagText = cell(at.flag).toLowerCase();
      let flags = FLAGS[flagText];
      if (flags === undefined) throw new UnusableFile(line, `flag is "${cell(at.flag)}"; known are OL, hold and blank`);
      const text = cell(at.value);
      let value = Number.NaN;
      let step = Number.NaN;
      if (/^[+-]?\s*o\.?l\.?$/i.test(text)) flags |= Flag.overRange;
      else if (text === '' || /^nan$/i.test(text)) flags |= (flags & Flag.overRange) === 0 ? Flag.blank : 0;
      else if ((flags & Flag.overRange) === 0) {
        const read = number(text);
        if (read === null) throw new UnusableFile(line, `value is "${text}", not a number`);
        // IEEE 488.2 instruments write 9.9E37 for what is beyond the range.
        if (Math.abs(read.value) >= 9.9e37) flags |= Flag.overRange;
        else ({ value, step } = read);
      }
      const unitCell = cell(at.unit);
      if (unitCell !== unitText || unit === null) {
        if (unitCell !== '' || value === value) {
          unit = readUnit(unitCell);
          if (unit === null) throw new UnusableFile(line, unitCell === '' ? 'the unit is missing' : `unit is "${unitCell}", which is none of V, A, Ohm, Hz, F, degC, S, W, % with an SI prefix`);
          if (quantity !== null && unit.quantity !== quantity) {
            throw new UnusableFile(line, `the unit changes from ${firstUnit} to ${unitCell}: one take measures one quantity`);
          }
          quantity ??= unit.quantity;
          firstUnit ||= unitCell;
          unitText = unitCell;
          code = functionCode(unit.quantity, unit.coupling);
        }
      }
      const scale = unit?.scale ?? 1;
      if (at.resolution >= 0) step = number(cell(at.resolution))?.value ?? Number.NaN;
      columns.add(time.value, value * scale, step * scale, flags, code, line);
    }
  } catch (error) {
    throw ofTable(error, 'text');
  }
  if (at === null) throw new UnusableFile(0, 'the file is empty');
  if (columns.length === 0 || quantity === null) throw new UnusableFile(0, 'the file has a heading but no readings');
  return finish(columns, quantity, interval, at.resolution >= 0);
}

/** What an export of several takes or meters tells apart. */
const ALIKE = ['take', 'meter'];

function findColumns(heading: readonly string[], line: number) {
  const names = heading.map((name) => name.toLowerCase());
  const missing = ['time', 'value', 'unit'].filter((name) => !names.includes(name));
  if (missing.length > 0) throw new UnusableFile(line, `the heading lacks ${missing.map((m) => `"${m}"`).join(' and ')}; needed are time, value, unit and, if any, flag`);
  return {
    time: names.indexOf('time'), value: names.indexOf('value'), unit: names.indexOf('unit'), flag: names.indexOf('flag'), resolution: names.indexOf('resolution'),
    alike: ALIKE.map((name) => [name, names.indexOf(name)] as const).filter(([, column]) => column >= 0),
  };
}

function finish(columns: Columns, quantity: Quantity, interval: number | null, isResolutionGiven: boolean): TakeFile {
  const n = columns.length;
  const time = columns.time.subarray(0, n);
  const lines = columns.lines.subarray(0, n);
  const bad = respaceBursts(time, interval);
  if (bad >= 0) throw new UnusableFile(lines[bad] as number, `time ${time[bad]} does not come after ${time[bad - 1]} of the reading before`);
  return {
    quantity, lines,
    samples: {
      length: n, time, value: columns.value.subarray(0, n), resolution: isResolutionGiven ? columns.step.subarray(0, n) : resolutions(columns), flags: columns.flags.subarray(0, n), functionCode: columns.codes.subarray(0, n),
    },
  };
}

/** Digits beyond which a number was not read off a display but computed. */
const MOST_DIGITS = 9;

/**
 * Value of one count for each reading, from the digits written. Programs that drop trailing zeros write 12.1 for 12.10: where no
 * number ends in a zero after the point, the finest step of the file stands for all. Computed numbers have no count.
 */
function resolutions({ length, value, step }: Columns): Float64Array {
  let finest = Infinity;
  let coarser = 0;
  let endsInZero = 0;
  let digits = 0;
  for (let i = 0; i < length; i++) {
    const s = step[i] as number;
    if (s !== s) continue;
    if (s < finest) finest = s;
    const counts = Math.round((value[i] as number) / s);
    if (counts !== 0) digits = Math.max(digits, Math.log10(Math.abs(counts)));
    if (s < 1 && counts !== 0 && counts % 10 === 0) endsInZero++;
  }
  for (let i = 0; i < length; i++) if ((step[i] as number) > 1.5 * finest) coarser++;
  const result = new Float64Array(length);
  if (digits > MOST_DIGITS || !Number.isFinite(finest)) return result.fill(Number.NaN);
  if (coarser > 0 && endsInZero === 0) return result.fill(finest);
  let last = finest;
  for (let i = 0; i < length; i++) {
    const s = step[i] as number;
    if (s === s) last = s;
    result[i] = last;
  }
  return result;
}
