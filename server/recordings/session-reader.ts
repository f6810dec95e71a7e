/** Reads one session file. Synchronous; never holds a cursor between calls, so the writer's log can always be folded in. */
import Database from 'better-sqlite3';
import { statSync } from 'node:fs';
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { readBlock } from './columns/block.ts';
import { RecordingError } from './errors.ts';
import type { EventRow } from './event-rows.ts';
import { LEVELS, readBuckets } from './overview.ts';
import type { RecordIdentity } from './chain.ts';
import { schemaVersion } from './schema.ts';
import { type StoredRecord, storedRecords, type TakeSeal } from './seal-chain.ts';
import { fromCanonical, joinSamples, sliceSamples, type StoredSamples } from './stored-samples.ts';
import { samplesWithGaps, TraceBuilder } from './trace.ts';

/** A running recording shows itself by its file's time; older than this, and nobody writes to it. */
export const FRESH_MS = 10_000;
/** A window with at most this many samples a column is sent whole. */
const WHOLE_SAMPLES_A_COLUMN = 2;
/** Unpacked blocks kept for the next request; each takes 1.4 MB. */
const KEPT_BLOCKS = 4;
/** Pages of a file kept by SQLite, KiB; the operating system keeps them too. */
const CACHE_KIB = 2048;

export interface StoredTake {
  readonly take: TakeRecord;
  /** The judged meter as it was described when the take began: what the take was judged by. */
  readonly meter: MeterRecord | null;
  readonly judgement: Judgement | null;
}

export interface Trace extends SampleColumns {
  /** False when these are all samples of the window (with a neighbour on each side), true for extremes per column. */
  readonly reduced: boolean;
}

const NOTHING: Trace = { ...samplesWithGaps(joinSamples([]), null, null), reduced: false };

interface Hashes {
  readonly position: number;
  readonly contentHash: Uint8Array;
  readonly chainHash: Uint8Array;
}

/** One link of the chain: what was sealed, and the hashes. */
export type Seal = (TakeSeal | RecordIdentity) & Hashes;

interface Part {
  readonly source: 'block' | 'tail';
  readonly first_sample: number;
  readonly samples: number;
  readonly first_us: number;
  readonly last_us: number;
}

interface Extent {
  readonly samples: number;
  readonly firstUs: number;
  readonly lastUs: number;
}

export class SessionReader {
  readonly path: string;
  /** Of its tables. */
  readonly version: number;
  readonly #db: Database.Database;
  readonly #statements: ReturnType<typeof statements>;
  readonly #blocks = new Map<string, StoredSamples>();
  readonly #intervals = new Map<string, number | null>();

