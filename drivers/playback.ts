/** A recording played back as a meter: its readings come again, at the pace at which they came or faster. */
import { trouble, untroubled } from './link-trouble.ts';
import type { LinkCounts, LinkStatus, Meter, MeterListener, MeterTraits } from './meter.ts';
import type { Reading } from './reading.ts';
import type { Clock } from './transports/transport.ts';

export interface PlayedReading {
  /** s from the beginning of what is played, never falling. */
  readonly time: number;
  readonly reading: Reading;
}

/** Readings that are due within this are handed over together, s: a fast playback must not make a timer for each. */
const TOGETHER = 0.005;

export class PlaybackMeter implements Meter {
  readonly traits: MeterTraits;
  readonly #source: () => AsyncIterable<PlayedReading>;
  readonly #speed: number;
  readonly #clock: Clock;
  #listener: MeterListener | null = null;
  #status: LinkStatus = untroubled('closed');
  #readings = 0;
  #stopped: AbortController | null = null;
  #played: Promise<void> = Promise.resolve();

  /**
   * @param source  opened anew for every playing
   * @param speed  1: as it was; above: faster. Intervals shrink by it, so that what is judged at another speed than 1 is for looking, not for a verdict
   */
  constructor(traits: MeterTraits, source: () => AsyncIterable<PlayedReading>, speed: number, clock: Clock) {
    if (!(speed >= 1)) throw new RangeError(`a recording is played at 1 x or faster, not ${speed}`);
    this.traits = traits;
    this.#source = source;
    this.#speed = speed;
    this.#clock = clock;
  }

  status(): LinkStatus {
    return this.#status;
  }

  counts(): LinkCounts {
    return { readings: this.#readings, skipped: 0, bytes: 0 };
  }

  open(listener: MeterListener): void {
    if (this.#listener !== null) throw new RangeError('this meter is open already');
    this.#listener = listener;
    this.#status = untroubled('opening');
    const stopped = new AbortController();
    this.#stopped = stopped;
    this.#played = new Promise((resolve) => setImmediate(() => void this.#play(stopped.signal).finally(resolve)));
  }

  async close(): Promise<void> {
    this.#stopped?.abort();
    await this.#played;
    if (this.#listener !== null) this.#tell(untroubled('closed'));
    this.#listener = null;
  }

  async #play(signal: AbortSignal): Promise<void> {
    if (signal.aborted) return;
    this.#tell(untroubled('open'));
    const start = this.#clock();
    let together: Reading[] = [];
    let dueAt = start;
    const handOver = async (): Promise<void> => {
      if (together.length === 0) return;
      await pause(dueAt - this.#clock(), signal);
      if (signal.aborted) return;
      this.#readings += together.length;
      this.#listener?.onReadings({ arrival: this.#clock(), readings: together });
      together = [];
    };
    try {
      for await (const { time, reading } of this.#source()) {
        if (signal.aborted) return;
        const due = start + time / this.#speed;
        if (due > dueAt + TOGETHER) {
          await handOver();
          dueAt = due;
        }
        together.push(reading);
      }
      await handOver();
      if (!signal.aborted) this.#tell({ ...untroubled('silent'), message: 'The recording has been played to its end.' });
    } catch (error) {
      this.#tell(trouble('failed', 'PLAYBACK_FAILED', `${(error as Error).message}`));
    }
  }

  #tell(status: LinkStatus): void {
    this.#status = status;
    this.#listener?.onStatus(status);
  }
}

async function pause(seconds: number, signal: AbortSignal): Promise<void> {
  if (seconds <= 0 || signal.aborted) return;
  await new Promise<void>((resolve) => {
    const timer = setTimeout(done, seconds * 1000);
    signal.addEventListener('abort', done, { once: true });
    function done(): void {
      clearTimeout(timer);
      signal.removeEventListener('abort', done);
      resolve();
    }
  });
}
