/** Runs a simulated instrument on the clock and hands over its lines as bytes, like a cable would. */
import type { Clock, Transport, TransportListener } from '../transports/transport.ts';
import type { SimulatedInstrument } from './physics.ts';

/** Lines of a fast meter come this far apart at most, s. */
const SHORTEST_TICK = 0.002;
/** After a longer pause (the computer slept) the meter has not been measuring, s. */
const LONGEST_PAUSE = 2;

export class SimulatedTransport implements Transport {
  readonly #instrument: SimulatedInstrument;
  readonly #batch: number;
  readonly #clock: Clock;
  #listener: TransportListener | null = null;
  #timer: NodeJS.Timeout | null = null;
  #startedAt: number | null = null;
  #held: string[] = [];
  #releaseAt = 0;

  /** @param batch  lines are held back and handed over together this often, s; 0 for at once */
  constructor(instrument: SimulatedInstrument, batch: number, clock: Clock) {
    this.#instrument = instrument;
    this.#batch = batch;
    this.#clock = clock;
  }

  /** Time 0 of the simulation on the monotonic clock, s; null before the first opening. */
  get startedAt(): number | null {
    return this.#startedAt;
  }

  open(listener: TransportListener): void {
    this.#listener = listener;
    this.#startedAt ??= this.#clock();
    this.#instrument.skipTo(this.#clock() - this.#startedAt);
    setImmediate(() => {
      if (this.#listener !== listener) return;
      listener.onConnected();
      this.#schedule();
    });
  }

  write(): boolean {
    return this.#listener !== null;
  }

  checkLink(): void {
    // Nothing can come off.
  }

  close(): Promise<void> {
    this.#listener = null;
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    this.#held = [];
    return Promise.resolve();
  }

  #schedule(): void {
    const due = this.#instrument.nextEnd + (this.#startedAt as number) - this.#clock();
    const untilRelease = this.#held.length > 0 ? this.#releaseAt - this.#clock() : Infinity;
    this.#timer = setTimeout(() => this.#tick(), Math.max(SHORTEST_TICK, Math.min(due, untilRelease)) * 1000);
  }

  #tick(): void {
    const now = this.#clock();
    const time = now - (this.#startedAt as number);
    if (time - this.#instrument.nextEnd > LONGEST_PAUSE) this.#instrument.skipTo(time);
    while (this.#instrument.nextEnd <= time) this.#held.push(`${this.#instrument.next().text}\r\n`);
    if (this.#held.length > 0 && now >= this.#releaseAt) {
      const bytes = Buffer.from(this.#held.join(''), 'latin1');
      this.#held = [];
      if (this.#batch > 0) this.#releaseAt = (Math.floor(now / this.#batch) + 1) * this.#batch;
      this.#listener?.onBytes(bytes, now);
    }
    if (this.#listener !== null) this.#schedule();
  }
}
