/**
 * Writes one session file. `commit` puts everything handed in into one transaction; blocks that have become full wait
 * to be sealed in steps of a few milliseconds, so that sealing never holds up a commit for long.
 */
import Database from 'better-sqlite3';
import { statSync, utimesSync } from 'node:fs';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { lossText, samplesHash, takeHash } from './chain.ts';
import { BLOCK_SAMPLES, blockSteps } from './columns/block.ts';
import { RecordingError } from './errors.ts';
import { eventRows } from './event-rows.ts';
import { OverviewBuilder } from './overview-builder.ts';
import { bucketsOf, writeBuckets } from './overview.ts';
import { APPLICATION_ID, migrate } from './schema.ts';
import { SealChain } from './seal-chain.ts';
import { openSession } from './session-reader.ts';
import { fromCanonical, joinSamples, sliceSamples, type StoredSamples, toCanonical } from './stored-samples.ts';

/** What goes into a session, in the order in which it happened. */
export type SessionChange =
  | { readonly type: 'info'; readonly info: SessionInfo }
  | { readonly type: 'meters'; readonly meters: readonly MeterRecord[] }
  | { readonly type: 'start-take'; readonly take: TakeRecord }
  | { readonly type: 'end-take'; readonly take: TakeRecord; readonly judgement: Judgement }
  | { readonly type: 'mark'; readonly mark: MarkRecord }
  /** Anything else that belongs to the session, by name: the chart, the repair; null takes it out. */
  | { readonly type: 'document'; readonly name: string; readonly content: unknown }
  /** Canonical bytes of samples of one take and meter. */
  | { readonly type: 'samples'; readonly take: number; readonly meter: number; readonly bytes: Uint8Array }
  /** Samples given up while the file could not be written. */
  | { readonly type: 'loss'; readonly loss: Loss };

/** The samples of one take and meter: how many there are, and the overview so far. Those not sealed yet are in `tail`, not in memory. */
interface Stream {
  readonly take: number;
  readonly meter: number;
  /** Samples committed in all. */
  committed: number;
  /** Samples handed to sealing. */
  handed: number;
  /** Time of the last sealed sample. */
  lastUs: number | null;
  readonly overview: OverviewBuilder;
}

type SealJob =
  | { readonly kind: 'samples'; readonly stream: Stream; readonly firstSample: number; readonly length: number }
  | { readonly kind: 'take'; readonly take: TakeRecord };

export class SessionWriter {
  readonly path: string;
  readonly #identity: Pick<SessionInfo, 'id' | 'startedAtUs'>;
  #db!: Database.Database;
  #inode!: number;
  #statements!: Statements;
  readonly #streams = new Map<string, Stream>();
  readonly #jobs: SealJob[] = [];
  /** The block that is being encoded: that of the first job. */
  #encoding: { readonly samples: StoredSamples; readonly steps: Generator<void, Uint8Array> } | null = null;
  #chain!: SealChain;
  #sealedSoFar = { samples: 0, bytes: 0 };

  /**
   * Creates the tables in a new or empty file.
   * @throws {Error} of SQLite or the file system when that fails
   */
  constructor(path: string, info: SessionInfo, meters: readonly MeterRecord[]);
  /** Goes on with the file of a session that was interrupted, or is complete. */
  constructor(path: string);
  constructor(path: string, info?: SessionInfo, meters: readonly MeterRecord[] = []) {
    this.path = path;
    this.#open(path);
    try {
      const beginning = info ?? (JSON.parse(this.#db.prepare('SELECT record FROM session').pluck().get() as string) as SessionInfo);
      this.#identity = { id: beginning.id, startedAtUs: beginning.startedAtUs };
      if (info === undefined) {
        this.#resume();
      } else {
        this.#db.transaction(() => {
          this.#db.prepare('INSERT INTO session (id, record) VALUES (1, ?)').run(JSON.stringify(info));
          this.#chain.sealRecord('session', '', JSON.stringify(info));
          this.#write({ type: 'meters', meters });
        })();
      }
    } catch (error) {
      this.#db.close();
      throw error;
    }
  }

