/**
 * What can be read of a damaged file, in a new one. Rows are read one by one, so that a damaged page costs only what lies on
 * it; a damaged first page, which SQLite can't do without, is taken from a new file of the same tables.
 */
import Database from 'better-sqlite3';
import { copyFileSync, existsSync, mkdtempSync, openSync, readFileSync, readSync, rmSync, writeSync, closeSync, fstatSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, dirname, join } from 'node:path';
import type { Judgement } from '../diagnosis/judgement.ts';
import { TakeWatch } from '../session/take-watch.ts';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { samplesHash } from './chain.ts';
import { readBlock } from './columns/block.ts';
import { RecordingError } from './errors.ts';
import { ENDING } from './names.ts';
import { createTables, SCHEMA_VERSION } from './schema.ts';
import { prepareFile, SessionWriter } from './session-writer.ts';
import { toSamples } from './stored-columns.ts';
import { fromCanonical, type StoredSamples, toCanonical } from './stored-samples.ts';
import type { Following, Recovered } from './offers.ts';

/**
 * @returns the new session, beside the damaged one, which stays as it is
 * @throws {RecordingError} SESSION_DAMAGED when nothing at all can be read; AbortError when it was stopped
 */
export function recoverSession(path: string, options: Following = {}): Recovered {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-recover-'));
  const copy = join(folder, 'copy.sqlite');
  try {
    copyFileSync(path, copy);
    if (existsSync(`${path}-wal`)) copyFileSync(`${path}-wal`, `${copy}-wal`);
    const salvage = open(copy) ?? openWithNewFirstPages(copy, folder);
    if (salvage === null) throw new RecordingError('SESSION_DAMAGED', 'Nothing of this file can be read.');
    try {
      return write(salvage, path, options);
    } finally {
      salvage.close();
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The file, if SQLite knows its tables; null if not. */
function open(path: string): Salvage | null {
  let db: Database.Database | null = null;
  try {
    db = new Database(path, { fileMustExist: true });
    db.prepare('SELECT take FROM takes LIMIT 0').all();
    db.prepare('SELECT take FROM blocks LIMIT 0').all();
    return new Salvage(db);
  } catch {
    db?.close();
    return null;
  }
}

/** Which version it is, and whether it came to be by copying, stood on its first page: it is the one with which least is wrong. */
function openWithNewFirstPages(copy: string, folder: string): Salvage | null {
  let best: { readonly salvage: Salvage; readonly problems: number } | null = null;
  for (let version = SCHEMA_VERSION; version >= 1; version--) {
    for (const isCopy of [false, true]) {
      const salvage = open(withNewFirstPages(copy, folder, version, isCopy));
      if (salvage === null) continue;
      const problems = salvage.problems();
      if (best === null || problems < best.problems) {
        best?.salvage.close();
        best = { salvage, problems };
      } else {
        salvage.close();
      }
    }
  }
  return best?.salvage ?? null;
}

class Salvage {
  unreadable = 0;
  readonly #db: Database.Database;

  constructor(db: Database.Database) {
    this.#db = db;
  }

  close(): void {
    this.#db.close();
  }

  /** What SQLite finds wrong with the file, as far as it can tell. */
  problems(): number {
    try {
      return (this.#db.pragma('integrity_check(10000)') as unknown[]).length;
    } catch {
      return Infinity;
    }
  }

  /** All rows of a table that can be read, by row number; those after the last that was found are not looked for. */
  *rows<Row>(table: string, columns: string): Generator<Row> {
    const byNumber = this.#db.prepare(`SELECT rowid AS rowid, ${columns} FROM ${table} WHERE rowid = ?`);
    const after = this.#db.prepare(`SELECT rowid FROM ${table} WHERE rowid > ? ORDER BY rowid LIMIT 1`).pluck();
    let failures = 0;
    /** Failures since the last row that could be read: what follows the last one of all may never have been there. */
    let missed = 0;
    for (let at = 0; failures < LONGEST_GAP;) {
      let next: number | undefined;
      try {
        next = after.get(at) as number | undefined;
        if (next === undefined) {
          this.unreadable += missed;
          return;
        }
      } catch {
        next = at + 1;
      }
      at = next;
      try {
        const row = byNumber.get(at) as Row | undefined;
        if (row !== undefined) {
          failures = 0;
          this.unreadable += missed;
          missed = 0;
          yield row;
          continue;
        }
      } catch {
        missed++;
      }
      failures++;
    }
    if (missed > 0) this.unreadable++;
  }

  /** The bytes of a block or of a row of the tail. @throws {Error} of SQLite when they can't be read */
  columnsOf(table: 'blocks' | 'tail', row: number): Buffer {
    return this.#db.prepare(`SELECT columns FROM ${table} WHERE rowid = ?`).pluck().get(row) as Buffer;
  }

  records<Record>(table: string): Record[] {
    const records: Record[] = [];
    for (const { record } of this.rows<{ record: string }>(table, 'record')) {
      try {
        records.push(JSON.parse(record) as Record);
      } catch {
        this.unreadable++;
      }
    }
    return records;
  }
}

/** Row numbers in a row that give nothing: then the table is taken to end. */
const LONGEST_GAP = 5000;

function write(salvage: Salvage, path: string, { signal, onProgress }: Following): Recovered {
  const [info = unknownInfo(path)] = salvage.records<SessionInfo>('session');
  const meters = salvage.records<MeterRecord>('meters');
  const takes = [...salvage.rows<{ record: string; judgement: string | null; meter_record: string | null }>('takes', 'record, judgement, meter_record')];
  const marks = salvage.records<MarkRecord>('marks');
  const pieces = samplePieces(salvage);
  if (takes.length === 0 && pieces.length === 0) throw new RecordingError('SESSION_DAMAGED', 'Nothing of this file can be read.');
  const session = freeName(path);
  const target = join(dirname(path), session + ENDING);
  const writer = new SessionWriter(target, info, meters);
  let total = 0;
  let piecesDone = 0;
  try {
    const stored = new Map(takes.flatMap((row) => {
      const take = parsed<TakeRecord>(row.record);
      return take === null ? [] : [[take.id, { take, judgement: parsed<Judgement>(row.judgement), meter: parsed<MeterRecord>(row.meter_record) }] as const];
    }));
    for (const { take } of pieces) if (!stored.has(take)) stored.set(take, { take: unknownTake(take, pieces), judgement: null, meter: null });
    for (const { take, judgement, meter } of [...stored.values()].sort((a, b) => a.take.id - b.take.id)) {
      writer.commit([{ type: 'start-take', take }]);
      const watch = new TakeWatch(take, meter ?? unknownMeter(take.meter));
      for (const mark of marks) if (mark.take === take.id) watch.note(mark);
      let lastUs = Math.round(take.start * 1e6);
      let isWhole = true;
      const nextOf = new Map<number, number>();
      for (const piece of pieces.filter((one) => one.take === take.id)) {
        onProgress?.(++piecesDone / pieces.length);
        signal?.throwIfAborted();
        const samples = piece.read();
        if (samples === null) {
          salvage.unreadable++;
          isWhole = false;
          continue;
        }
        if (piece.firstSample !== (nextOf.get(piece.meter) ?? 0)) isWhole = false;
        nextOf.set(piece.meter, piece.firstSample + samples.length);
        writer.commit([{ type: 'samples', take: take.id, meter: piece.meter, bytes: toCanonical(samples) }]);
        while (writer.sealNext());
        if (piece.meter === take.meter) watch.push(toSamples(samples));
        lastUs = Math.max(lastUs, samples.timeUs[samples.length - 1] ?? lastUs);
        total += samples.length;
      }
      const ended: TakeRecord = judgement !== null ? take : { ...take, end: lastUs / 1e6, ending: 'interrupted' };
      writer.commit([
        ...marks.filter((mark) => mark.take === take.id).map((mark) => ({ type: 'mark' as const, mark })),
        { type: 'end-take', take: ended, judgement: judgement !== null && isWhole ? judgement : watch.view().judgement },
      ]);
    }
    writer.commit([{ type: 'document', name: 'recovered', content: { from: basename(path), unreadable: salvage.unreadable } }]);
    for (const { name, content } of salvage.rows<{ name: string; content: string }>('documents', 'name, content')) {
      const value = parsed<unknown>(content);
      if (name !== 'recovered' && value !== null) writer.commit([{ type: 'document', name, content: value }]);
    }
    for (const loss of salvage.rows<Loss>('losses', 'first_seq AS firstSeq, last_seq AS lastSeq, samples, from_s AS "from", to_s AS "to", why')) {
      const { firstSeq, lastSeq, samples, from, to, why } = loss;
      writer.commit([{ type: 'loss', loss: { firstSeq, lastSeq, samples, from, to, why } }]);
    }
    writer.finish();
    return { session, takes: stored.size, samples: total, unreadable: salvage.unreadable };
  } catch (error) {
    writer.abandon();
    for (const ending of ['', '-wal', '-shm']) rmSync(target + ending, { force: true });
    throw error;
  }
}

interface SamplePiece {
  readonly take: number;
  readonly meter: number;
  readonly firstSample: number;
  /** Time of the first sample, us. */
  readonly firstUs: number;
  read(): StoredSamples | null;
}

/** Where samples lie, in the order in which they belong; read only when their turn comes, and only what is as it was sealed. */
function samplePieces(salvage: Salvage): SamplePiece[] {
  const pieces: SamplePiece[] = [];
  const seals = new Map<string, Buffer>();
  for (const { take, meter, firstSample, hash } of salvage.rows<{ take: number; meter: number | null; firstSample: number | null; hash: Buffer }>(
    'seals', 'take, meter, first_sample AS firstSample, content_hash AS hash',
  )) seals.set(`${take} ${meter} ${firstSample}`, hash);
  const columns = 'take, meter, first_sample AS firstSample, first_us AS firstUs';
  for (const [table, read] of [['blocks', readBlock], ['tail', (bytes: Uint8Array) => fromCanonical(Uint8Array.from(bytes))]] as const) {
    for (const { rowid, ...place } of salvage.rows<{ rowid: number; take: number; meter: number; firstSample: number; firstUs: number }>(table, columns)) {
      pieces.push({
        ...place,
        read: () => {
          try {
            const samples = read(salvage.columnsOf(table, rowid));
            const seal = table === 'blocks' ? seals.get(`${place.take} ${place.meter} ${place.firstSample}`) : undefined;
            return seal === undefined || seal.equals(samplesHash(place, samples)) ? samples : null;
          } catch {
            return null;
          }
        },
      });
    }
  }
  return pieces.sort((a, b) => a.take - b.take || a.meter - b.meter || a.firstSample - b.firstSample);
}

function parsed<Value>(text: string | null): Value | null {
  try {
    return text === null ? null : (JSON.parse(text) as Value);
  } catch {
    return null;
  }
}

function freeName(path: string): string {
  const name = basename(path, ENDING);
  for (let number = 1; ; number++) {
    const free = `${name}-recovered${number === 1 ? '' : `-${number}`}`;
    if (!existsSync(join(dirname(path), free + ENDING))) return free;
  }
}

function unknownInfo(path: string): SessionInfo {
  return { id: basename(path, ENDING), startedAtUs: 0, title: `Recovered from ${basename(path)}`, vehicle: '', complaint: '' };
}

function unknownTake(id: number, pieces: readonly SamplePiece[]): TakeRecord {
  const first = pieces.find(({ take }) => take === id);
  return {
    id, watching: 'wiggle', meter: first?.meter ?? 0, start: (first?.firstUs ?? 0) / 1e6, end: null, ending: 'running',
    check: { id: 'unknown', kind: 'supply', red: '', black: '', limits: { low: null, high: null }, limitsBasis: 'lost', condition: '', instructions: [], cautions: [] },
  };
}

function unknownMeter(index: number): MeterRecord {
  return { index, address: '', label: 'unknown meter', simulated: false, interval: null, aperture: null, accuracy: null, leadOhms: null };
}

/** Puts the first page, and the others that hold the list of tables, in from a new file: there they are always the same, but for the order of the tables in a copied file. */
function withNewFirstPages(damaged: string, folder: string, version: number, isCopy: boolean): string {
  const name = `${version}${isCopy ? '-copied' : ''}.sqlite`;
  const copy = join(folder, `filled-${name}`);
  copyFileSync(damaged, copy);
  const fresh = join(folder, `fresh-${name}`);
  const db = new Database(fresh);
  prepareFile(db);
  db.transaction(() => createTables(db, version))();
  db.pragma(`user_version = ${version}`);
  db.pragma('journal_mode = DELETE');
  if (isCopy) db.exec('VACUUM');
  const pages = db.prepare("SELECT pageno FROM dbstat WHERE name = 'sqlite_schema'").pluck().all() as number[];
  const pageSize = db.pragma('page_size', { simple: true }) as number;
  db.close();
  const template = readFileSync(fresh);
  const file = openSync(copy, 'r+');
  try {
    for (const page of pages) writeSync(file, template, (page - 1) * pageSize, pageSize, (page - 1) * pageSize);
    // Size of the file in pages, as the header has it; no free pages are known.
    const { size } = fstatSync(file);
    const header = Buffer.alloc(100);
    readSync(file, header, 0, 100, 0);
    header.writeUInt32BE(Math.floor(size / pageSize), 28);
    header.writeUInt32BE(0, 32);
    header.writeUInt32BE(0, 36);
    header.copy(header, 92, 24, 28);
    writeSync(file, header, 0, 100, 0);
  } finally {
    closeSync(file);
  }
  return copy;
}
