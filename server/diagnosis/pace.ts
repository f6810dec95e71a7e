/** The pace of the readings, declared or measured, and the times that follow from it. */
import { MeasuredInterval } from './interval.ts';

/** Readings of a fast meter are gathered into blocks of this time, s. */
const BLOCK_TIME = 0.016;
/** Readings each of which helps to measure it; later one a block does. */
const PACED = 64;

export class Pace {
  readonly #measured = new MeasuredInterval();
  readonly #changed: () => void;
  readonly isDeclared: boolean;
  /** From one reading to the next, s; NaN while not known. */
  interval = Number.NaN;
  /** A longer time without a reading is a gap, s. */
  gapLimit = Infinity;
  /** Departures closer together than this are one, s. */
  mergeTime = 0.1;
  /** Readings that are taken together. */
  blockSize = 1;
  /** How far ahead a slope of the level is believed, s. */
  horizon = 0;

  /** @param declared  interval, s; null when it is to be measured @param changed  is told of every interval that is measured */
  constructor(declared: number | null, changed: () => void) {
    this.#changed = changed;
    this.isDeclared = declared !== null;
    if (declared !== null) this.#set(declared);
  }

  /** @param readings  so far @returns true while every reading helps to measure it */
  isNew(readings: number): boolean { return !this.isDeclared && readings <= PACED; }

  /** Measures with one more difference of time, s (> 0). */
  measure(difference: number): void {
    if (!this.#measured.add(difference)) return;
    this.#set(this.#measured.value);
    this.#changed();
  }

  #set(interval: number): void {
    this.interval = interval;
    // Times are whole microseconds: a fast meter's grid jitters by that much.
    this.gapLimit = 1.5 * interval + 1e-6;
    this.mergeTime = Math.max(2.5 * interval, 0.1);
    this.blockSize = Math.max(1, Math.round(BLOCK_TIME / interval));
    this.horizon = 3 * Math.max(BLOCK_TIME, interval);
  }
}
