/**
 * Where the level is after a dip. A dropout goes back to the level that it left; two loads that change over, one going off as the other
 * comes on, leave a dip and then another level.
 */
import type { Departure } from './departure.ts';

/** Readings after a dip from which the level is told. */
const READINGS = 8;
/** Readings at the old level that show a dip to be over, whatever comes next. */
const BACK = 3;
/** Eights over which the level's own wandering is averaged. */
const MEMORY = 32;
/** How many times its usual wandering (deviation) the level must have moved. */
const MOVED = 5;
/** Mean size of a normal value, inverted. */
const MEAN_TO_DEVIATION = 1.2533;

export class Resettling {
  #departure: Departure | null = null;
  /** The eight being filled, and the level foretold when it began. */
  #n = 0;
  #sum = 0;
  #foretold = 0;
  /** Value of one count, SI; NaN when not known. */
  #count = Number.NaN;
  /** Its first half. */
  #earlyReadings = 0;
  #earlySum = 0;
  /** Mean size of what eights differ from the level foretold. */
  #wander = 0;
  #eights = 0;

  /** A dip has just ended. */
  watch(departure: Departure): void {
    this.#departure = departure;
    this.#n = 0;
  }

  /** Another departure begins: what was gathered since the last one is no full eight, but may show that the level was back where it was. */
  interrupt(): void {
    if (this.#departure !== null && this.#n >= BACK && this.#moved(this.#sum / this.#n, this.#count) === 0) this.#departure = null;
    this.#n = 0;
  }

  /** The dip whose end was watched; it is asked for once. */
  take(): Departure | null {
    const departure = this.#departure;
    this.#departure = null;
    return departure;
  }

  /**
   * @param mean  of n quiet readings, SI @param level  foretold for them, SI @param count  value of one count, SI; NaN when not known
   * @returns true when the level turns out not to be what it was before the dip
   */
  add(mean: number, n: number, level: number, count: number): boolean {
    if (this.#n === 0) {
      this.#sum = 0;
      this.#earlyReadings = 0;
      this.#foretold = level;
    }
    this.#n += n;
    this.#sum += n * mean;
    this.#count = count;
    if (2 * this.#n <= READINGS) {
      this.#earlyReadings = this.#n;
      this.#earlySum = this.#sum;
    }
    if (this.#n < READINGS) return false;
    const all = this.#n;
    const sum = this.#sum;
    this.#n = 0;
    if (this.#departure !== null) {
      const half = this.#earlyReadings;
      // A filtering meter comes back slowly, so the later half must have moved; the next load may come soon, so the earlier half must, too.
      const move = this.#moved(half === 0 ? sum / all : (sum - this.#earlySum) / (all - half), count);
      if (move !== 0 && (half === 0 || this.#moved(this.#earlySum / half, count) === move)) return true;
      this.#departure = null;
      return false;
    }
    const off = Math.abs(sum / all - this.#foretold);
    this.#eights++;
    // A load step is no wandering.
    this.#wander += ((this.#eights > 4 ? Math.min(off, 4 * this.#wander) : off) - this.#wander) / Math.min(this.#eights, MEMORY);
    return false;
  }

  /** A new level was found. @returns as `add` */
  settleAt(value: number, count: number): boolean {
    this.interrupt();
    return this.#departure !== null && this.#moved(value, count) !== 0;
  }

  /** Which way the level has moved since before the dip: up 1, down -1, not clearly 0. */
  #moved(level: number, count: number): number {
    const change = level - (this.#departure as Departure).level;
    // A level between two counts shows one or the other for a while.
    return this.#eights > 4 && Math.abs(change) > Math.max(MOVED * MEAN_TO_DEVIATION * this.#wander, count > 0 ? 1.5 * count : 0) ? Math.sign(change) : 0;
  }
}