  /** Takes up, of takes that are not sealed yet, the overview so far and what waits in `tail`. */
  #resume(): void {
    const blocks = this.#db.prepare(`SELECT take, meter, sum(samples) AS samples, max(last_us) AS lastUs FROM blocks
      WHERE take NOT IN (SELECT take FROM seals WHERE kind = 'take') GROUP BY take, meter`).all();
    for (const { take, meter, samples, lastUs } of blocks as { take: number; meter: number; samples: number; lastUs: number }[]) {
      const stream = newStream(take, meter);
      const chunks = this.#db.prepare('SELECT level, chunk, columns FROM overview WHERE take = ? AND meter = ? ORDER BY level, chunk').all(take, meter);
      stream.overview.restore(chunks as { level: number; chunk: number; columns: Buffer }[]);
      Object.assign(stream, { committed: samples, handed: samples, lastUs });
      this.#streams.set(`${take} ${meter}`, stream);
    }
    const tail = this.#db.prepare('SELECT take, meter, sum(samples) AS samples FROM tail GROUP BY take, meter').all();
    for (const { take, meter, samples } of tail as { take: number; meter: number; samples: number }[]) this.#count(take, meter, samples);
    const ended = this.#db.prepare(`SELECT record FROM takes WHERE judgement IS NOT NULL
      AND take NOT IN (SELECT take FROM seals WHERE kind = 'take') ORDER BY take`).pluck().all() as string[];
    for (const record of ended) this.#end(JSON.parse(record) as TakeRecord);
    this.#db.prepare('UPDATE session SET closed = 0').run();
  }

  #open(path: string): void {
    this.#db = new Database(path, { timeout: 2000 });
    try {
      prepareFile(this.#db);
      migrate(this.#db);
      this.#statements = statements(this.#db);
      this.#chain = new SealChain(this.#db);
      this.#inode = inodeOf(path);
    } catch (error) {
      this.#db.close();
      throw error;
    }
  }

  /** One transaction: all of it is in the file, or an error is thrown and none of it is. */
  commit(changes: readonly SessionChange[]): void {
    const pieces: Piece[] = [];
    const ends: TakeRecord[] = [];
    this.#db.transaction(() => {
      const gathered = new Map<string, { take: number; meter: number; parts: StoredSamples[] }>();
      for (const change of changes) {
        if (change.type === 'samples') {
          const key = `${change.take} ${change.meter}`;
          const entry = gathered.get(key) ?? { take: change.take, meter: change.meter, parts: [] };
          gathered.set(key, entry);
          entry.parts.push(fromCanonical(change.bytes));
        } else {
          this.#write(change);
          if (change.type === 'end-take') ends.push(change.take);
        }
      }
      for (const { take, meter, parts } of gathered.values()) {
        for (const piece of this.#piecesOf(take, meter, parts)) {
          const { samples } = piece;
          this.#statements.tail.run(
            take, meter, piece.firstSample, samples.length, samples.timeUs[0], samples.timeUs[samples.length - 1], toCanonical(samples),
          );
          pieces.push(piece);
        }
      }
    }).immediate();
    for (const { take, meter, samples } of pieces) this.#count(take, meter, samples.length);
    for (const take of ends) this.#end(take);
  }

  /** All that a take has is to be sealed, and then the take itself. */
  #end(take: TakeRecord): void {
    for (const stream of this.#streams.values()) if (stream.take === take.id) this.#handOver(stream);
    this.#jobs.push({ kind: 'take', take });
  }

  /** Samples in sealed blocks, and the bytes that they take. */
  get sealed(): { readonly samples: number; readonly bytes: number } {
    return this.#sealedSoFar;
  }

  /** True while the file that is written is the one that its path names. */
  isInPlace(): boolean {
    return inodeOf(this.path) === this.#inode;
  }

  /** Shows that the session is being written: readers tell a running recording from an interrupted one by the file's time. */
  touch(): void {
    const now = new Date();
    utimesSync(this.path, now, now);
  }

  /**
   * Puts a file that was removed from its folder back there: it lives on as long as it is open.
   * @throws {Error} of SQLite when it does not, or the folder is gone
   */
  restore(): void {
    this.#db.prepare('VACUUM INTO ?').run(this.path);
    // What was torn from under us may look like an empty file.
    openSession(this.path).close();
    this.#db.close();
    this.#open(this.path);
  }

  /**
   * Does a few milliseconds' work on the block or take that waits longest to be sealed; with the last step it is in the file.
   * @returns true while there is more to do
   * @throws {Error} of SQLite when the disk refuses; it waits on, its samples safe in `tail`
   */
  sealStep(): boolean {
    const job = this.#jobs[0];
    if (job === undefined) return false;
    if (job.kind === 'take') {
      this.#sealTake(job.take);
    } else {
      this.#encoding ??= this.#beginEncoding(job);
      const { samples, steps } = this.#encoding;
      const { done, value } = steps.next();
      if (done !== true) return true;
      // Should the disk refuse, it is encoded again: a generator ends only once.
      this.#encoding = null;
      this.#sealSamples(job, samples, value);
    }
    this.#jobs.shift();
    return this.#jobs.length > 0;
  }

  /** Seals the block or take that waits longest. @returns true while more wait */
  sealNext(): boolean {
    const left = this.#jobs.length;
    while (this.#jobs.length === left && left > 0) this.sealStep();
    return this.#jobs.length > 0;
  }

  /** Seals what is left and closes the file as complete: one file, readable by any SQLite tool even from a read-only disk. */
  finish(): void {
    for (const stream of this.#streams.values()) this.#handOver(stream);
    while (this.sealNext());
    this.#db.prepare('UPDATE session SET closed = 1').run();
    this.#db.pragma('incremental_vacuum');
    this.#db.pragma('wal_checkpoint(TRUNCATE)');
    try {
      this.#db.pragma('journal_mode = DELETE');
    } catch {
      // A reader has the file open: it stays in WAL mode, which loses nothing.
    }
    this.#db.close();
  }

  /** Documents as they are in the file; none when it can't be read any more. */
  documents(): ReadonlyMap<string, unknown> {
    try {
      const rows = this.#db.prepare('SELECT name, content FROM documents').all() as { name: string; content: string }[];
      return new Map(rows.map(({ name, content }) => [name, JSON.parse(content) as unknown]));
    } catch {
      return new Map();
    }
  }

  /** Closes without sealing, as after a disk error: what was committed stays, and is read from `tail`. */
  abandon(): void {
    this.#jobs.length = 0;
    this.#db.close();
  }

  #write(change: Exclude<SessionChange, { type: 'samples' }>): void {
    const s = this.#statements;
    switch (change.type) {
      case 'info': {
        const text = JSON.stringify({ ...change.info, ...this.#identity });
        s.info.run(text);
        this.#chain.sealRecord('session', '', text);
        break;
      }
      case 'meters':
        for (const meter of change.meters) {
          const text = JSON.stringify(meter);
          s.meter.run(meter.index, text);
          this.#chain.sealRecord('meter', String(meter.index), text);
        }
        break;
      case 'start-take':
        s.startTake.run({ id: change.take.id, meter: change.take.meter, record: JSON.stringify(change.take) });
        break;
      case 'end-take':
        s.endTake.run(JSON.stringify(change.take), JSON.stringify(change.judgement), change.take.id);
        s.clearEvents.run(change.take.id);
        for (const [number, event] of eventRows(change.judgement).entries()) {
          s.event.run(change.take.id, number + 1, event.kind, event.start, event.end, event.count, event.depth, event.overRange, event.duration);
        }
        break;
      case 'mark':
        s.mark.run(change.mark.id, JSON.stringify(change.mark));
        break;
      case 'document': {
        const text = change.content === null ? null : JSON.stringify(change.content);
        if (text === null) s.dropDocument.run(change.name);
        else s.document.run(change.name, text);
        this.#chain.sealRecord('document', change.name, text);
        break;
      }
      case 'loss': {
        const { firstSeq, lastSeq, samples, from, to, why } = change.loss;
        const { lastInsertRowid } = s.loss.run(firstSeq, lastSeq, samples, from, to, why);
        this.#chain.sealRecord('loss', String(lastInsertRowid), lossText(change.loss));
        break;
      }
    }
  }

  /** Joins the parts of one commit, cut so that no row of `tail` crosses the border of a block. */
  #piecesOf(take: number, meter: number, parts: readonly StoredSamples[]): Piece[] {
    const joined = joinSamples(parts);
    const total = joined.length;
    const committed = this.#streams.get(`${take} ${meter}`)?.committed ?? 0;
    const pieces: Piece[] = [];
    for (let from = 0; from < total;) {
      const room = BLOCK_SAMPLES - ((committed + from) % BLOCK_SAMPLES);
      const to = Math.min(total, from + room);
      pieces.push({ take, meter, firstSample: committed + from, samples: sliceSamples(joined, from, to) });
      from = to;
    }
    return pieces;
  }

  /** Notes that samples are in `tail`; those that fill a block are handed over to be sealed. */
  #count(take: number, meter: number, samples: number): void {
    const key = `${take} ${meter}`;
    const stream = this.#streams.get(key) ?? newStream(take, meter);
    this.#streams.set(key, stream);
    stream.committed += samples;
    while (stream.committed - stream.handed >= BLOCK_SAMPLES) this.#handOver(stream);
  }

  /** The next block, or what there is of it. */
  #handOver(stream: Stream): void {
    const length = Math.min(BLOCK_SAMPLES, stream.committed - stream.handed);
    if (length === 0) return;
    this.#jobs.push({ kind: 'samples', stream, firstSample: stream.handed, length });
    stream.handed += length;
  }

  #beginEncoding({ stream: { take, meter }, firstSample, length }: SealJob & { kind: 'samples' }) {
    const rows = this.#statements.tailOf.all(take, meter, firstSample, firstSample + length) as Buffer[];
    const samples = joinSamples(rows.map((row) => fromCanonical(row)));
    if (samples.length !== length) throw new RecordingError('SESSION_DAMAGED', `NOT SAVING: the tail of take ${take}, meter ${meter} holds ${samples.length} samples instead of ${length}.`);
    return { samples, steps: blockSteps(samples) };
  }

  #sealSamples({ stream, firstSample }: SealJob & { kind: 'samples' }, samples: StoredSamples, columns: Uint8Array): void {
    const { take, meter } = stream;
    const content = samplesHash({ take, meter, firstSample }, samples);
    const chunks = stream.overview.next(bucketsOf(samples, stream.lastUs));
    const last = samples.length - 1;
    const s = this.#statements;
    this.#db.transaction(() => {
      s.block.run(take, meter, firstSample, samples.length, samples.timeUs[0], samples.timeUs[last], samples.seq[last], columns);
      s.clearTail.run(take, meter, firstSample + samples.length);
      for (const { level, chunk, buckets } of chunks) {
        s.overview.run(take, meter, level, chunk, buckets[0]!.startUs, buckets.at(-1)!.endUs, writeBuckets(buckets, level));
      }
      this.#chain.seal({ kind: 'samples', take, meter, firstSample }, content);
    }).immediate();
    this.#sealedSoFar = { samples: this.#sealedSoFar.samples + samples.length, bytes: this.#sealedSoFar.bytes + columns.length };
    stream.lastUs = samples.timeUs[last]!;
    stream.overview.keep(chunks);
  }

  #sealTake(take: TakeRecord): void {
    const parse = <Row>(record: unknown) => (typeof record === 'string' ? (JSON.parse(record) as Row) : null);
    const s = this.#statements;
    const stored = s.take.get(take.id) as { record: string; meter: string | null; judgement: string | null };
    const content = takeHash({
      take: JSON.parse(stored.record) as TakeRecord,
      judgement: parse<Judgement>(stored.judgement),
      meter: parse<MeterRecord>(stored.meter),
      marks: (s.marksOf.all(take.id) as string[]).map((mark) => JSON.parse(mark) as MarkRecord),
    });
    this.#db.transaction(() => this.#chain.seal({ kind: 'take', take: take.id, meter: null, firstSample: null }, content)).immediate();
  }
}

interface Piece {
  readonly take: number;
  readonly meter: number;
  readonly firstSample: number;
  readonly samples: StoredSamples;
}

function newStream(take: number, meter: number): Stream {
  return { take, meter, committed: 0, handed: 0, lastUs: null, overview: new OverviewBuilder() };
}

function inodeOf(path: string): number {
  return statSync(path).ino;
}

/** Settings that decide how much a crash may cost; asserted, because SQLite takes some of them silently as it likes. */
export function prepareFile(db: Database.Database): void {
  // A short session is mostly tables with little in them: small pages keep it small.
  db.pragma('page_size = 1024');
  db.pragma('auto_vacuum = INCREMENTAL');
  db.pragma(`application_id = ${APPLICATION_ID}`);
  const journal = db.pragma('journal_mode = WAL', { simple: true });
  if (journal !== 'wal') throw new RecordingError('DISK_ERROR', `NOT SAVING: this file system can't hold a write-ahead log (journal mode is ${String(journal)}). Choose a folder on a local disk with --recordings.`);
  db.pragma('synchronous = FULL');
  const synchronous = db.pragma('synchronous', { simple: true });
  if (synchronous !== 2) throw new RecordingError('DISK_ERROR', `NOT SAVING: full synchronisation was refused (synchronous is ${String(synchronous)}).`);
  db.pragma('journal_size_limit = 16777216');
  db.pragma('wal_autocheckpoint = 2000');
  db.pragma('temp_store = MEMORY');
  // What is written is seldom read again: 2 MiB of pages are enough (the value is in KiB, negative).
  db.pragma('cache_size = -2048');
}

