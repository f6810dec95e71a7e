/**
 * What waits to be written, in order, and what becomes of it when the disk refuses. Everything is kept and tried
 * again; only when the samples that wait outgrow the memory limit are the oldest given up, and a loss is noted
 * in their place. Records (takes, marks, names) are never given up.
 */
import { RecordingError, type RecordingTrouble, troubleOf } from './errors.ts';
import { sessionPath } from './names.ts';
import { type Loss, type SessionChange, SessionWriter } from './session-writer.ts';
import { fromCanonical } from './stored-samples.ts';
import type { ToWriter, WriterOptions } from './writer-protocol.ts';

type Queued = Exclude<ToWriter, { type: 'close' }>;

export interface WriteQueueListener {
  onAcknowledged(seq: number): void;
  onTrouble(trouble: RecordingTrouble): void;
  onRecovered(): void;
}

export class WriteQueue {
  readonly #options: WriterOptions;
  readonly #listener: WriteQueueListener;
  #queue: Queued[] = [];
  #waitingBytes = 0;
  #lost = 0;
  #trouble: RecordingError | null = null;
  #writer: SessionWriter | null = null;

  constructor(options: WriterOptions, listener: WriteQueueListener) {
    this.#options = options;
    this.#listener = listener;
  }

  add(item: Queued): void {
    this.#queue.push(item);
    if (item.type === 'change' && item.change.type === 'samples') {
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
      while (this.#queue.length > 0) this.#writeNext();
      if (this.#trouble !== null) this.#writer?.sealNext();
      if (this.#trouble !== null) {
        this.#trouble = null;
        this.#lost = 0;
        this.#listener.onRecovered();
      }
    } catch (error) {
      this.#tell(error);
    }
  }

  /** Proves that the file is still there, and shows that it is being written. */
  touch(): void {
    try {
      this.#writer?.touch();
    } catch (error) {
      this.#tell(error);
    }
  }

  /** Seals one block that waits, if the disk lets it. @returns true while more wait */
  sealNext(): boolean {
    if (this.#trouble !== null) return false;
    try {
      return this.#writer?.sealNext() ?? false;
    } catch (error) {
      this.#tell(error);
      return false;
    }
  }

  /** Writes and seals what it can, and closes the file. */
  close(): void {
    this.flush();
    this.#finish();
  }

  #writeNext(): void {
    const first = this.#queue[0]!;
    switch (first.type) {
      case 'start-session':
        this.#finish();
        this.#writer = new SessionWriter(sessionPath(this.#options.folder, first.name), first.info, first.meters);
        this.#queue.shift();
        break;
      case 'end-session':
        this.#finish();
        this.#queue.shift();
        break;
      case 'change': {
        const end = this.#queue.findIndex((item) => item.type !== 'change');
        const run = this.#queue.slice(0, end < 0 ? undefined : end) as Extract<Queued, { type: 'change' }>[];
        this.#writer?.commit(run.map(({ change }) => change));
        this.#queue.splice(0, run.length);
        let acknowledged = 0;
        for (const { change, lastSeq } of run) {
          acknowledged = Math.max(acknowledged, lastSeq);
          if (change.type === 'samples') this.#waitingBytes -= change.bytes.byteLength;
        }
        if (acknowledged > 0) this.#listener.onAcknowledged(acknowledged);
        break;
      }
    }
  }

  /** Completes the file; one that the disk refuses to complete stays as it is, as after a crash: nothing committed is lost. */
  #finish(): void {
    const writer = this.#writer;
    this.#writer = null;
    try {
      writer?.finish();
    } catch (error) {
      writer?.abandon();
      this.#tell(error);
    }
  }

  #tell(error: unknown): void {
    this.#trouble = troubleOf(error, this.#writer?.path ?? this.#options.folder);
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
      if (before?.type === 'change' && before.change.type === 'loss') kept.pop();
      const joined = before?.type === 'change' && before.change.type === 'loss' ? joinLosses(before.change.loss, loss) : loss;
      kept.push({ type: 'change', change: { type: 'loss', loss: joined }, lastSeq: 0 });
    }
    this.#queue = kept;
  }
}

type QueuedSamples = Extract<Queued, { type: 'change' }> & { readonly change: Extract<SessionChange, { type: 'samples' }> };

function isSamples(item: Queued): item is QueuedSamples {
  return item.type === 'change' && item.change.type === 'samples';
}

function joinLosses(a: Loss, b: Loss): Loss {
  return {
    firstSeq: Math.min(a.firstSeq, b.firstSeq), lastSeq: Math.max(a.lastSeq, b.lastSeq), samples: a.samples + b.samples,
    from: Math.min(a.from, b.from), to: Math.max(a.to, b.to), why: a.why,
  };
}
