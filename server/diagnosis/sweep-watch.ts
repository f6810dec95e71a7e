/**
 * A sensor that is moved on purpose, watched for breaks. The signal moves by itself, as fast as a hand; a break is a jump and a
 * jump back, which no hand makes. So the level is predicted from reading to reading, and a departure counts only when it began and ended
 * within two readings each and stood apart in between; whatever leaves gradually is movement, and is followed.
 */
import { Departure, QUIET_AROUND } from './departure.ts';
import { entryThresholdZ } from './distributions.ts';
import { LocalTrend } from './local-trend.ts';
import { NoiseScale } from './noise-scale.ts';
import { TailLearner } from './tail-learner.ts';

/** Readings that the prediction remembers: few, since a hand changes its speed within a tenth of a second. */
const MEMORY = 3;
const FIRST_LOOK = 6;
/** Readings within which a break begins or ends: one may be partly in it. */
const EDGE = 2;
/** Part of a departure that must come and go within its edges. */
const EDGE_PART = 0.5;
/** Part of a break, and noise deviations, beyond which its first reading has drawn the prediction after it. */
const LEAST_PART = 0.3;
const LEAST_NOISE = 2.5;
/** The reading before a break is off by less than this part of it. */
const STILL_PART = 0.4;
/** A break must exceed what the fastest movement seen does in so many readings: a hand may start, stop or turn between two. */
const MOTION_READINGS = 3;
/** Readings before the newest that are kept; steps the same way that show movement; and the time in which a fast one is forgotten, s. */
const KEPT_READINGS = 4;
const MOVING_READINGS = 3;
const FORGET = 300;
/** Part that the smallest of these steps has of the largest, at least: a hand goes on much as it went, the jumps of a chattering contact differ. */
const ALIKE = 0.5;

export type SweepOutcome =
  /** `instead` of one reported before: of two levels that alternate, the one held for the shorter time is the break. */
  | { readonly kind: 'dropout'; readonly departure: Departure; readonly instead: Departure | null }
  | { readonly kind: 'shift'; readonly departure: Departure; readonly to: number };

interface Point { readonly time: number; readonly value: number }

/** A departure that seems to be over: what it read at last, and the readings since. */
interface Ended { readonly departure: Departure; readonly value: number; readonly since: Point[] }

export class SweepWatch {
  readonly noise = new NoiseScale();
  readonly tail = new TailLearner();
  readonly #trend = new LocalTrend(MEMORY);
  #seen = 0;
  #interval = 0;
  readonly #alarmBudget: number;
  /** Movement counts less in the measure in which the noise does when more false alarms are put up with. */
  #strictness = 1;
  quietReadings = 0;
  away: Departure | null = null;
  /** Newest readings and their times, oldest first. */
  #times: number[] = [];
  #values: number[] = [];
  /** Differences from the prediction since the departure began. */
  #changes: number[] = [];
  #from = 0;
  #slope = 0;
  /** The departure under way has just come back: the next reading confirms it. */
  #back: Point | null = null;
  #backSize = 0;
  /** The jump with which it began, SI. */
  #jump = 0;
  #awayLast = 0;
  #ended: Ended | null = null;
  #entry = 0;
  /** How far the reading before was off its prediction, and the fastest movement followed so far, SI per second. */
  #before = 0;
  #fastest = 0;
  /** The newest steps from reading to reading, and the newest reading, SI; NaN when over-range, or when readings were lost. */
  #steps: number[] = [];
  #newest = Number.NaN;
  /** The prediction as it was before the newest reading, and how far the reading before that was off. */
  #earlier: { readonly time: number; readonly value: number; readonly slope: number; readonly before: number } | null = null;

