/** A level that is over-range: an open circuit, healthy in the short checks. What closes it is a departure there, and a new level elsewhere. */
import { isShortCheck } from './check-traits.ts';
import type { DepartureWatch } from './departure-watch.ts';
import { extend } from './run.ts';
import type { Run } from './run.ts';
import { shiftAfter } from './watching.ts';
import type { WatchParts } from './watching.ts';

/** Readings after which an open circuit that closes is believed. */
const BELIEVED = 3;

/** A departure has begun, has come back, or has lasted; or the readings of a circuit that has closed. */
export type OverRangeOutcome = 'away' | 'back' | 'shift' | Run | null;

export class OverRangeLevel {
  readonly #departures: DepartureWatch;
  readonly #isShortCheck: boolean;
  readonly #shiftAfter: number;
  #closing: Run | null = null;

  constructor({ setup }: WatchParts, departures: DepartureWatch) {
    this.#departures = departures;
    this.#isShortCheck = isShortCheck(setup.kind);
    this.#shiftAfter = shiftAfter(setup);
  }

  watch(time: number, value: number, over: boolean): OverRangeOutcome {
    const departures = this.#departures;
    departures.fileBefore(time);
    const { away } = departures;
    if (over) {
      this.#closing = null;
      if (away === null) return null;
      departures.comeBack(away);
      return 'back';
    }
    if (!this.#isShortCheck) {
      const closing = extend(this.#closing, time, value, 0);
      this.#closing = closing;
      if (closing.n < BELIEVED) return null;
      this.#closing = null;
      return closing;
    }
    if (away === null) {
      departures.depart(time, value, value, Infinity, false, Number.NaN);
      return 'away';
    }
    departures.add(away, time, value, value, Infinity, false);
    if (Math.abs(value) < Math.abs(away.peakChange)) away.peakChange = value;
    return time - away.first > this.#shiftAfter ? 'shift' : null;
  }
}
