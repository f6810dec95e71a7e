/** A sensor that is moved on purpose: the breaks that `SweepWatch` tells, merged and filed like any departure. */
import type { Departure } from './departure.ts';
import type { SweepWatch } from './sweep-watch.ts';
import { shiftAfter } from './watching.ts';
import type { Watching, WatchParts } from './watching.ts';

/** Without a level that readings teach, it counts as just found. */
const LEVEL = { base: 0, weight: 0 };

export class SweptWatch implements Watching {
  readonly #parts: WatchParts;
  readonly #sweep: SweepWatch;
  readonly #shiftAfter: number;
  #returned: Departure | null = null;
  /** The newest one told of. */
  #newest: Departure | null = null;
  readonly isOverRange = false;
  readonly plateau = null;
  readonly onTrial = [];
  isLearning = true;

  constructor(parts: WatchParts, sweep: SweepWatch) {
    this.#parts = parts;
    this.#sweep = sweep;
    this.#shiftAfter = shiftAfter(parts.setup);
    parts.threshold.direction = 0;
  }

  get level(): number { return this.#sweep.level; }
  get away(): Departure | null { return this.#sweep.away; }
  get awayValue(): number { return this.#sweep.awayValue; }
  get pending(): Departure | null { return this.#returned; }

  renewThreshold(): void {
    const { pace, threshold } = this.#parts;
    if (pace.interval > 0) threshold.renew(pace, LEVEL);
  }

  /** The over-range reading itself is the departure. */
  openAt(): boolean { return true; }

  pause(): void {
    this.renewThreshold();
    this.#sweep.interrupt();
  }

  watch(time: number, value: number, over: boolean): void {
    const { pace, tally, threshold, events, steadiness } = this.#parts;
    this.isLearning = false;
    if (pace.interval !== pace.interval) return;
    const sweep = this.#sweep;
    sweep.setInterval(pace.interval);
    tally.quietReadings = sweep.quietReadings;
    this.renewThreshold();
    const earlier = this.#returned;
    if (earlier !== null && time - earlier.last > pace.mergeTime) this.#fileReturned(earlier);
    const wasAway = sweep.away !== null;
    const outcome = sweep.watch(time, value, over, threshold.entry, this.#shiftAfter);
    if (sweep.away !== null && !wasAway) steadiness.break();
    if (sweep.away === null && !over) steadiness.add(time, 1, value, 0);
    if (outcome === null) return;
    if (outcome.kind === 'shift') {
      events.addShift(events.startOf(outcome.departure), outcome.departure.level, outcome.to);
      return;
    }
    const { departure, instead } = outcome;
    if (instead !== null && events.isReal(instead) && !events.isReal(departure)) {
      // What noise or movement explains takes back nothing that they don't.
      if (instead !== this.#newest) this.#mergeOrKeep(instead);
      return;
    }
    if (instead !== null) {
      instead.isWithdrawn = true;
      if (this.#returned === instead) this.#returned = null;
    }
    this.#mergeOrKeep(departure);
  }

  #mergeOrKeep(departure: Departure): void {
    this.#newest = departure;
    const earlier = this.#returned;
    if (earlier !== null && departure.first - earlier.last <= this.#parts.pace.mergeTime) {
      earlier.merge(departure);
      return;
    }
    if (earlier !== null) this.#fileReturned(earlier);
    this.#returned = departure;
  }

  #fileReturned(departure: Departure): void {
    this.#returned = null;
    this.#parts.events.file(departure);
  }
}
