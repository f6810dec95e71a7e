/** The library: the service's side of the reader thread. Everything that the review needs of stored sessions. */
import type { Worker } from 'node:worker_threads';
import type { SessionContents, SessionListing } from '../session/session.ts';
import { RecordingError } from './errors.ts';
import type { FromReader, ShelfCall, ToReader } from './reader-protocol.ts';
import type { Trace } from './sample-reader.ts';
import type { SamplePage } from './shelf.ts';
import type { Shelf } from './shelf.ts';
import { startWorker } from './worker-thread.ts';
import type { FolderSpace, Place } from './offers.ts';

interface Waiting {
  resolve(answer: unknown): void;
  reject(error: Error): void;
}

export class Library {
  readonly #worker: Worker;
  readonly #waiting = new Map<number, Waiting>();
  readonly #exited: Promise<void>;
  #lastRequest = 0;
  #end: RecordingError | null = null;

  private constructor(folder: string) {
    this.#worker = startWorker('reader-worker', { folder });
    this.#worker.on('message', (message: FromReader) => this.#settle(message));
    let why: Error | null = null;
    this.#worker.on('error', (error) => {
      why = error;
    });
    this.#exited = new Promise((resolve) => this.#worker.on('exit', () => {
      this.#end ??= new RecordingError('WRITER_STOPPED', 'The reader of recordings stopped. Restart the service.', { cause: why });
      for (const { reject } of this.#waiting.values()) reject(this.#end);
      this.#waiting.clear();
      resolve();
    }));
  }

  static open({ folder }: { readonly folder: string }): Library {
    return new Library(folder);
  }

  /**
   * Sessions, newest first; a file that can't be read is listed as damaged, with the reason.
   * @param search words that must all occur: in the date, title, vehicle, complaint, checks, verdicts, marks or notes
   */
  list(search = '', place: Place = 'recordings'): Promise<SessionListing[]> {
    return this.#ask('list', search, place);
  }

  /** Moves a session between the recordings, the archive (out of the way) and the trash (until it is emptied), and back. @returns its name there @throws {RecordingError} SESSION_BUSY, SESSION_NOT_FOUND */
  move(session: string, from: Place, to: Place): Promise<string> {
    return this.#ask('move', session, from, to);
  }

  /** Removes for good what lies in the trash. @returns bytes freed */
  emptyTrash(): Promise<number> {
    return this.#ask('emptyTrash');
  }

  /** Gives a session's file another name; its title stands in the file. @throws {RecordingError} SESSION_EXISTS, SESSION_BAD_NAME, SESSION_BUSY */
  rename(session: string, name: string): Promise<void> {
    return this.#ask('rename', session, name);
  }

  /** Free space, and what sessions, archive and trash take. */
  space(): Promise<FolderSpace> {
    return this.#ask('space');
  }

  /** Last hash of a session's chain, hexadecimal, for its report; null while nothing is sealed. */
  lastHash(session: string): Promise<string | null> {
    return this.#ask('lastHash', session);
  }

  /**
   * What opening a session shows, without reading samples; only a take that was never ended is judged from its samples.
   * @throws {RecordingError} SESSION_NOT_FOUND, SESSION_BAD_NAME, SESSION_DAMAGED, SESSION_NEWER, SESSION_FOREIGN
   */
  contents(session: string): Promise<SessionContents> {
    return this.#ask('contents', session);
  }

  /**
   * A window of a take for drawing: all samples when there are at most two a column, else at most four points a column
   * (lowest, highest, over-range, gap), each at its own time.
   * @param from session clock, s, may be -Infinity
   * @param to session clock, s, may be Infinity
   * @param columns width of the plot, 1 to 10,000
   * @throws {RecordingError} also TAKE_NOT_FOUND
   */
  trace(session: string, take: number, meter: number, from: number, to: number, columns: number): Promise<Trace> {
    if (!Number.isInteger(columns) || columns < 1 || columns > 10_000) throw new RangeError(`columns must be 1 to 10000, not ${columns}`);
    if (Number.isNaN(from) || Number.isNaN(to)) throw new RangeError('a window needs two times');
    return this.#ask('trace', session, take, meter, from, to, columns);
  }

  /** A page of samples, exactly as they came. @param from index among those of the take and meter, from 0 @param count at most 262,144 */
  samples(session: string, take: number, meter: number, from = 0, count = 32_768): Promise<SamplePage> {
    return this.#ask('samples', session, take, meter, from, count);
  }

  /** A document that was kept with the session under a name (chart, finding, repair), or undefined. */
  document(session: string, name: string): Promise<unknown> {
    return this.#ask('document', session, name);
  }

  /** Lets go of all files, so that they can be moved. */
  release(): Promise<void> {
    return this.#ask('release');
  }

  async close(): Promise<void> {
    this.#end = new RecordingError('WRITER_STOPPED', 'The library is closed.');
    this.#worker.postMessage({ request: 0, call: 'close', parameters: [] });
    await this.#exited;
  }

  #ask<Call extends ShelfCall>(call: Call, ...parameters: Parameters<Shelf[Call]>): Promise<ReturnType<Shelf[Call]>> {
    if (this.#end !== null) return Promise.reject(this.#end);
    const request = ++this.#lastRequest;
    this.#worker.postMessage({ request, call, parameters } satisfies ToReader);
    return new Promise<unknown>((resolve, reject) => this.#waiting.set(request, { resolve, reject })) as Promise<ReturnType<Shelf[Call]>>;
  }

  #settle(message: FromReader): void {
    const waiting = this.#waiting.get(message.request);
    this.#waiting.delete(message.request);
    if (message.kind === 'answer') waiting?.resolve(message.answer);
    else waiting?.reject(message.code === null ? new Error(message.message) : new RecordingError(message.code, message.message));
  }
}
