/**
 * What waits to be written, in order, and what becomes of it when the disk refuses. Everything is kept and tried
 * again; only when the samples that wait outgrow the memory limit are the oldest given up, and a loss is noted
 * in their place. Records (takes, marks, names) are never given up.
 */
import { existsSync, rmSync } from 'node:fs';
import { basename, dirname } from 'node:path';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { RecordingError, type RecordingTrouble, troubleOf } from './errors.ts';
import { ENDING, reserveName, sessionPath } from './names.ts';
import { type SessionChange, SessionWriter } from './session-writer.ts';
import { SpaceWatch, type RecordingSpace } from './space.ts';
import { fromCanonical } from './stored-samples.ts';
import type { ToWriter, WriterOptions } from './writer-protocol.ts';

type Queued = Exclude<ToWriter, { type: 'close' }>;

export interface WriteQueueListener {
  onAcknowledged(seq: number): void;
  onTrouble(trouble: RecordingTrouble): void;
  onRecovered(): void;
  /** The file of the session was lost: it goes on in another. */
  onContinued(from: string, to: string): void;
}

/** What a file must hold before anything else, should it have to be begun again. */
interface Beginning {
  info: SessionInfo;
  meters: readonly MeterRecord[];
  readonly running: Map<number, { readonly take: TakeRecord; readonly marks: MarkRecord[] }>;
  /** By name, as they were last written. */
  readonly documents: Map<string, unknown>;
}

export class WriteQueue {
  readonly #options: WriterOptions;
  readonly #listener: WriteQueueListener;
  readonly #space: SpaceWatch;
  #queue: Queued[] = [];
  #waitingBytes = 0;
  #lost = 0;
  #trouble: RecordingError | null = null;
  #writer: SessionWriter | null = null;
  #beginning: Beginning | null = null;
  #committed = 0;

  constructor(options: WriterOptions, listener: WriteQueueListener) {
    this.#options = options;
    this.#listener = listener;
    this.#space = new SpaceWatch(options.folder);
  }