type Statements = ReturnType<typeof statements>;

function statements(db: Database.Database) {
  return {
    info: db.prepare('UPDATE session SET record = ?'),
    meter: db.prepare('INSERT INTO meters (meter, record) VALUES (?, ?) ON CONFLICT (meter) DO UPDATE SET record = excluded.record'),
    take: db.prepare('SELECT record, meter_record AS meter, judgement FROM takes WHERE take = ?'),
    marksOf: db.prepare('SELECT record FROM marks WHERE take = ? ORDER BY mark').pluck(),
    startTake: db.prepare('INSERT INTO takes (take, record, meter_record) VALUES (@id, @record, (SELECT record FROM meters WHERE meter = @meter))'),
    endTake: db.prepare('UPDATE takes SET record = ?, judgement = ? WHERE take = ?'),
    clearEvents: db.prepare('DELETE FROM events WHERE take = ?'),
    event: db.prepare('INSERT INTO events (take, number, kind, start_s, end_s, count, depth, over_range, duration_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)'),
    mark: db.prepare('INSERT INTO marks (mark, record) VALUES (?, ?)'),
    document: db.prepare('INSERT INTO documents (name, content) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET content = excluded.content'),
    dropDocument: db.prepare('DELETE FROM documents WHERE name = ?'),
    loss: db.prepare('INSERT INTO losses (first_seq, last_seq, samples, from_s, to_s, why) VALUES (?, ?, ?, ?, ?, ?)'),
    tail: db.prepare('INSERT INTO tail (take, meter, first_sample, samples, first_us, last_us, columns) VALUES (?, ?, ?, ?, ?, ?, ?)'),
    tailOf: db.prepare('SELECT columns FROM tail WHERE take = ? AND meter = ? AND first_sample >= ? AND first_sample < ? ORDER BY first_sample').pluck(),
    clearTail: db.prepare('DELETE FROM tail WHERE take = ? AND meter = ? AND first_sample < ?'),
    block: db.prepare('INSERT INTO blocks (take, meter, first_sample, samples, first_us, last_us, last_seq, columns) VALUES (?, ?, ?, ?, ?, ?, ?, ?)'),
    overview: db.prepare(`INSERT INTO overview (take, meter, level, chunk, first_us, last_us, columns) VALUES (?, ?, ?, ?, ?, ?, ?)
      ON CONFLICT (take, meter, level, chunk) DO UPDATE SET last_us = excluded.last_us, columns = excluded.columns`),
  };
}
