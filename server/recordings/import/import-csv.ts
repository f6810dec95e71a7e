/** Carries out a plan: a table of text becomes a session, its takes judged like any other. Row by row, in constant memory. */
import { rmSync } from 'node:fs';
import { basename } from 'node:path';
import { COUPLINGS, Flag, functionCode, QUANTITIES, type Quantity } from '../../../drivers/reading.ts';
import type { CheckKind, Limits, Watching } from '../../diagnosis/index.ts';
import { TakeWatch } from '../../session/take-watch.ts';
import type { Check, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../../session/session.ts';
import { flagsOfWords } from '../flag-words.ts';
import { reserveName, sessionPath } from '../names.ts';
import { SessionWriter } from '../session-writer.ts';
import { canonicalBatch } from '../stored-samples.ts';
import { type CsvRow, csvRows } from './csv-rows.ts';
import { cellDecoder, type CellDecoder } from './plan.ts';
import { isWallTime, isWithoutZone, localOffset, readTime } from './time-format.ts';
import type { ImportPlan, Imported } from '../offers.ts';

export interface ImportOptions {
  readonly title?: string | undefined;
  readonly vehicle?: string | undefined;
  readonly complaint?: string | undefined;
  /** What was checked; by the quantity of the first meter when not given. */
  readonly kind?: CheckKind | undefined;
  readonly watching?: Watching | undefined;
  readonly limits?: Limits | undefined;
  readonly accuracy?: MeterRecord['accuracy'] | undefined;
  /** Wall time of the session where the file names none, microseconds since 1970. */
  readonly nowUs: number;
  /** Share done, 0 to 1. */
  onProgress?(share: number): void;
  /** Stops the import; nothing is left behind. */
  readonly signal?: AbortSignal | undefined;
}

const SHOWN_SKIPS = 10;
const ROWS_AT_ONCE = 8192;
const USUAL_KIND: Partial<Record<Quantity, CheckKind>> = { voltage: 'supply', resistance: 'continuity', current: 'current' };

/**
 * @param folder of the recordings
 * @throws {RangeError} for a plan that fits no row; AbortError when stopped; {Error} of the file system or SQLite
 */
export async function importCsv(file: string, folder: string, plan: ImportPlan, options: ImportOptions): Promise<Imported> {
  const importing = new Import(file, folder, plan, options);
  try {
    let rowsToSkip = plan.headingRows;
    for await (const row of csvRows(file, plan.delimiter)) {
      if (rowsToSkip-- > 0) continue;
      importing.add(row);
      if (importing.rows % ROWS_AT_ONCE === 0) {
        options.signal?.throwIfAborted();
        options.onProgress?.(row.share);
      }
    }
    options.signal?.throwIfAborted();
    const imported = importing.finish();
    options.onProgress?.(1);
    return imported;
  } catch (error) {
    importing.discard();
    throw error;
  }
}

interface Row {
  readonly line: number;
  readonly take: number;
  /** From the meter column; 0 where the columns of values are the meters. */
  readonly meter: number;
  readonly time: number;
  readonly cells: readonly string[];
}

interface OpenTake {
  readonly record: TakeRecord;
  readonly watch: TakeWatch;
  /** Time of the last row by meter, s. */
  readonly last: Map<number, number>;
}

class Import {
  rows = 0;
  readonly #file: string;
  readonly #folder: string;
  readonly #plan: ImportPlan;
  readonly #options: ImportOptions;
  readonly #times: TimeColumn;
  readonly #decoders: readonly CellDecoder[];
  readonly #takes = new Map<number, OpenTake>();
  readonly #meters = new Map<number, MeterRecord>();
  readonly #batches = new Map<number, Growing>();
  readonly #skippedFirst: { line: number; why: string }[] = [];
  #writer: SessionWriter | null = null;
  #session = '';
  /** Rows that wait for the time after theirs. */
  #held: Row[] = [];
  #batchTake = 0;
  #seq = 1;
  #samples = 0;
  #skipped = 0;
  #spread = 0;
  #tick = Infinity;

  constructor(file: string, folder: string, plan: ImportPlan, options: ImportOptions) {
    this.#file = file;
    this.#folder = folder;
    this.#plan = plan;
    this.#options = options;
    this.#times = new TimeColumn(plan);
    this.#decoders = plan.values.map(({ unit }) => cellDecoder(unit, plan.decimal));
    if (plan.values.length === 0) throw new RangeError('choose at least one column of values');
    if (plan.meterColumn !== null && plan.values.length > 1) throw new RangeError('with a column that numbers the meters there is one column of values');
    if (plan.time === null && !(plan.interval !== null && plan.interval > 0)) throw new RangeError('without a time column the interval of the samples is needed');
  }

  add({ line, cells }: CsvRow): void {
    this.rows++;
    const time = this.#times.read(cells, this.rows);
    const take = wholeNumber(cells, this.#plan.takeColumn, 1);
    const meter = wholeNumber(cells, this.#plan.meterColumn, 0);
    if (time === null) return this.#skip(line, `no time can be read from "${this.#times.textOf(cells)}"`);
    if (take === null || take < 1) return this.#skip(line, 'the number of the take can not be read');
    if (meter === null || meter > 254) return this.#skip(line, 'the number of the meter can not be read');
    const [first] = this.#held;
    if (first !== undefined && (time !== first.time || take !== first.take || meter !== first.meter)) {
      const isSameStream = take === first.take && meter === first.meter;
      if (isSameStream && time < first.time) return this.#skip(line, 'its time is before that of the row above');
      this.#release(isSameStream ? time : null);
    }
    this.#held.push({ line, take, meter, time, cells });
  }

  finish(): Imported {
    this.#release(null);
    if (this.#writer === null) {
      const [first] = this.#skippedFirst;
      throw new RangeError(first === undefined ? 'the file holds no rows' : `no row could be used; line ${first.line}: ${first.why}`);
    }
    this.#flush();
    for (const { record, watch, last } of this.#takes.values()) {
      this.#writer.commit([{ type: 'end-take', take: { ...record, end: Math.max(...last.values()), ending: 'stopped' }, judgement: watch.view().judgement }]);
    }
    this.#writer.finish();
    return { session: this.#session, samples: this.#samples, takes: this.#takes.size, skipped: this.#skipped, skippedFirst: this.#skippedFirst, spread: this.#spread };
  }

  discard(): void {
    if (this.#writer === null) return;
    this.#writer.abandon();
    for (const ending of ['', '-wal', '-shm', '-journal']) rmSync(this.#writer.path + ending, { force: true });
  }

  /** Rows that share a time are spread from it to the next, at most over the smallest step that times in this file make. */
  #release(next: number | null): void {
    const n = this.#held.length;
    if (n === 0) return;
    const { time } = this.#held[0]!;
    if (next !== null) this.#tick = Math.min(this.#tick, next - time);
    const span = Math.min(this.#tick, next === null ? Infinity : next - time);
    const step = Number.isFinite(span) ? span / n : 0.001;
    this.#spread += n - 1;
    this.#held.forEach((row, i) => this.#take(row, time + i * step));
    this.#held = [];
  }

  #take({ line, take, meter, cells }: Row, wall: number): void {
    if (this.#writer === null) this.#begin(wall);
    const time = Math.round((wall - this.#times.start) * 1e6) / 1e6;
    if (take !== this.#batchTake) this.#flush();
    this.#batchTake = take;
    const unit = this.#plan.unitColumn === null ? '' : cells[this.#plan.unitColumn] ?? '';
    const resolution = this.#plan.resolutionColumn === null ? '' : cells[this.#plan.resolutionColumn] ?? '';
    const flags = this.#flagsOf(cells);
    const open = this.#openTake(take, meter, time, cells, unit);
    if (time <= (open.last.get(meter) ?? -Infinity)) return this.#skip(line, 'its time is not after that of the row above');
    open.last.set(meter, time);
    let isAny = false;
    for (const [i, { column, label }] of this.#plan.values.entries()) {
      const number = this.#plan.meterColumn === null ? i : meter;
      const exact = exactReading(this.#plan, cells, column);
      if (exact !== null) {
        this.#batchOf(number, label).add({ ...exact, time, arrival: (exact.arrival ?? wall) - this.#times.start, flags });
        isAny = true;
      } else if (this.#batchOf(number, label).addCell(time, this.#decoders[i]!, cells[column] ?? '', unit, flags, resolution)) isAny = true;
    }
    if (!isAny) this.#skip(line, 'no value can be read');
    if (this.#batchOf(meter, '').length >= ROWS_AT_ONCE) this.#flush();
  }

  #flagsOf(cells: readonly string[]): number {
    const text = this.#plan.flagColumn === null ? '' : cells[this.#plan.flagColumn] ?? '';
    switch (text.toLowerCase()) {
      case '': return 0;
      case 'ol': return Flag.overRange;
      case 'blank': return Flag.blank;
      case 'hold': return Flag.hold;
      default: return flagsOfWords(text) ?? 0;
    }
  }

  #begin(wall: number): void {
    const plan = this.#plan;
    const hasWallTime = plan.time !== null && isWallTime(plan.time.format);
    // Relative times keep their own zero; wall times count from the first row.
    this.#times.start = hasWallTime ? Math.floor(wall) : Math.min(0, wall);
    const startedAtUs = hasWallTime ? this.#times.start * 1e6 : this.#options.nowUs;
    this.#session = reserveName(this.#folder, startedAtUs);
    const { title = `Imported from ${basename(this.#file)}`, vehicle = '', complaint = '' } = this.#options;
    const info: SessionInfo = { id: this.#session, startedAtUs, title, vehicle, complaint };
    this.#writer = new SessionWriter(sessionPath(this.#folder, this.#session), info, []);
    this.#writer.commit([{ type: 'document', name: 'import', content: { file: basename(this.#file), plan } }]);
  }

  #batchOf(meter: number, label: string): Growing {
    let batch = this.#batches.get(meter);
    if (batch === undefined) {
      this.#meterOf(meter, label);
      batch = new Growing();
      this.#batches.set(meter, batch);
    }
    return batch;
  }

  #meterOf(index: number, label: string): MeterRecord {
    const known = this.#meters.get(index);
    if (known !== undefined) return known;
    const meter: MeterRecord = {
      index, address: `import:${basename(this.#file)}`, label: this.#plan.meterColumn === null ? label : `meter ${index}`, simulated: false,
      interval: this.#plan.time === null ? this.#plan.interval : null, aperture: null, accuracy: this.#options.accuracy ?? null, leadOhms: null,
    };
    this.#meters.set(index, meter);
    this.#writer!.commit([{ type: 'meters', meters: [meter] }]);
    return meter;
  }

  #openTake(id: number, meter: number, start: number, cells: readonly string[], unit: string): OpenTake {
    const known = this.#takes.get(id);
    if (known !== undefined) return known;
    const { watching = 'wiggle', limits = { low: null, high: null } } = this.#options;
    const decoded = this.#decoders[0]!.decodeLine(`${cells[this.#plan.values[0]!.column] ?? ''} ${unit}`);
    const quantity = decoded.kind === 'reading' ? decoded.reading.quantity : 'unknown';
    const check: Check = {
      id: 'imported', kind: this.#options.kind ?? USUAL_KIND[quantity] ?? 'supply', red: '', black: '', limits,
      limitsBasis: limits.low === null && limits.high === null ? 'none given' : 'typed by the user', condition: '', instructions: [], cautions: [],
    };
    const judged = this.#meterOf(meter, this.#plan.values[0]!.label);
    const record: TakeRecord = { id, check, watching, meter, start, end: null, ending: 'running' };
    const open = { record, watch: new TakeWatch(record, judged), last: new Map<number, number>() };
    this.#takes.set(id, open);
    this.#writer!.commit([{ type: 'start-take', take: record }]);
    return open;
  }

  #flush(): void {
    const open = this.#takes.get(this.#batchTake);
    if (open === undefined) return;
    for (const [meter, growing] of this.#batches) {
      if (growing.length === 0) continue;
      const batch = growing.batch(meter, this.#batchTake, this.#seq);
      this.#seq += batch.length;
      this.#samples += batch.length;
      if (meter === open.record.meter) open.watch.push(batch);
      this.#writer!.commit([{ type: 'samples', take: this.#batchTake, meter, bytes: canonicalBatch(batch) }]);
      growing.clear();
    }
    while (this.#writer!.sealNext());
  }

  #skip(line: number, why: string): void {
    this.#skipped++;
    if (this.#skippedFirst.length < SHOWN_SKIPS) this.#skippedFirst.push({ line, why });
  }
}

/** A whole number from a column; `otherwise` where there is no such column, null where the cell holds none. */
function wholeNumber(cells: readonly string[], column: number | null, otherwise: number): number | null {
  if (column === null) return otherwise;
  const text = cells[column] ?? '';
  return /^\d{1,9}$/.test(text) ? Number(text) : null;
}

/** Seconds of each row, from whatever column the plan names. */
class TimeColumn {
  /** Taken off every time, s. */
  start = 0;
  readonly #plan: ImportPlan;
  #days = 0;
  #offset: number | null = null;
  #last = -Infinity;

  constructor(plan: ImportPlan) {
    this.#plan = plan;
  }

  textOf(cells: readonly string[]): string {
    const { time } = this.#plan;
    if (time === null) return '';
    const text = cells[time.column] ?? '';
    return time.dateColumn === null ? text : `${cells[time.dateColumn] ?? ''} ${text}`;
  }

  /** @param row counted from 1 */
  read(cells: readonly string[], row: number): number | null {
    const { time, interval } = this.#plan;
    if (time === null) return row * interval!;
    const text = this.textOf(cells);
    const seconds = readTime(text, time.format);
    if (seconds === null) return null;
    if (time.zone === 'local' && isWithoutZone(text, time.format)) {
      // That of the first row for all: a clock that is put forward or back in between does not move the samples.
      this.#offset ??= localOffset(seconds);
      return seconds - this.#offset;
    }
    if (time.format !== 'clock') return seconds;
    // A clock that falls by more than half a day has passed midnight.
    if (seconds + this.#days < this.#last - 43_200) this.#days += 86_400;
    this.#last = seconds + this.#days;
    return this.#last;
  }
}

/** A row of our own export: its numbers are those that were stored, to the last bit. Null where the table does not say what is measured. */
function exactReading({ quantityColumn, couplingColumn, resolutionColumn, arrivalColumn }: ImportPlan, cells: readonly string[], column: number) {
  const cell = (index: number | null) => (index === null ? '' : cells[index] ?? '');
  const quantity = QUANTITIES.find((one) => one === cell(quantityColumn));
  const coupling = COUPLINGS.find((one) => one === cell(couplingColumn));
  if (quantity === undefined || coupling === undefined) return null;
  const arrival = exactNumber(cell(arrivalColumn));
  return {
    value: exactNumber(cell(column)), resolution: exactNumber(cell(resolutionColumn)), functionCode: functionCode(quantity, coupling),
    arrival: Number.isNaN(arrival) ? null : arrival,
  };
}

/** A double as XML Schema writes it; NaN for an empty cell. */
function exactNumber(text: string): number {
  return text === '' ? NaN : Number(text.replace('INF', 'Infinity'));
}

interface ImportedSample {
  readonly time: number;
  readonly arrival: number;
  readonly value: number;
  readonly resolution: number;
  readonly flags: number;
  readonly functionCode: number;
}

/** A batch that grows row by row. */
class Growing {
  length = 0;
  #columns = { time: new Float64Array(ROWS_AT_ONCE), arrival: new Float64Array(ROWS_AT_ONCE), value: new Float64Array(ROWS_AT_ONCE), resolution: new Float64Array(ROWS_AT_ONCE), flags: new Uint16Array(ROWS_AT_ONCE), functionCode: new Uint8Array(ROWS_AT_ONCE) };

  /** @returns false for a cell that holds no reading and no flag */
  addCell(time: number, decoder: CellDecoder, cell: string, unit: string, flags: number, resolution: string): boolean {
    const decoded = decoder.decodeLine(unit === '' ? cell : `${cell} ${unit}`);
    const isGone = (flags & (Flag.overRange | Flag.blank)) !== 0;
    if (decoded.kind === 'reading' && !isGone) {
      const { reading } = decoded;
      this.add({
        time, arrival: time, value: reading.value, resolution: resolution === '' ? reading.resolution : Number(resolution),
        flags: reading.flags | flags, functionCode: functionCode(reading.quantity, reading.coupling),
      });
      return true;
    }
    if (flags === 0 && decoded.kind !== 'empty') return false;
    if (flags === 0 && cell === '') return false;
    const zero = decoder.decodeLine(`0 ${unit}`);
    const code = zero.kind === 'reading' ? functionCode(zero.reading.quantity, zero.reading.coupling) : 0;
    this.add({ time, arrival: time, value: NaN, resolution: NaN, flags: isGone ? flags : flags | Flag.blank, functionCode: code });
    return true;
  }

  batch(meter: number, take: number, firstSeq: number): SampleBatch {
    const n = this.length;
    const { time, arrival, value, resolution, flags, functionCode: codes } = this.#columns;
    return {
      meter, take, firstSeq, length: n, time: time.slice(0, n), arrival: arrival.slice(0, n), value: value.slice(0, n),
      resolution: resolution.slice(0, n), flags: flags.slice(0, n), functionCode: codes.slice(0, n),
    };
  }

  clear(): void {
    this.length = 0;
  }

  add(sample: ImportedSample): void {
    const i = this.length++;
    this.#columns.time[i] = sample.time;
    this.#columns.arrival[i] = sample.arrival;
    this.#columns.value[i] = sample.value;
    this.#columns.resolution[i] = sample.resolution;
    this.#columns.flags[i] = sample.flags;
    this.#columns.functionCode[i] = sample.functionCode;
  }
}