  /** @throws {RecordingError} when the file is missing, damaged, of a later version or of something else */
  constructor(path: string) {
    this.path = path;
    this.#db = openForReading(path);
    try {
      this.#db.pragma(`cache_size = -${CACHE_KIB}`);
      this.version = schemaVersion(this.#db);
      if (this.version === 0) throw new RecordingError('SESSION_DAMAGED', 'The file is empty: the recording was interrupted before anything was saved.');
      this.#statements = statements(this.#db, this.version);
    } catch (error) {
      this.#db.close();
      throw damageOf(error);
    }
  }

  close(): void {
    this.#db.close();
  }

  get isOpen(): boolean {
    return this.#db.open;
  }

  info(): SessionInfo {
    return this.#guard(() => {
      const record = this.#statements.session.get() as { record: string } | undefined;
      if (record === undefined) throw new RecordingError('SESSION_DAMAGED', 'The file holds no session.');
      return JSON.parse(record.record) as SessionInfo;
    });
  }

  isClosed(): boolean {
    return this.#guard(() => (this.#statements.session.get() as { closed: number } | undefined)?.closed === 1);
  }

  /** True while a service writes to the file. */
  isBeingWritten(now: number): boolean {
    if (this.isClosed()) return false;
    const times = [this.path, `${this.path}-wal`].map((file) => {
      try {
        return statSync(file).mtimeMs;
      } catch {
        return 0;
      }
    });
    return Math.abs(now - Math.max(...times)) < FRESH_MS;
  }

  meters(): MeterRecord[] {
    return this.#guard(() => (this.#statements.meters.all() as string[]).map((record) => JSON.parse(record) as MeterRecord));
  }

  takes(): StoredTake[] {
    return this.#guard(() => (this.#statements.takes.all() as { record: string; meter: string | null; judgement: string | null }[]).map(({ record, meter, judgement }) => ({
      take: JSON.parse(record) as TakeRecord,
      meter: meter === null ? null : (JSON.parse(meter) as MeterRecord),
      judgement: judgement === null ? null : (JSON.parse(judgement) as Judgement),
    })));
  }

  takeCount(): number {
    return this.#guard(() => this.#statements.takeCount.get() as number);
  }

  marks(): MarkRecord[] {
    return this.#guard(() => (this.#statements.marks.all() as string[]).map((record) => JSON.parse(record) as MarkRecord));
  }

  /** A document kept under a name, or undefined. */
  document(name: string): unknown {
    return this.#guard(() => {
      const content = this.#statements.document.get(name) as string | undefined;
      return content === undefined ? undefined : (JSON.parse(content) as unknown);
    });
  }

  /** All documents by name. */
  documents(): Record<string, unknown> {
    return this.#guard(() => Object.fromEntries((this.#statements.documents.all() as { name: string; content: string }[])
      .map(({ name, content }) => [name, JSON.parse(content) as unknown])));
  }

  /** What was given up while the disk refused it. */
  losses(): Loss[] {
    return this.#guard(() => this.#statements.losses.all() as Loss[]);
  }

  seals(): Seal[] {
    return this.#guard(() => this.#statements.seals.all() as Seal[]);
  }

  /** The records that are sealed as they are written, as they are stored now. */
  records(): StoredRecord[] {
    return this.#guard(() => storedRecords(this.#db));
  }

  /**
   * Takes with a text (its own, its judgement's, its meter's, or one of its marks') that is not as it would be written: with a name twice, say, of which
   * SQLite gives the first and JSON.parse the last.
   */
  oddlyWritten(): number[] {
    return this.#guard(() => (this.#statements.takeTexts.all() as { take: number; text: string }[])
      .filter(({ text }) => JSON.stringify(JSON.parse(text)) !== text)
      .map(({ take }) => take));
  }

  /** The events of a take as they are listed. */
  events(take: number): EventRow[] {
    return this.#guard(() => this.#statements.events.all(take) as EventRow[]);
  }

  /** What SQLite finds wrong with the file; nothing when all is well. */
  integrityProblems(): string[] {
    try {
      const problems = (this.#db.pragma('integrity_check(20)') as { integrity_check: string }[]).map((row) => row.integrity_check);
      return problems.filter((problem) => problem !== 'ok');
    } catch (error) {
      // A record that is no JSON any more stops the check itself.
      return [(error as Error).message];
    }
  }

  /** Samples of a take and meter in sealed blocks and in the tail. */
  counts(take: number, meter: number): { readonly blocks: number; readonly tail: number } {
    return this.#guard(() => this.#statements.counts.get({ take, meter }) as { blocks: number; tail: number });
  }

  /** A sealed block by its first sample; null when there is none. */
  block(take: number, meter: number, firstSample: number): StoredSamples | null {
    return this.#guard(() => {
      const columns = this.#statements.blockColumns.get(take, meter, firstSample) as Buffer | undefined;
      return columns === undefined ? null : readBlock(columns);
    });
  }

  overviewChunks(take: number, meter: number): { readonly level: number; readonly chunk: number; readonly columns: Uint8Array }[] {
    return this.#guard(() => this.#statements.allChunks.all(take, meter) as { level: number; chunk: number; columns: Buffer }[]);
  }

  /** Meters that have samples in a take. */
  metersOf(take: number): number[] {
    return this.#guard(() => this.#statements.metersOf.all(take, take) as number[]);
  }

  /** Samples in a take of one meter, and the time they span; null when there are none. */
  extent(take: number, meter: number): Extent | null {
    return this.#guard(() => {
      const row = this.#statements.extent.get({ take, meter }) as { samples: number | null; first_us: number; last_us: number };
      return row.samples === null ? null : { samples: row.samples, firstUs: row.first_us, lastUs: row.last_us };
    });
  }

  /** Sequence number and time (us) of the newest of all sealed samples; 0 when there are none. Samples that were given up keep their numbers. */
  newest(): { readonly lastSeq: number; readonly lastUs: number } {
    return this.#guard(() => this.#statements.newest.get() as { lastSeq: number; lastUs: number });
  }

  /** Samples `from` (inclusive) to `to` (exclusive), counted within their take and meter from 0. */
  samples(take: number, meter: number, from: number, to: number): StoredSamples {
    return this.#guard(() => {
      const parts = this.#statements.partsByIndex.all({ take, meter, from, to }) as Part[];
      return joinSamples(parts.map((part) => {
        const samples = this.#read(take, meter, part);
        return sliceSamples(samples, Math.max(0, from - part.first_sample), Math.min(samples.length, to - part.first_sample));
      }));
    });
  }

  /**
   * What a plot of a window needs: all samples when they are few, else at most four points a column. So that lines lead on to
   * the edges, there is a sample before and after; of a reduced trace, points up to a column outside the window.
   * @param from session clock, s; may be -Infinity for the start of the take
   * @param to session clock, s; may be Infinity for its end
   * @throws {RecordingError} TAKE_NOT_FOUND
   */
  trace(take: number, meter: number, from: number, to: number, columns: number): Trace {
    return this.#guard(() => this.#db.transaction(() => {
      const extent = this.extent(take, meter);
      if (extent === null) {
        if (this.#statements.take.get(take) === undefined) throw new RecordingError('TAKE_NOT_FOUND', `This session has no take ${take}.`);
        return NOTHING;
      }
      const fromUs = Math.max(extent.firstUs, from * 1e6);
      const toUs = Math.min(extent.lastUs, to * 1e6);
      if (fromUs > toUs) return NOTHING;
      const intervalUs = this.#intervalUs(take, meter);
      const few = columns * WHOLE_SAMPLES_A_COLUMN;
      // Blocks that the window cuts are only read where their samples decide.
      const inside = this.#statements.samplesInside.get({ take, meter, fromUs, toUs }) as number;
      const inWindow = inside > few ? inside : inside + this.#countInCutParts(take, meter, fromUs, toUs);
      if (inWindow <= few) return this.#whole(take, meter, fromUs, toUs, intervalUs);
      const builder = new TraceBuilder(fromUs, toUs, columns, intervalUs);
      const levels = LEVELS.filter((level) => 2 ** level * columns <= inWindow);
      this.#collect(builder, take, meter, levels, fromUs, toUs);
      return { ...builder.finish(), reduced: true };
    })());
  }

  /**
   * Adds the window from the coarsest of `levels`; buckets that take more time than a column (where the meter was slow or
   * silent) from finer ones down to the samples themselves. So what is not shown lies within two columns of something
   * shown that is at least as deep: one for the bucket, one for the column. Buckets that the window cuts are added whole.
   */
  #collect(builder: TraceBuilder, take: number, meter: number, levels: readonly number[], fromUs: number, toUs: number): void {
    if (fromUs > toUs) return;
    const level = levels.at(-1);
    if (level === undefined) {
      this.#collectSamples(builder, take, meter, fromUs, toUs);
      return;
    }
    const finer = levels.slice(0, -1);
    let fineFromUs = fromUs;
    let coveredUs = fromUs;
    const chunks = this.#statements.chunks.all({ take, meter, level, fromUs, toUs }) as Buffer[];
    for (const columns of chunks) {
      const buckets = readBuckets(columns);
      for (let i = 0; i < buckets.length; i++) {
        const startUs = buckets.startUs[i]!;
        const endUs = buckets.endUs[i]!;
        if (endUs < fromUs || startUs > toUs) continue;
        if (endUs - startUs <= builder.columnUs) {
          if (fineFromUs < coveredUs) this.#collect(builder, take, meter, finer, fineFromUs, startUs - 1);
          builder.addBucket(buckets, i);
          fineFromUs = endUs + 1;
        }
        coveredUs = endUs + 1;
      }
    }
    this.#collect(builder, take, meter, finer, fineFromUs, toUs);
  }

  #collectSamples(builder: TraceBuilder, take: number, meter: number, fromUs: number, toUs: number): void {
    let lastUs: number | null = null;
    for (const part of this.#partsByTime(take, meter, fromUs, toUs)) {
      const samples = this.#read(take, meter, part);
      const first = lowerBound(samples.timeUs, fromUs);
      const end = lowerBound(samples.timeUs, toUs + 1);
      if (first === end) continue;
      builder.addSamples(sliceSamples(samples, first, end), first > 0 ? samples.timeUs[first - 1]! : lastUs ?? this.#timeBefore(take, meter, part.first_us));
      lastUs = samples.timeUs[end - 1]!;
    }
  }

  #whole(take: number, meter: number, fromUs: number, toUs: number, intervalUs: number | null): Trace {
    const parts = this.#partsByTime(take, meter, fromUs, toUs);
    let from: number;
    let to: number;
    if (parts.length === 0) {
      const before = this.#statements.countBefore.get({ take, meter, atUs: fromUs }) as number;
      [from, to] = [before - 1, before + 1];
    } else {
      const first = parts[0]!;
      const last = parts.at(-1)!;
      from = first.first_sample + lowerBound(this.#read(take, meter, first).timeUs, fromUs) - 1;
      to = last.first_sample + lowerBound(this.#read(take, meter, last).timeUs, toUs + 1) + 1;
    }
    const samples = this.samples(take, meter, Math.max(0, from - 1), to);
    const hasOneBefore = from >= 1;
    const shown = hasOneBefore ? sliceSamples(samples, 1, samples.length) : samples;
    return { ...samplesWithGaps(shown, hasOneBefore ? samples.timeUs[0]! : null, intervalUs), reduced: false };
  }

  /** Samples of the window in blocks that it cuts. */
  #countInCutParts(take: number, meter: number, fromUs: number, toUs: number): number {
    const cut = this.#statements.partsCut.all({ take, meter, fromUs, toUs }) as Part[];
    return cut.reduce((sum, part) => {
      const { timeUs } = this.#read(take, meter, part);
      return sum + lowerBound(timeUs, toUs + 1) - lowerBound(timeUs, fromUs);
    }, 0);
  }

  #partsByTime(take: number, meter: number, fromUs: number, toUs: number): Part[] {
    return this.#statements.partsByTime.all({ take, meter, fromUs, toUs }) as Part[];
  }

  #timeBefore(take: number, meter: number, atUs: number): number | null {
    return (this.#statements.timeBefore.get({ take, meter, atUs }) as number | null) ?? null;
  }

  /** Declared interval of the meter, else the median step of the take's first samples. */
  #intervalUs(take: number, meter: number): number | null {
    const declared = this.meters().find(({ index }) => index === meter)?.interval ?? null;
    if (declared !== null) return declared * 1e6;
    const key = `${take} ${meter}`;
    const known = this.#intervals.get(key);
    if (known !== undefined) return known;
    const { timeUs, length } = this.samples(take, meter, 0, 1001);
    const steps = Array.from({ length: Math.max(0, length - 1) }, (_, i) => timeUs[i + 1]! - timeUs[i]!).sort((a, b) => a - b);
    const median = steps[Math.floor(steps.length / 2)] ?? null;
    if (length > 1000) this.#intervals.set(key, median);
    return median;
  }

  #read(take: number, meter: number, part: Part): StoredSamples {
    if (part.source === 'tail') {
      const columns = this.#statements.tailColumns.get(take, meter, part.first_sample) as Buffer;
      return fromCanonical(Uint8Array.from(columns));
    }
    const key = `${take} ${meter} ${part.first_sample}`;
    const kept = this.#blocks.get(key);
    if (kept !== undefined) return kept;
    const samples = readBlock(this.#statements.blockColumns.get(take, meter, part.first_sample) as Buffer);
    if (samples.length !== part.samples) throw new RecordingError('SESSION_DAMAGED', `Block ${key} holds ${samples.length} samples instead of ${part.samples}.`);
    this.#blocks.set(key, samples);
    if (this.#blocks.size > KEPT_BLOCKS) this.#blocks.delete(this.#blocks.keys().next().value!);
    return samples;
  }

  #guard<Result>(read: () => Result): Result {
    try {
      return read();
    } catch (error) {
      throw damageOf(error);
    }
  }
}

