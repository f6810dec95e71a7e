/**
 * The recorder: the service's side of the writer thread. Every call returns at once; everything is written in the
 * order of the calls, and is on disk within a quarter of a second, or `onTrouble` says why not.
 */
import type { Worker } from 'node:worker_threads';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { MarkRecord, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../session/session.ts';
import type { RecordingTrouble } from './errors.ts';
import { reserveName } from './names.ts';
import type { SessionChange } from './session-writer.ts';
import type { RecordingSpace } from './space.ts';
import { canonicalBatch } from './stored-samples.ts';
import { startWorker } from './worker-thread.ts';
import type { FromWriter, ToWriter, WriterOptions } from './writer-protocol.ts';

export interface RecorderOptions {
  /** Folder of the session files; made when missing. */
  readonly folder: string;
  /** All samples up to this sequence number are committed: a crash of the service can't lose them. */
  onAcknowledged(seq: number): void;
  /** Samples are not being saved; told again at every failed try, with what waits and what was lost. The recorder keeps trying. */
  onTrouble(trouble: RecordingTrouble): void;
  /** Saving goes on. */
  onRecovered(): void;
  /** The file of session `from` was lost while it was recorded (its disk was taken out, say): the session goes on as `to`. */
  onContinued?(from: string, to: string): void;
  /** At once, then every two seconds: room on the disk, with a sentence when it gets short. */
  onSpace?(space: RecordingSpace): void;
  /** Bytes of samples kept in memory while the disk refuses them; 64 MiB (about 1.5 million samples) when not given. */
  readonly memoryLimit?: number;
}

export class Recorder {
  readonly #folder: string;
  readonly #worker: Worker;
  readonly #closed: Promise<void>;
  #isClosing = false;

  private constructor(options: RecorderOptions) {
    this.#folder = options.folder;
    const data: WriterOptions = { folder: options.folder, memoryLimit: options.memoryLimit ?? 64 * 2 ** 20 };
    this.#worker = startWorker('writer-worker', data);
    this.#worker.on('message', (message: FromWriter) => {
      switch (message.type) {
        case 'acknowledged': options.onAcknowledged(message.seq); break;
        case 'trouble': options.onTrouble(message.trouble); break;
        case 'recovered': options.onRecovered(); break;
        case 'continued': options.onContinued?.(message.from, message.to); break;
        case 'space': options.onSpace?.(message.space); break;
        case 'closed': break;
      }
    });
    const stopped = (error: Error | null) => {
      if (this.#isClosing) return;
      const why = error === null ? '' : ` (${error.message})`;
      options.onTrouble({ code: 'WRITER_STOPPED', message: `NOT SAVING: the writer stopped${why}. Restart the service; what was saved is safe.`, waiting: 0, lost: 0 });
    };
    this.#worker.on('error', stopped);
    this.#closed = new Promise((resolve) => this.#worker.on('exit', () => {
      stopped(null);
      resolve();
    }));
  }

  static open(options: RecorderOptions): Recorder {
    return new Recorder(options);
  }

  /**
   * Begins a session file, ending the one before.
   * @returns the session's name in the library: its file name without folder and ending
   */
  startSession(info: SessionInfo, meters: readonly MeterRecord[]): string {
    const name = reserveName(this.#folder, info.startedAtUs);
    this.#send({ type: 'start-session', name, info, meters });
    return name;
  }

  /** Goes on with the file of a complete session, ending the one before. @param info  as it is from now on @param meters  all that the session has or had */
  resumeSession(name: string, info: SessionInfo, meters: readonly MeterRecord[]): void {
    this.#send({ type: 'resume-session', name, info, meters });
  }

  startTake(take: TakeRecord): void {
    this.#change({ type: 'start-take', take });
  }

  /** Records samples of a take; samples between takes (take 0) are let go. The columns are copied. */
  appendSamples(batch: SampleBatch): void {
    if (batch.take === 0 || batch.length === 0) return;
    const bytes = canonicalBatch(batch);
    const change: SessionChange = { type: 'samples', take: batch.take, meter: batch.meter, bytes };
    this.#worker.postMessage({ type: 'change', change, lastSeq: batch.firstSeq + batch.length - 1 } satisfies ToWriter, [bytes.buffer]);
  }

  addMark(mark: MarkRecord): void {
    this.#change({ type: 'mark', mark });
  }

  /** Ends a take with its final judgement; committed at once, its last samples sealed soon after. */
  endTake(take: TakeRecord, judgement: Judgement): void {
    this.#change({ type: 'end-take', take, judgement });
  }

  updateInfo(info: SessionInfo): void {
    this.#change({ type: 'info', info });
  }

  updateMeters(meters: readonly MeterRecord[]): void {
    this.#change({ type: 'meters', meters });
  }

  /** Keeps anything else that belongs to the session, as JSON under a name: the chart, the finding, the repair. */
  putDocument(name: string, content: unknown): void {
    this.#change({ type: 'document', name, content });
  }

  /** Completes the session file. */
  endSession(): void {
    this.#send({ type: 'end-session' });
  }

  /** Writes what waits, completes the file, ends the thread. */
  async close(): Promise<void> {
    if (!this.#isClosing) {
      this.#isClosing = true;
      this.#send({ type: 'close' });
    }
    await this.#closed;
  }

  #change(change: SessionChange): void {
    this.#send({ type: 'change', change, lastSeq: 0 });
  }

  #send(message: ToWriter): void {
    this.#worker.postMessage(message);
  }
}
