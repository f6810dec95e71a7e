/** All sessions of a folder, read-only. Synchronous: it runs in the reader thread. */
import { readdirSync, statSync } from 'node:fs';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { SessionContents, SessionListing, TakeSummary } from '../session/session.ts';
import { judgeStored } from './judge-stored.ts';
import { ENDING, isSessionName, sessionPath } from './names.ts';
import { damageOf, SessionReader, type StoredTake, type Trace } from './session-reader.ts';
import { type ExactSamples, toSamples } from './stored-columns.ts';

/** Files kept open between requests. */
const KEPT_OPEN = 4;
/** Most samples in one page. */
export const LARGEST_PAGE = 262_144;

export interface SamplePage extends ExactSamples {
  /** Index of the first sample of this page among those of its take and meter. */
  readonly from: number;
  /** Samples of this take and meter in all. */
  readonly total: number;
}

export class Shelf {
  readonly #folder: string;
  readonly #readers = new Map<string, SessionReader>();
  /** Verdicts worked out from samples, by file, its state, and take. */
  readonly #judged = new Map<string, Judgement>();

  constructor(folder: string) {
    this.#folder = folder;
  }

  list(): SessionListing[] {
    const sessions = this.#names().map((session) => this.#listing(session));
    return sessions.sort((a, b) => (b.info?.startedAtUs ?? 0) - (a.info?.startedAtUs ?? 0) || (a.session < b.session ? 1 : -1));
  }

  contents(session: string): SessionContents {
    return this.#with(session, (reader) => {
      const isBeingWritten = reader.isBeingWritten(Date.now());
      return {
        info: reader.info(),
        meters: reader.meters(),
        takes: reader.takes().map((stored) => this.#summary(reader, stored, isBeingWritten)),
        marks: reader.marks(),
      };
    });
  }

  trace(session: string, take: number, meter: number, from: number, to: number, columns: number): Trace {
    return this.#with(session, (reader) => reader.trace(take, meter, from, to, columns));
  }

  samples(session: string, take: number, meter: number, from: number, count: number): SamplePage {
    return this.#with(session, (reader) => ({
      ...toSamples(reader.samples(take, meter, from, from + Math.min(count, LARGEST_PAGE))),
      from,
      total: reader.extent(take, meter)?.samples ?? 0,
    }));
  }

  document(session: string, name: string): unknown {
    return this.#with(session, (reader) => reader.document(name));
  }

  /** Lets go of all files; they are opened again when needed. */
  release(): void {
    for (const reader of this.#readers.values()) reader.close();
    this.#readers.clear();
  }

  #names(): string[] {
    try {
      return readdirSync(this.#folder)
        .filter((file) => file.endsWith(ENDING))
        .map((file) => file.slice(0, -ENDING.length))
        .filter(isSessionName);
    } catch {
      return [];
    }
  }

  #listing(session: string): SessionListing {
    const path = sessionPath(this.#folder, session);
    const bytes = [path, `${path}-wal`].reduce((sum, file) => sum + sizeOf(file), 0);
    const none = { session, info: null, takes: 0, bytes };
    try {
      return this.#with(session, (reader) => {
        const isClosed = reader.isClosed();
        const isBeingWritten = !isClosed && reader.isBeingWritten(Date.now());
        const message = isClosed || isBeingWritten ? '' : 'The recording was interrupted: it holds everything up to a quarter of a second before that.';
        return { ...none, info: reader.info(), takes: reader.takeCount(), state: isBeingWritten ? 'recording' : 'complete', message };
      });
    } catch (error) {
      return { ...none, state: 'damaged', message: damageOf(error).message };
    }
  }

  #summary(reader: SessionReader, stored: StoredTake, isBeingWritten: boolean): TakeSummary {
    const { take, judgement } = stored;
    const extent = reader.extent(take.id, take.meter);
    const samples = extent?.samples ?? 0;
    if (judgement !== null) return { ...take, samples, verdict: judgement.verdict, judgement };
    const key = `${reader.path} ${take.id} ${samples} ${extent?.lastUs ?? 0}`;
    let own = this.#judged.get(key);
    if (own === undefined) {
      own = judgeStored(reader, stored);
      this.#judged.set(key, own);
      if (this.#judged.size > 100) this.#judged.delete(this.#judged.keys().next().value!);
    }
    const ended = isBeingWritten ? take : { ...take, end: (extent?.lastUs ?? take.start * 1e6) / 1e6, ending: 'interrupted' as const };
    return { ...ended, samples, verdict: own.verdict, judgement: own };
  }

  #with<Result>(session: string, read: (reader: SessionReader) => Result): Result {
    const path = sessionPath(this.#folder, session);
    let reader = this.#readers.get(session);
    if (reader === undefined) {
      reader = new SessionReader(path);
      this.#readers.set(session, reader);
      if (this.#readers.size > KEPT_OPEN) {
        const [oldest, other] = this.#readers.entries().next().value!;
        this.#readers.delete(oldest);
        other.close();
      }
    }
    try {
      return read(reader);
    } catch (error) {
      this.#readers.delete(session);
      reader.close();
      throw error;
    }
  }
}

function sizeOf(file: string): number {
  try {
    return statSync(file).size;
  } catch {
    return 0;
  }
}