/** Opens a session file by its path. @throws {RecordingError} when it is missing, damaged, of a later version or of something else */
export function openSession(path: string): SessionReader {
  return new SessionReader(path);
}

function openForReading(path: string): Database.Database {
  try {
    statSync(path);
  } catch (error) {
    throw new RecordingError('SESSION_NOT_FOUND', 'There is no such session.', { cause: error });
  }
  try {
    return new Database(path, { readonly: true, fileMustExist: true, timeout: 2000 });
  } catch (error) {
    throw damageOf(error);
  }
}

/** What SQLite or the columns report of a file, as an error that names it. */
export function damageOf(error: unknown): Error {
  if (error instanceof RecordingError) return error;
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code === 'SQLITE_BUSY') return new RecordingError('FILE_BUSY', 'The file is locked by another program. Close it and try again.', { cause: error });
  if (code.startsWith('SQLITE_') || code === 'DAMAGED_BYTES' || error instanceof SyntaxError || error instanceof RangeError) {
    return new RecordingError('SESSION_DAMAGED', `The file is damaged (${(error as Error).message}).`, { cause: error });
  }
  return error instanceof Error ? error : new Error(String(error));
}

/** Index of the first time that is at least `atUs`. */
function lowerBound(timeUs: Float64Array, atUs: number): number {
  let low = 0;
  let high = timeUs.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (timeUs[middle]! < atUs) low = middle + 1;
    else high = middle;
  }
  return low;
}