  add(item: Queued): void {
    this.#queue.push(item);
    if (isSamples(item)) {
      this.#waitingBytes += item.change.bytes.byteLength;
      if (this.#waitingBytes > this.#options.memoryLimit) this.#giveUpOldest();
    }
  }

  get isTroubled(): boolean {
    return this.#trouble !== null;
  }

  /** Writes what waits. Never throws: a disk that refuses is told to the listener and tried again next time. */
  flush(): void {
    try {
      if (this.#trouble !== null) this.#mend();
      this.#writeAll();
      if (this.#trouble !== null) {
        this.#writer?.sealNext();
        this.#trouble = null;
        this.#lost = 0;
        this.#listener.onRecovered();
      }
    } catch (error) {
      this.#tell(error);
    }
  }

  /** A step of sealing what waits, if the disk lets it. @returns true while there is more to do */
  sealStep(): boolean {
    if (this.#trouble !== null) return false;
    try {
      return this.#writer?.sealStep() ?? false;
    } catch (error) {
      this.#tell(error);
      return false;
    }
  }

  /** Proves that the file is still there, and shows that it is being written. */
  touch(): void {
    try {
      if (this.#writer?.isInPlace() === false) throw new RecordingError('FOLDER_GONE', this.#replaced(this.#writer.path));
      this.#writer?.touch();
    } catch (error) {
      this.#tell(error);
    }
  }

  /** @param now monotonic, ms */
  space(now: number): RecordingSpace {
    if (this.#writer !== null && this.#trouble === null) this.#space.keepReserve();
    const { samples: sealedSamples, bytes: sealedBytes } = this.#writer?.sealed ?? { samples: 0, bytes: 0 };
    return this.#space.measure({ samples: this.#committed, sealedSamples, sealedBytes }, now);
  }

  /** Writes and seals what it can, and closes the file. */
  close(): void {
    this.flush();
    this.#finish();
  }

  #writeAll(): void {
    try {
      while (this.#queue.length > 0) this.#writeNext();
    } catch (error) {
      if (troubleOf(error, this.#options.folder).code !== 'DISK_FULL' || !this.#space.giveUpReserve()) throw error;
      while (this.#queue.length > 0) this.#writeNext();
    }
  }

  #writeNext(): void {
    const first = this.#queue[0]!;
    switch (first.type) {
      case 'start-session':
        this.#finish();
        this.#writer = new SessionWriter(sessionPath(this.#options.folder, first.name), first.info, first.meters);
        this.#beginning = { info: first.info, meters: first.meters, running: new Map(), documents: new Map() };
        this.#queue.shift();
        break;
      case 'resume-session': {
        const { name, info, meters } = first;
        this.#finish();
        const path = sessionPath(this.#options.folder, name);
        // SQLite would make a file that was removed a moment ago anew, empty.
        this.#writer = existsSync(path) ? new SessionWriter(path) : new SessionWriter(path, info, meters);
        this.#beginning = { info, meters, running: new Map(), documents: new Map(this.#writer.documents()) };
        this.#writer.commit([{ type: 'info', info }, { type: 'meters', meters }]);
        this.#queue.shift();
        break;
      }
      case 'end-session':
        this.#finish();
        this.#queue.shift();
        break;
      case 'change': {
        const end = this.#queue.findIndex((item) => item.type !== 'change');
        const run = this.#queue.slice(0, end < 0 ? undefined : end) as Extract<Queued, { type: 'change' }>[];
        this.#writer?.commit(run.map(({ change }) => change));
        this.#queue.splice(0, run.length);
        this.#afterCommit(run);
        break;
      }
    }
  }

  #afterCommit(run: readonly Extract<Queued, { type: 'change' }>[]): void {
    let acknowledged = 0;
    for (const { change, lastSeq } of run) {
      acknowledged = Math.max(acknowledged, lastSeq);
      switch (change.type) {
        case 'samples':
          this.#waitingBytes -= change.bytes.byteLength;
          this.#committed += fromCanonical(change.bytes).length;
          break;
        default:
          if (this.#beginning !== null) noteChange(this.#beginning, change);
      }
    }
    if (acknowledged > 0) this.#listener.onAcknowledged(acknowledged);
  }

  /**
   * After trouble: is the file that is open still the one in the folder? One that was removed is put back from what is
   * still open; where that can't be (the disk itself was taken out), the session goes on in a new file.
   */
  #mend(): void {
    const writer = this.#writer;
    if (writer === null || isInPlace(writer)) return;
    if (!existsSync(dirname(writer.path))) throw new RecordingError('FOLDER_GONE', this.#replaced(writer.path));
    if (existsSync(writer.path)) return this.#beginAgain(writer);
    try {
      writer.restore();
    } catch (error) {
      rmSync(writer.path, { force: true });
      // All that was recorded is still there, only too large for the room there is: that can be made.
      if (troubleOf(error, writer.path).code === 'DISK_FULL') throw error;
      this.#beginAgain(writer);
    }
  }

  #beginAgain(old: SessionWriter): void {
    const { info, meters, running, documents } = this.#beginning!;
    const name = reserveName(this.#options.folder, info.startedAtUs);
    const writer = new SessionWriter(sessionPath(this.#options.folder, name), info, meters);
    // What others wrote (notes) can only be had from the old file, if it can still be read.
    const all = new Map([...old.documents(), ...documents, [CONTINUATION, { of: basename(old.path) }]]);
    writer.commit([
      ...[...all].map(([name, content]) => ({ type: 'document' as const, name, content })),
      ...[...running.values()].flatMap(({ take, marks }) => [{ type: 'start-take' as const, take }, ...marks.map((mark) => ({ type: 'mark' as const, mark }))]),
    ]);
    old.abandon();
    this.#writer = writer;
    this.#listener.onContinued(basename(old.path, ENDING), name);
  }

  /** Completes the file; one that the disk refuses to complete stays as it is, as after a crash: nothing committed is lost. */
  #finish(): void {
    const writer = this.#writer;
    this.#writer = null;
    this.#beginning = null;
    try {
      writer?.finish();
    } catch (error) {
      writer?.abandon();
      this.#tell(error);
    }
  }

  #replaced(path: string): string {
    return `NOT SAVING: ${path} was removed while it was being written, or its disk was taken out. Put the folder back; saving goes on by itself.`;
  }

  #tell(error: unknown): void {
    this.#trouble = troubleOf(error, this.#writer?.path ?? sessionPath(this.#options.folder, 'session'));
    const waiting = this.#queue.reduce((sum, item) => sum + (isSamples(item) ? fromCanonical(item.change.bytes).length : 0), 0);
    this.#listener.onTrouble({ code: this.#trouble.code, message: this.#trouble.message, waiting, lost: this.#lost });
  }

  #giveUpOldest(): void {
    const kept: Queued[] = [];
    for (const item of this.#queue) {
      if (this.#waitingBytes <= this.#options.memoryLimit * 0.9 || !isSamples(item)) {
        kept.push(item);
        continue;
      }
      this.#waitingBytes -= item.change.bytes.byteLength;
      const samples = fromCanonical(item.change.bytes);
      this.#lost += samples.length;
      const loss: Loss = {
        firstSeq: samples.seq[0]!, lastSeq: item.lastSeq, samples: samples.length,
        from: samples.timeUs[0]! / 1e6, to: samples.timeUs[samples.length - 1]! / 1e6,
        why: this.#trouble?.code ?? 'TOO_FAST',
      };
      const before = kept.at(-1);
      if (before?.type === 'change' && before.change.type === 'loss' && before.change.loss.why === loss.why) {
        kept[kept.length - 1] = { ...before, change: { type: 'loss', loss: joinLosses(before.change.loss, loss) } };
      } else {
        kept.push({ type: 'change', change: { type: 'loss', loss }, lastSeq: 0 });
      }
    }
    this.#queue = kept;
  }
}

/** Document of a file that goes on where another was lost. */
const CONTINUATION = 'continuation';

function noteChange(beginning: Beginning, change: Exclude<SessionChange, { type: 'samples' }>): void {
  switch (change.type) {
    case 'info': beginning.info = change.info; break;
    case 'meters': beginning.meters = change.meters; break;
    case 'start-take': beginning.running.set(change.take.id, { take: change.take, marks: [] }); break;
    case 'end-take': beginning.running.delete(change.take.id); break;
    case 'mark': beginning.running.get(change.mark.take)?.marks.push(change.mark); break;
    case 'document':
      if (change.content === null) beginning.documents.delete(change.name);
      else beginning.documents.set(change.name, change.content);
      break;
    case 'loss': break;
  }
}

type QueuedSamples = Extract<Queued, { type: 'change' }> & { readonly change: Extract<SessionChange, { type: 'samples' }> };

function isSamples(item: Queued): item is QueuedSamples {
  return item.type === 'change' && item.change.type === 'samples';
}

function isInPlace(writer: SessionWriter): boolean {
  try {
    return writer.isInPlace();
  } catch {
    return false;
  }
}

function joinLosses(a: Loss, b: Loss): Loss {
  return {
    firstSeq: Math.min(a.firstSeq, b.firstSeq), lastSeq: Math.max(a.lastSeq, b.lastSeq), samples: a.samples + b.samples,
    from: Math.min(a.from, b.from), to: Math.max(a.to, b.to), why: a.why,
  };
}
