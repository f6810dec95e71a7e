/** Reads one session file. Synchronous; never holds a cursor between calls, so the writer's log can always be folded in. */
import Database from 'better-sqlite3';
import { statSync } from 'node:fs';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { readBlock } from './columns/block.ts';
import { damageOf, RecordingError } from './errors.ts';
import type { EventRow } from './event-rows.ts';
import type { RecordIdentity } from './chain.ts';
import { type Extent, SampleReader, type Trace } from './sample-reader.ts';
import { schemaVersion } from './schema.ts';
import { type StoredRecord, storedRecords, type TakeSeal } from './seal-chain.ts';
import type { StoredSamples } from './stored-samples.ts';

/** A running recording shows itself by its file's time; older than this, and nobody writes to it. */
export const FRESH_MS = 10_000;
/** Pages of a file kept by SQLite, KiB; the operating system keeps them too. */
const CACHE_KIB = 2048;

export interface StoredTake {
  readonly take: TakeRecord;
  /** The judged meter as it was described when the take began: what the take was judged by. */
  readonly meter: MeterRecord | null;
  readonly judgement: Judgement | null;
}

interface Hashes {
  readonly position: number;
  readonly contentHash: Uint8Array;
  readonly chainHash: Uint8Array;
}

/** One link of the chain: what was sealed, and the hashes. */
export type Seal = (TakeSeal | RecordIdentity) & Hashes;

export class SessionReader {
  readonly path: string;
  /** Of its tables. */
  readonly version: number;
  readonly #db: Database.Database;
  readonly #statements: ReturnType<typeof statements>;
  readonly #samples: SampleReader;

  /** @throws {RecordingError} when the file is missing, damaged, of a later version or of something else */
  constructor(path: string) {
    this.path = path;
    this.#db = openForReading(path);
    try {
      this.#db.pragma(`cache_size = -${CACHE_KIB}`);
      this.version = schemaVersion(this.#db);
      if (this.version === 0) throw new RecordingError('SESSION_DAMAGED', 'The file is empty: the recording was interrupted before anything was saved.');
      this.#statements = statements(this.#db, this.version);
      this.#samples = new SampleReader(this.#db);
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
    return this.#guard(() => this.#samples.extent(take, meter));
  }

  /** Sequence number and time (us) of the newest of all sealed samples; 0 when there are none. Samples that were given up keep their numbers. */
  newest(): { readonly lastSeq: number; readonly lastUs: number } {
    return this.#guard(() => this.#statements.newest.get() as { lastSeq: number; lastUs: number });
  }

  /** Samples `from` (inclusive) to `to` (exclusive), counted within their take and meter from 0. */
  samples(take: number, meter: number, from: number, to: number): StoredSamples {
    return this.#guard(() => this.#samples.samples(take, meter, from, to));
  }

  /** What a plot of a window needs; see `SampleReader.trace`. @throws {RecordingError} TAKE_NOT_FOUND */
  trace(take: number, meter: number, from: number, to: number, columns: number): Trace {
    return this.#guard(() => this.#samples.trace(take, meter, from, to, columns));
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

/**
 * Opens a session file for as long as it is used, and closes it whatever happens; after a promise, once that is settled.
 * @throws {RecordingError} like `openSession`
 */
export function readSession<Result>(path: string, use: (reader: SessionReader) => Result): Result {
  const reader = openSession(path);
  let isPromised = false;
  try {
    const result = use(reader);
    if (!(result instanceof Promise)) return result;
    isPromised = true;
    return result.finally(() => reader.close()) as Result;
  } finally {
    if (!isPromised) reader.close();
  }
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

function statements(db: Database.Database, version: number) {
  return {
    session: db.prepare('SELECT record, closed FROM session'),
    meters: db.prepare('SELECT record FROM meters ORDER BY meter').pluck(),
    takes: db.prepare('SELECT record, meter_record AS meter, judgement FROM takes ORDER BY take'),
    takeTexts: db.prepare(`SELECT take, record AS text FROM takes UNION ALL SELECT take, judgement FROM takes WHERE judgement IS NOT NULL
      UNION ALL SELECT take, meter_record FROM takes WHERE meter_record IS NOT NULL UNION ALL SELECT take, record FROM marks`),
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
    newest: db.prepare(`SELECT max((SELECT coalesce(max(last_seq), 0) FROM blocks), (SELECT coalesce(max(last_seq), 0) FROM losses)) AS lastSeq,
      (SELECT coalesce(max(last_us), 0) FROM blocks) AS lastUs`),
    blockColumns: db.prepare('SELECT columns FROM blocks WHERE take = ? AND meter = ? AND first_sample = ?').pluck(),
  };
}