function statements(db: Database.Database, version: number) {
  const parts = (where: string) => `
    SELECT 'block' AS source, first_sample, samples, first_us, last_us FROM blocks WHERE take = @take AND meter = @meter AND ${where}
    UNION ALL
    SELECT 'tail' AS source, first_sample, samples, first_us, last_us FROM tail WHERE take = @take AND meter = @meter AND ${where}
    ORDER BY first_sample`;
  const both = (select: string, where: string) =>
    `SELECT ${select} FROM (SELECT * FROM (${parts(where)}))`;
  return {
    session: db.prepare('SELECT record, closed FROM session'),
    meters: db.prepare('SELECT record FROM meters ORDER BY meter').pluck(),
    takes: db.prepare('SELECT record, meter_record AS meter, judgement FROM takes ORDER BY take'),
    takeTexts: db.prepare(`SELECT take, record AS text FROM takes UNION ALL SELECT take, judgement FROM takes WHERE judgement IS NOT NULL
      UNION ALL SELECT take, meter_record FROM takes WHERE meter_record IS NOT NULL UNION ALL SELECT take, record FROM marks`),
    take: db.prepare('SELECT take FROM takes WHERE take = ?').pluck(),
    takeCount: db.prepare('SELECT count(*) FROM takes').pluck(),
    marks: db.prepare('SELECT record FROM marks ORDER BY at_s, mark').pluck(),
    documents: db.prepare('SELECT name, content FROM documents ORDER BY name'),
    document: db.prepare('SELECT content FROM documents WHERE name = ?').pluck(),
    losses: db.prepare('SELECT first_seq AS firstSeq, last_seq AS lastSeq, samples, from_s AS "from", to_s AS "to", why FROM losses ORDER BY loss'),
    seals: db.prepare(`SELECT position, kind, take, meter, first_sample AS firstSample, ${version === 1 ? '' : 'name, revision, '}content_hash AS contentHash,
      chain_hash AS chainHash FROM seals ORDER BY position`),
    events: db.prepare(`SELECT kind, start_s AS start, end_s AS "end", count, depth, over_range AS overRange, duration_s AS duration
      FROM events WHERE take = ? ORDER BY number`),
    counts: db.prepare(`SELECT (SELECT coalesce(sum(samples), 0) FROM blocks WHERE take = @take AND meter = @meter) AS blocks,
      (SELECT coalesce(sum(samples), 0) FROM tail WHERE take = @take AND meter = @meter) AS tail`),
    allChunks: db.prepare('SELECT level, chunk, columns FROM overview WHERE take = ? AND meter = ? ORDER BY level, chunk'),
    metersOf: db.prepare('SELECT DISTINCT meter FROM blocks WHERE take = ? UNION SELECT DISTINCT meter FROM tail WHERE take = ? ORDER BY meter').pluck(),
    extent: db.prepare(both('sum(samples) AS samples, min(first_us) AS first_us, max(last_us) AS last_us', 'true')),
    newest: db.prepare(`SELECT max((SELECT coalesce(max(last_seq), 0) FROM blocks), (SELECT coalesce(max(last_seq), 0) FROM losses)) AS lastSeq,
      (SELECT coalesce(max(last_us), 0) FROM blocks) AS lastUs`),
    partsByIndex: db.prepare(parts('first_sample < @to AND first_sample + samples > @from')),
    partsByTime: db.prepare(parts('first_us <= @toUs AND last_us >= @fromUs')),
    partsCut: db.prepare(parts('first_us <= @toUs AND last_us >= @fromUs AND NOT (first_us >= @fromUs AND last_us <= @toUs)')),
    samplesInside: db.prepare(both('coalesce(sum(samples), 0)', 'first_us >= @fromUs AND last_us <= @toUs')).pluck(),
    countBefore: db.prepare(both('coalesce(sum(samples), 0)', 'last_us < @atUs')).pluck(),
    timeBefore: db.prepare(both('max(last_us)', 'last_us < @atUs')).pluck(),
    tailColumns: db.prepare('SELECT columns FROM tail WHERE take = ? AND meter = ? AND first_sample = ?').pluck(),
    blockColumns: db.prepare('SELECT columns FROM blocks WHERE take = ? AND meter = ? AND first_sample = ?').pluck(),
    chunks: db.prepare(`SELECT columns FROM overview WHERE take = @take AND meter = @meter AND level = @level
      AND first_us <= @toUs AND last_us >= @fromUs ORDER BY chunk`).pluck(),
  };
}
