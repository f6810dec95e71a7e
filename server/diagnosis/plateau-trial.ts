/**
 * A lasting change of the level is known only once it has lasted (a shift). Until then the value at which the signal stands away from its
 * level is followed on trial, as a level of its own: what leaves it and returns to it counts if the change lasts, and else belongs to
 * the departure that the change turned out to be.
 */
import { DepartureWatch } from './departure-watch.ts';
import { NOTHING } from './departure.ts';
import type { Departure } from './departure.ts';
import { leadsBack, mayLeadBack } from './loads-off.ts';
import type { LoadsOff } from './loads-off.ts';
import { middleValue } from './noise-scale.ts';
import { extend } from './run.ts';
import type { Run } from './run.ts';
import type { WatchParts } from './watching.ts';

/** Readings that stand, at least; and the newest ones that must agree. */
const PLATEAU = 3;
/** Readings that its level and scatter are averaged over. */
const MEMORY = 64;
/** Plateaus upon each other that are followed. */
const MOST_PLATEAUS = 4;
/** Readings after which the plateau's own scatter is looked at. */
const SCATTER_KNOWN = 8;

export class PlateauTrial {
  readonly #parts: WatchParts;
  readonly #loadsOff: LoadsOff;
  /** What leaves the plateau; `file` keeps it here until it is known what the plateau is. */
  readonly departures: DepartureWatch;
  readonly #filed: Departure[] = [];
  readonly #from: number;
  /** Plateaus that this one lies upon. */
  readonly #depth: number;
  /** Where what has left the plateau stands: changes may come one upon the other. */
  upper: PlateauTrial | null = null;
  #run: Run | null = null;
  #recent: number[] = [];
  #level = Number.NaN;
  #n = 0;
  #square = 0;