  /** @param alarmBudget  false alarms an hour that are put up with */
  constructor(alarmBudget: number) { this.#alarmBudget = alarmBudget; }

  /** Change of the prediction's error that movement alone can make, SI. */
  get motion(): number { return this.#strictness * MOTION_READINGS * this.#interval * this.#fastest; }
  /** The same over two readings: a break that begins partly in the first must exceed it, SI. */
  get motionOverTwo(): number { return this.#strictness * (MOTION_READINGS + 1) * this.#interval * this.#fastest; }
  /** Value predicted for now, SI. */
  get level(): number { return this.#trend.value; }
  get awayValue(): number { return this.#values.at(-1) ?? Number.NaN; }
  get isLearning(): boolean { return this.#seen < FIRST_LOOK; }

  setInterval(interval: number): void {
    this.#interval = interval;
    this.#strictness = Math.min(1, entryThresholdZ(interval, this.#alarmBudget) / entryThresholdZ(interval));
  }

  /** After lost readings the signal may be anywhere. */
  interrupt(): void {
    this.away = null;
    this.#back = null;
    this.#ended = null;
    this.#earlier = null;
    this.#seen = Math.min(this.#seen, FIRST_LOOK);
    this.#newest = Number.NaN;
    this.#times = [];
    this.#values = [];
  }

  /**
   * @param entry  difference from the prediction beyond which a departure is looked at, SI
   * @param shiftAfter  away longer than this is a shift, s
   */
  watch(time: number, value: number, over: boolean, entry: number, shiftAfter: number): SweepOutcome | null {
    this.#noteSpeed(value, over);
    const outcome = this.away !== null ? this.#watchAway(this.away, time, value, over, shiftAfter) : this.#watchLevel(time, value, over, entry);
    this.#times.push(time);
    this.#values.push(over ? Number.NaN : value);
    if (this.#times.length > KEPT_READINGS) {
      this.#times.shift();
      this.#values.shift();
    }
    return outcome;
  }

  #watchLevel(time: number, value: number, over: boolean, entry: number): SweepOutcome | null {
    if (this.#values.length === 0 || this.#seen === 0) {
      if (over) return null;
      this.#trend.restart(time, value, 1);
      this.#seen++;
      return null;
    }
    const change = over ? Infinity : value - this.#trend.predict(time);
    if (!over && this.#ended === null && this.#hasBegunBefore(time, value, entry)) return null;
    if (this.#seen >= FIRST_LOOK && Math.abs(change) > Math.max(entry, this.motion)) {
      this.#leave({ time, value }, change, entry);
      if (over) this.#awayLast = this.#from;
      const ended = this.#ended;
      this.#ended = null;
      if (ended !== null && !over && this.#isBackTo(ended, time, value)) return this.#reverse(ended, time, value);
      return null;
    }
    if (over) return null;
    if (this.#ended !== null && this.#hasBegunBefore(time, value, entry)) return null;
    this.#remember({ time, value });
    this.#follow(time, value, change);
    return null;
  }

  /** A reading is off what is predicted: a departure begins with it. */
  #leave({ time, value }: Point, change: number, entry: number): Departure {
    const level = this.#trend.predict(time);
    const sign = change < 0 ? -1 : 1;
    const ends = this.#times.slice(-QUIET_AROUND);
    const before = { ends, sizes: this.#values.slice(-QUIET_AROUND).map((v, i) => sign * (v - this.#trend.predict(ends[i] as number))) };
    const away = new Departure(time, level, this.noise.deviation, entry, before);
    away.add(time, change, Math.abs(change), change === Infinity);
    this.away = away;
    this.#from = level;
    this.#awayLast = value;
    this.#back = null;
    this.#slope = this.#trend.slope;
    this.#changes = [change];
    this.#entry = entry;
    return away;
  }

  /**
   * The reading before may have been partly in a break, too little of it to stand out, and has then drawn the prediction after it: both
   * readings together are held against the prediction without it. @returns true when a departure has begun with it
   */
  #hasBegunBefore(time: number, value: number, entry: number): boolean {
    const earlier = this.#earlier;
    const first: Point = { time: this.#times.at(-1) ?? Number.NaN, value: this.#values.at(-1) ?? Number.NaN };
    // Just begun anew, the prediction knew of no slope.
    if (earlier === null || this.#seen <= FIRST_LOOK || this.#values.length < KEPT_READINGS || first.value !== first.value) return false;
    const predict = (at: number): number => earlier.value + earlier.slope * (at - earlier.time);
    const part = first.value - predict(first.time);
    const whole = value - predict(time);
    if (!(Math.abs(whole) > Math.max(entry, this.motionOverTwo)) || !(part * Math.sign(whole) > Math.max(LEAST_PART * Math.abs(whole), LEAST_NOISE * this.noise.deviation))) return false;
    this.#trend.restart(earlier.time, earlier.value, 1);
    this.#times.pop();
    this.#values.pop();
    const away = this.#leave(first, part, entry);
    this.#times.push(first.time);
    this.#values.push(first.value);
    this.#from = predict(first.time);
    this.#slope = earlier.slope;
    this.#before = earlier.before;
    this.#ended = null;
    away.add(time, whole, Math.abs(whole), false);
    this.#awayLast = value;
    this.#changes.push(whole);
    return true;
  }

  #follow(time: number, value: number, change: number): void {
    this.#seen++;
    this.quietReadings++;
    this.noise.add(change);
    this.#noteSpike(value);
    this.#earlier = { time: this.#trend.time, value: this.#trend.value, slope: this.#trend.slope, before: this.#before };
    this.#trend.add({ middle: time, mean: value });
    this.#before = Math.abs(change);
  }

  /** Movement goes on for some readings, whatever they seem to be at first; the edge of a break takes two at most. */
  #noteSpeed(value: number, over: boolean): void {
    const steps = this.#steps;
    const step = over ? Number.NaN : value - this.#newest;
    this.#newest = over ? Number.NaN : value;
    steps.push(step);
    if (steps.length > MOVING_READINGS) steps.shift();
    const isOneWay = steps.length === MOVING_READINGS && (steps.every((s) => s > 0) || steps.every((s) => s < 0));
    const sizes = steps.map(Math.abs);
    const slowest = Math.min(...sizes);
    const speed = isOneWay && slowest > ALIKE * Math.max(...sizes) ? slowest / this.#interval : 0;
    this.#fastest = Math.max(this.#fastest * (1 - this.#interval / FORGET), speed);
  }

  /**
   * Movement goes on: only a reading that stands out from two neighbours on each side, which all agree, shows how far noise reaches. With
   * one on each side the contact between two short breaks would, too.
   */
  #noteSpike(value: number): void {
    if (this.#values.length < KEPT_READINGS) return;
    const [earlier, before, middle, after] = this.#values as [number, number, number, number];
    const spike = middle - (before + after) / 2;
    const least = 0.5 * Math.abs(spike);
    const agree = Math.abs(after - before) < least && Math.abs(before - earlier) < least && Math.abs(value - after) < least;
    if (agree) this.tail.add(spike > 0 ? 1 : 0, Math.abs(spike) / this.noise.deviation);
  }

  #watchAway(away: Departure, time: number, value: number, over: boolean, shiftAfter: number): SweepOutcome | null {
    // The old slope is believed for a few readings.
    const change = over ? Infinity : value - this.#from - this.#slope * Math.min(time - away.first, 4 * this.#interval);
    const back = this.#back;
    if (back !== null) return this.#confirm(away, back, time, value, over);
    const changes = this.#changes;
    const sign = away.peakChange < 0 ? -1 : 1;
    const jump = changes.slice(0, EDGE).reduce((most, c) => Math.max(most, sign * c), 0);
    const size = sign * change;
    const cameBy = changes.slice(-EDGE).reduce((most, c) => Math.max(most, sign * c), -Infinity) - size;
    if (!over) {
      // It must come back as fast as it went, and land where the hand can have taken the signal meanwhile. A reading halfway is not back yet.
      const lands = Math.abs(size) <= EDGE_PART * jump + this.#fastest * (time - away.first);
      if (cameBy > EDGE_PART * jump && lands && this.#before < STILL_PART * jump) {
        this.#back = { time, value };
        this.#backSize = size;
        this.#jump = jump;
        away.edge = Math.min(jump, cameBy);
        return null;
      }
      // Before it has stood, any other return shows movement; later the hand may have moved the signal past the old level.
      if (size < this.#entry / 2 && away.readings < EDGE + 2) return this.#wasMovement(time, value);
    }
    away.add(time, change, over ? Infinity : Math.max(0, size), over);
    if (!over) this.#awayLast = value;
    changes.push(change);
    if (changes.length <= EDGE + 3 && changes.length > EDGE + 1 && Number.isFinite(jump) && this.#moves(changes, sign, jump, away.noise)) return this.#wasMovement(time, value);
    // Of a long one the first and the newest are kept, and its length never again looks like that of a new one.
    if (changes.length > 16) changes.splice(EDGE, changes.length - 3 * EDGE);
    if (time - away.first > shiftAfter) {
      this.away = null;
      if (!over) this.#restart(time, value);
      return { kind: 'shift', departure: away, to: over ? Number.NaN : value };
    }
    return null;
  }

  /** A break stands after two readings; what goes on growing, or had begun to grow before, moves. One that shrinks may be about to end: the next reading tells. */
  #moves(changes: readonly number[], sign: number, jump: number, noise: number): boolean {
    const settled = changes[EDGE - 1] as number;
    const limit = Math.max(0.3 * Math.abs(settled), 3 * noise, this.motion);
    const grown = sign * ((changes[EDGE + 1] as number) - settled);
    return changes.length === EDGE + 2 ? this.#before >= STILL_PART * jump || grown > limit : grown < -limit;
  }

  /** The reading after an apparent return: it stays, goes on to where it was going, or jumps back. */
  #confirm(away: Departure, back: Point, time: number, value: number, over: boolean): SweepOutcome | null {
    this.#back = null;
    const ended: Ended = { departure: away, value: this.#awayLast, since: [back] };
    if (over || this.#isBackTo(ended, time, value)) {
      if (!over && time - back.time < away.last - away.first) return this.#reverse(ended, time, value);
      away.add(time, over ? Infinity : value - this.#from, Math.abs(over ? Infinity : value - this.#from), over);
      return null;
    }
    this.away = null;
    // A reading halfway may come between: what is left of the way back counts too.
    const left = Math.max(0, (away.peakChange < 0 ? -1 : 1) * (back.value - value));
    away.edge = Math.min(this.#jump, away.edge + left);
    away.addQuiet(back.time, this.#backSize);
    this.#ended = { ...ended, since: [back, { time, value }] };
    this.#restart(time, value);
    return { kind: 'dropout', departure: away, instead: null };
  }

  /** True when the signal has jumped to where it read during the departure that had seemed to end. */
  #isBackTo({ departure, value: awayValue, since }: Ended, time: number, value: number): boolean {
    const first = since[0] as Point;
    const jump = Math.abs(awayValue - first.value);
    const last = (since.at(-1) as Point).value;
    return time - first.time <= Math.max(departure.last - departure.first, this.#interval) &&
      Math.abs(value - last) > EDGE_PART * jump && Math.abs(value - awayValue) < EDGE_PART * jump + this.#fastest * (time - departure.last);
  }

  /** The short stay at the other value was the break, and the long one was the signal. */
  #reverse({ departure, value: awayValue, since }: Ended, time: number, value: number): SweepOutcome {
    const first = since[0] as Point;
    const brief = new Departure(first.time, awayValue, departure.noise, departure.threshold, { ends: [], sizes: [] });
    for (const point of since) brief.add(point.time, point.value - awayValue, Math.abs(point.value - awayValue), false);
    const jump = (points: readonly Point[], from: number): number => Math.max(...points.map((point) => Math.abs(point.value - from)));
    brief.alternates = true;
    brief.edge = Math.min(jump(since.slice(0, EDGE), awayValue), jump(since.slice(-EDGE), value));
    this.away = null;
    this.#restart(time, value);
    return { kind: 'dropout', departure: brief, instead: departure };
  }

  #remember(point: Point): void {
    const ended = this.#ended;
    if (ended === null) return;
    if (point.time - (ended.since[0] as Point).time > ended.departure.last - ended.departure.first) this.#ended = null;
    else if (ended.since.length < 64) ended.since.push(point);
  }

  /** The prediction was wrong: the hand moved. */
  #wasMovement(time: number, value: number): null {
    this.away = null;
    this.#restart(time, value);
    return null;
  }

  #restart(time: number, value: number): void {
    this.#times = [];
    this.#values = [];
    this.#earlier = null;
    this.#trend.restart(time, value, 1);
  }
}
