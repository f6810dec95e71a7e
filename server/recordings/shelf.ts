/** All sessions of a folder, read-only. Synchronous: it runs in the reader thread. */
import { existsSync, statSync } from 'node:fs';
import type { SessionContents, SessionListing, TakeSummary } from '../session/session.ts';
import { StoredJudge } from './judge-stored.ts';
import { emptyTrash, folderOf, folderSpace, moveSession, renameSession, sessionNames, sizeOf } from './folders.ts';
import { damageOf, RecordingError } from './errors.ts';
import { sessionPath } from './names.ts';
import type { Trace } from './sample-reader.ts';
import { SessionReader, type StoredTake } from './session-reader.ts';
import { type ExactSamples, toSamples } from './stored-columns.ts';
import { PLACES, type FolderSpace, type Place } from './offers.ts';

/** Files kept open between requests. */
const KEPT_OPEN = 4;
const KEPT_JUDGES = 20;
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
  /** Judges of takes that were never ended, by file and take. */
  readonly #judges = new Map<string, StoredJudge>();
  readonly #listings = new Map<string, { readonly mtimeMs: number; readonly listing: SessionListing }>();
  readonly #texts = new Map<string, { readonly mtimeMs: number; readonly size: number; readonly text: string }>();

  constructor(folder: string) {
    this.#folder = folder;
  }

  /**
   * Sessions, newest first.
   * @param search words that must all occur: in the date, title, vehicle, complaint, checks, verdicts, marks or notes
   */
  list(search = '', place: Place = 'recordings'): SessionListing[] {
    const words = search.toLowerCase().split(/\s+/).filter((word) => word !== '');
    const folder = folderOf(this.#folder, place);
    const sessions = sessionNames(folder)
      .map((session) => this.#listing(session, sessionPath(folder, session)))
      .filter((listing) => words.every((word) => this.#textOf(listing, folder).includes(word)));
    return sessions.sort((a, b) => (b.info?.startedAtUs ?? 0) - (a.info?.startedAtUs ?? 0) || (a.session < b.session ? 1 : -1));
  }

  /** Puts a session elsewhere: into the archive, the trash, or back. @returns its name there */
  move(session: string, from: Place, to: Place): string {
    for (const place of [from, to]) if (!PLACES.includes(place)) throw new RangeError(`there is no place ${place}`);
    this.#refuseBusy(session, from);
    this.release();
    return moveSession(this.#folder, session, from, to);
  }

  rename(session: string, name: string): void {
    this.#refuseBusy(session, 'recordings');
    this.release();
    renameSession(this.#folder, session, name);
  }

  /** @returns bytes freed */
  emptyTrash(): number {
    this.release();
    return emptyTrash(this.#folder);
  }

  space(): FolderSpace {
    return folderSpace(this.#folder);
  }

  /** Last hash of a session's chain, hexadecimal, for its report; null while nothing is sealed. */
  lastHash(session: string): string | null {
    return this.#with(session, (reader) => {
      const last = reader.seals().at(-1);
      return last === undefined ? null : Buffer.from(last.chainHash).toString('hex');
    });
  }

  contents(session: string): SessionContents {
    return this.#with(session, (reader) => {
      const isBeingWritten = reader.isBeingWritten(Date.now());
      return {
        info: reader.info(),
        meters: reader.meters(),
        takes: reader.takes().map((stored) => this.#summary(reader, stored, isBeingWritten)),
        marks: reader.marks(),
        losses: reader.losses(),
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

  /** Opening a file takes a millisecond: a complete one is only opened again when it has changed. */
  #listing(session: string, path: string): SessionListing {
    const bytes = sizeOf(path);
    const { mtimeMs } = statSync(path);
    const known = this.#listings.get(path);
    if (known !== undefined && known.mtimeMs === mtimeMs && known.listing.bytes === bytes) return known.listing;
    const listing = this.#readListing(session, path, bytes);
    if (listing.state === 'complete' && listing.message === '') this.#listings.set(path, { mtimeMs, listing });
    return listing;
  }

  #readListing(session: string, path: string, bytes: number): SessionListing {
    const none = { session, info: null, takes: 0, bytes };
    let reader: SessionReader | null = null;
    try {
      reader = new SessionReader(path);
      const isClosed = reader.isClosed();
      const isBeingWritten = !isClosed && reader.isBeingWritten(Date.now());
      const message = isClosed || isBeingWritten ? '' : 'The recording was interrupted: it holds everything up to a quarter of a second before that.';
      return { ...none, info: reader.info(), takes: reader.takeCount(), state: isBeingWritten ? 'recording' : 'complete', message };
    } catch (error) {
      return { ...none, state: 'damaged', message: damageOf(error).message };
    } finally {
      reader?.close();
    }
  }

  /** What a search looks through, in small letters; kept while the file does not change. */
  #textOf({ session, info, message, state }: SessionListing, folder: string): string {
    const path = sessionPath(folder, session);
    const { mtimeMs, size } = statSync(path);
    const known = this.#texts.get(path);
    if (known !== undefined && known.mtimeMs === mtimeMs && known.size === size) return known.text;
    const parts: string[] = [session, state, message];
    if (info !== null) {
      const date = new Date(info.startedAtUs / 1000);
      parts.push(info.title, info.vehicle, info.complaint, date.toISOString().slice(0, 10));
      const reader = new SessionReader(path);
      try {
        for (const { take, judgement } of reader.takes()) parts.push(take.check.kind, take.check.red, take.check.black, take.watching, judgement?.verdict ?? '');
        for (const mark of reader.marks()) parts.push(mark.text);
        for (const [name, content] of Object.entries(reader.documents())) if (name !== 'chart' && !name.startsWith('photo-')) parts.push(JSON.stringify(content));
      } finally {
        reader.close();
      }
    }
    const text = parts.join('\n').toLowerCase();
    this.#texts.set(path, { mtimeMs, size, text });
    return text;
  }

  #refuseBusy(session: string, place: Place): void {
    const path = sessionPath(folderOf(this.#folder, place), session);
    if (!existsSync(path)) throw new RecordingError('SESSION_NOT_FOUND', 'There is no such session.');
    const { state } = this.#listing(session, path);
    if (state === 'recording') throw new RecordingError('SESSION_BUSY', 'This session is being recorded: end it first.');
  }

  #summary(reader: SessionReader, stored: StoredTake, isBeingWritten: boolean): TakeSummary {
    const { take, judgement } = stored;
    const extent = reader.extent(take.id, take.meter);
    const samples = extent?.samples ?? 0;
    if (judgement !== null) return { ...take, samples, verdict: judgement.verdict, judgement };
    const key = `${reader.path} ${take.id} ${take.start}`;
    let judge = this.#judges.get(key);
    if (judge === undefined) {
      judge = new StoredJudge(stored);
      this.#judges.set(key, judge);
      if (this.#judges.size > KEPT_JUDGES) this.#judges.delete(this.#judges.keys().next().value!);
    }
    const own = judge.catchUp(reader);
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