  /** @param from  level that the signal has left, SI */
  constructor(parts: WatchParts, loadsOff: LoadsOff, from: number, depth = 0) {
    this.#parts = parts;
    this.#loadsOff = loadsOff;
    this.#from = from;
    this.#depth = depth;
    const { pace, ranges, steadiness } = parts;
    this.departures = new DepartureWatch({ pace, ranges, steadiness, noise: this, threshold: this, events: { file: (departure) => this.#filed.push(departure) } });
  }

  /** Value at which the signal stands, SI; NaN while it does not. */
  get level(): number { return this.#level; }
  get stands(): boolean { return this.#level === this.#level; }
  /** What has left the plateau and returned to it so far, oldest first. */
  get returned(): readonly Departure[] {
    const { pending } = this.departures;
    return [...this.#filed, ...(pending === null ? [] : [pending]), ...(this.upper?.returned ?? [])];
  }
  /** Those that can't be merged with the next any more, without what lies upon a further plateau. */
  get filed(): readonly Departure[] { return this.#filed; }
  /** Dropouts among those that have returned. */
  get dropouts(): readonly Departure[] {
    const { events } = this.#parts;
    return this.returned.filter((departure) => {
      const outcome = events.classify(departure);
      return outcome !== null && 'departure' in outcome && events.isReal(departure);
    });
  }

  /** True where the plateau is next to nothing against a dropout from it: that is no part of the plateau, though the signal goes back to where it was before. */
  isDwarfedBy({ peak }: Departure): boolean { return this.stands && Math.abs(this.#level - this.#from) < NOTHING * peak; }

  /** Scatter on the plateau, SI: a bad contact is noisier than a good one. */
  get deviation(): number {
    const { deviation } = this.#parts.noise;
    return this.#n < SCATTER_KNOWN ? deviation : Math.max(deviation, Math.sqrt(this.#square));
  }
  /** As the entry threshold, for a level that rests on few readings. */
  get entry(): number {
    const { threshold, noise: { deviation } } = this.#parts;
    const noisier = deviation > 0 ? this.deviation / deviation : 1;
    return threshold.entry * noisier * Math.sqrt(1 + 1 / Math.max(1, this.#n));
  }

  get moment(): number { return this.#parts.noise.moment; }
  get direction(): -1 | 0 | 1 { return this.#parts.threshold.direction; }

  /** One more reading away from the level. Time in s, value in SI. */
  watch(time: number, value: number, over: boolean): void {
    const { departures } = this;
    departures.fileBefore(time);
    if (!this.stands) {
      if (over) this.#run = null;
      else this.#stand(time, value);
      return;
    }
    const { direction, entry } = this;
    const change = over ? Infinity : value - this.#level;
    const size = over ? Infinity : direction === 0 ? Math.abs(change) : direction * change;
    const { away } = departures;
    if (away !== null) {
      if (!over && size < entry / 2) {
        away.count += countOf(this.upper?.dropouts ?? []);
        this.upper = null;
        departures.comeBack(away).addQuiet(time, size);
        if (size > -entry) this.#learn(time, value, change);
        return;
      }
      departures.add(away, time, value, change, size, over);
      this.upper?.watch(time, value, over);
      away.hasStood ||= this.upper?.stands === true;
      // Shallow, or where it was before a load went off, and it stands: the plateau has moved.
      if (!over && (away.peak < this.#parts.events.depthAt(this.#level) || mayLeadBack(away.waysBack, away.peak))) this.#stand(time, value);
      else this.#run = null;
      return;
    }
    if (size > entry) {
      this.#run = null;
      departures.depart(time, value, change, size, over, this.#level).waysBack = this.#loadsOff.waysBack(time, entry);
      if (this.#depth < MOST_PLATEAUS) {
        this.upper = new PlateauTrial(this.#parts, this.#loadsOff, this.#level, this.#depth + 1);
        this.upper.watch(time, value, over);
      }
      if (!over) this.#stand(time, value);
      return;
    }
    if (size < -entry) {
      departures.noteOpposite(time, -size);
      this.#stand(time, value);
      return;
    }
    this.#run = null;
    departures.returned?.addQuiet(time, size);
    this.#learn(time, value, change);
  }

  #noteMove(time: number, before: number): void {
    const risen = this.#parts.threshold.direction * (this.#level - before);
    this.#loadsOff.levelMoved();
    if (risen < 0) {
      this.departures.forgetOpposite();
      this.#loadsOff.add(time, before, this.#level);
    } else if (risen > 0) {
      const way = leadsBack(this.#loadsOff.waysBack(time, this.entry), risen);
      if (way !== undefined) this.#loadsOff.cameBack(way);
    }
  }

  #learn(time: number, value: number, change: number): void {
    this.departures.keepLast(time, value);
    this.#n++;
    const weight = 1 / Math.min(this.#n, MEMORY);
    this.#square += weight * (change * change - this.#square);
    this.#level += weight * change;
  }

  /** The signal may have come to stand: the plateau is where it stands. */
  #stand(time: number, value: number): void {
    const { pace, threshold } = this.#parts;
    if (this.#run === null) this.#recent = [];
    const run = extend(this.#run, time, value, 0);
    this.#run = run;
    this.#recent.push(value);
    if (this.#recent.length > PLATEAU) this.#recent.shift();
    // As far as a level that is found after a change the good way: `Rise`.
    if (run.high - run.low > 2 * threshold.entry) {
      // Not there yet: what comes from here on may be.
      this.#run = extend(null, time, value, 0);
      this.#recent = [value];
      return;
    }
    if (run.n < PLATEAU || run.last - run.first < pace.mergeTime) return;
    if (!(Math.max(...this.#recent) - Math.min(...this.#recent) < threshold.entry)) return;
    this.#run = null;
    this.departures.abandon();
    this.upper = null;
    const before = this.#level;
    this.#level = middleValue(Float64Array.from(this.#recent), this.#recent.length);
    this.#noteMove(run.first - pace.interval / 2, before);
    this.#n = PLATEAU;
    this.#square = 0;
  }
}

/** Of departures, those merged into one counted each. */
export function countOf(departures: readonly Departure[]): number { return departures.reduce((sum, { count }) => sum + count, 0); }
