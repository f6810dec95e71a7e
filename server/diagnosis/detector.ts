/**
 * From samples to departures, sags, shifts and gaps, reading by reading, in constant memory.
 *
 *   learning -> quiet <-> away -> returned -> (merge time) -> dropout or sag
 *                 |          \-> shift (away too long), or a shallow plateau that is followed
 *                 \-> risen (a persistent change the good way, followed)
 *
 * Where nothing happens, samples are skipped in one tight loop (`#skipQuiet`); all else goes through `#take`.
 */
import { Flag, fromFunctionCode } from '../../drivers/reading.ts';
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import { badDirection, depthOfInterest, expectedQuantities, isShortCheck } from './check-traits.ts';
import { Departure, QUIET_AROUND } from './departure.ts';
import { ALARM_BUDGET_PER_HOUR, entryThresholdZ } from './distributions.ts';
import { MeasuredInterval } from './interval.ts';
import type { Gap, JudgeSetup, Sag, Shift } from './judgement.ts';
import { LocalTrend } from './local-trend.ts';
import { NewestList } from './newest-list.ts';
import { middleValue, NoiseScale, thresholdFactor } from './noise-scale.ts';
import type { SampleColumns } from './samples.ts';
import { RangeWatch, UNSETTLED } from './range-watch.ts';
import { Resettling } from './resettling.ts';
import { SweepWatch } from './sweep-watch.ts';
import { SteadinessWatch } from './steadiness.ts';
import { FIRST_EXCURSION, TailLearner } from './tail-learner.ts';

/** Readings from which level and noise are first learned. */
const FIRST_LOOK = 8;
/** Blocks that the level remembers: calm, and quickly moving. */
const LONG_MEMORY = 24;
const SHORT_MEMORY = 3;
/** Readings of a fast meter are gathered into blocks of this time, s. */
const BLOCK_TIME = 0.016;
const SHIFT_AFTER = 10;
const KEPT = 5000;
/** Part of the alarm budget that normal noise may use up; the rest is for heavier tails, for noise that changes, and for what nobody foresaw. */
const NOISE_SHARE = 0.3;
/** No value in these readings: blank display, held value, or between ranges. */
const NO_DATA = Flag.blank | Flag.hold | Flag.rangeHunt;

/** A finished departure that may be a dropout: the noise learned later still decides. */
export interface Candidate {
  readonly departure: Departure;
  readonly start: number;
  readonly end: number;
}

/** A level change that is followed while it may still go back. */
interface Excursion {
  readonly start: number;
  readonly from: number;
  /** Signed largest difference from `from`, SI. */
  change: number;
  readonly isBad: boolean;
}

interface Run { first: number; last: number; n: number; sum: number; low: number; high: number; peak: number }

export class Detector {
  readonly #setup: JudgeSetup;
  readonly #alarmBudget: number;
  readonly candidates = new NewestList<Candidate>(KEPT, (candidate) => this.isReal(candidate.departure));
  readonly sags = new NewestList<Sag>(KEPT);
  readonly shifts = new NewestList<Shift>(KEPT);
  readonly gaps = new NewestList<Gap>(KEPT);
  readonly steadiness = new SteadinessWatch();
  /** A sensor moved on purpose is watched in its own way. */
  readonly #sweep: SweepWatch | null;
  readonly tail: TailLearner;
  readonly noise: NoiseScale;
  readonly #resettling = new Resettling();
  readonly #ranges = new RangeWatch();
  /** Range changes that looked like dropouts. */
  rangeChanges = 0;
  #rangeBefore = Number.NaN;
  readonly #calmTrend = new LocalTrend(LONG_MEMORY);
  readonly #quickTrend = new LocalTrend(SHORT_MEMORY);
  #trend = this.#calmTrend;
  readonly #measured = new MeasuredInterval();

  // What the samples are.
  samples = 0;
  dataSamples = 0;
  /** Samples in a function that this check can't use. */
  foreignSamples = 0;
  huntSamples = 0;
  firstTime = Number.NaN;
  lastTime = Number.NaN;
  lastDataTime = Number.NaN;
  quantity: Quantity | null = null;
  #code = -1;
  #quiets = new Set<number>();
  #flags = 0;
  resolution = Number.NaN;
  /** Time lost in gaps, s. */
  gapTime = 0;
  /** Time without a usable reading at the moment began here (blank, hunting, held), s; NaN while readings come. */
  #blankSince = Number.NaN;

  // Pace.
  interval = Number.NaN;
  #gapLimit = Infinity;
  #mergeTime = 0.1;
  #blockSize = 1;
  /** The same for normal noise, an uncertain deviation allowed for. */
  #zNormal: number[] = [5, 5];

  // Level.
  #learning: { time: number; value: number; over: boolean }[] | null = [];
  levelOverRange = false;
  #direction: -1 | 0 | 1 = -1;
  #base = 0;
  #slope = 0;
  #since = 0;
  /** How far ahead the slope is believed, s. */
  #horizon = 0;
  /** In noise deviations: for a first look, and to be listed in the end. */
  #zEntry = 5;
  #zListed = 5;
  #zReadings = -1;
  /** What the tails asked for last, down and up, and what had been seen then. */
  #learned = { down: 0, up: 0, excursions: -1, readings: -1 };
  /** A departure beyond this is looked at, SI; what is listed must also stand out from the tails learned since. */
  entry = Number.NaN;
  #band = 0;
  /** A departure is over when it is smaller than this. */
  #leave = 0;

  // The block being filled.
  #n = 0;
  #sum = 0;
  #squares = 0;
  #blockStart = 0;
  #lastDifference = 0;
  #blocks = 0;
  #pick = 0;
  #picked = Number.NaN;
  quietReadings = 0;
  /** Over-range readings in a row up to now, in a spot take. */
  overRangeRun = 0;

  // Events under way.
  #away: Departure | null = null;
  #near: Run | null = null;
  #returned: Departure | null = null;
  /** The departure that the one under way will be merged with when it returns. */
  #joined: Departure | null = null;
  #good: Run | null = null;
  #excursion: Excursion | null = null;
  #recent: number[] = [];
  #lastOpposite = { time: Number.NaN, size: 0 };
  /** The newest quiet readings, for the length of the dropout that may follow. */
  readonly #lastTimes = new Float64Array(QUIET_AROUND);
  readonly #lastValues = new Float64Array(QUIET_AROUND).fill(Number.NaN);
  #lastAt = 0;
  readonly #tailPeaks = [{ peak: 0, until: -Infinity }, { peak: 0, until: -Infinity }] as const;
  #controlHits: number[] = [];

  /** @param alarmBudget  false alarms an hour that are put up with */
  constructor(setup: JudgeSetup, alarmBudget: number = ALARM_BUDGET_PER_HOUR) {
    this.#setup = setup;
    this.#alarmBudget = alarmBudget;
    this.#sweep = setup.kind === 'sensor-sweep' ? new SweepWatch() : null;
    this.tail = this.#sweep?.tail ?? new TailLearner();
    this.noise = this.#sweep?.noise ?? new NoiseScale();
    this.steadiness.isTouching = setup.watching === 'spot';
    if (setup.interval !== null) this.#setInterval(setup.interval);
  }

  /** Level now, SI; NaN before anything was learned, and when it is over-range. */
  get level(): number {
    if (this.#sweep !== null) return this.#sweep.level;
    if (this.#learning !== null) {
      const known = this.#learning.filter((s) => !s.over).map((s) => s.value);
      return known.length === 0 ? Number.NaN : middleValue(Float64Array.from(known), known.length);
    }
    return this.levelOverRange ? Number.NaN : this.#trend.value;
  }
  get isLearning(): boolean { return this.#learning !== null; }
  /** The departure under way: away from the level and not back yet. */
  get away(): Departure | null { return this.#sweep?.away ?? this.#away; }
  /** A departure that has returned and may still be merged with the next. */
  get returned(): Departure | null { return this.#returned ?? this.#joined; }
  /** A shallow plateau under way. */
  get plateau(): { start: number; from: number; change: number } | null { return this.#excursion?.isBad === true ? this.#excursion : null; }
  /** Coupling of the newest reading that counts. */
  get coupling(): Coupling { return this.#code < 0 ? 'none' : fromFunctionCode(this.#code).coupling; }
  get depthOfInterest(): number { return this.#depthAt(this.level); }
  #depthAt(level: number): number { return this.#setup.depth ?? depthOfInterest(this.quantity ?? 'voltage', level); }
  /** Threshold in noise deviations, tails learned so far included. */
  get z(): number { return this.#direction === 0 ? Math.min(this.zOf(-1), this.zOf(1)) : this.zOf(this.#direction); }
  /** The same for a departure that goes up (> 0) or down. */
  zOf(change: number): number {
    const { down, up } = this.#tails();
    // While a sensor moves, which of two values is the break is told by their lengths: the calmer side counts for both.
    return Math.max(this.#zListed, this.#sweep !== null ? Math.min(down, up) : change < 0 ? down : up);
  }
  /** Entry threshold h of the definitions, SI: a departure beyond it is noticed and stays noticed. */
  get threshold(): number { return Math.max(this.entry, this.z * (this.noise.deviation || 0), this.#sweep?.motion ?? 0); }
  get shiftAfter(): number { return this.#setup.shiftAfter ?? SHIFT_AFTER; }
  /** Value of the newest readings away from the level, SI; NaN when over-range. */
  get awayValue(): number {
    if (this.#sweep !== null) return this.#sweep.awayValue;
    return this.#recent.length === 0 ? Number.NaN : middleValue(Float64Array.from(this.#recent), this.#recent.length);
  }

  push(samples: SampleColumns, from = 0, to = samples.length): void {
    const { time, value, resolution, flags, functionCode } = samples;
    let i = from;
    while (i < to) {
      const skipped = this.#canSkip() ? this.#skipQuiet(samples, i, to) : i;
      if (skipped > i) {
        // Looked at anew, however the samples were cut: what may be skipped is never taken.
        i = skipped;
        continue;
      }
      this.#take(time[i] as number, value[i] as number, resolution[i] as number, flags[i] as number, functionCode[i] as number);
      i++;
    }
  }

  #canSkip(): boolean {
    return this.#blockSize > 1 && this.#sweep === null && this.#learning === null && !this.levelOverRange && this.#away === null && this.#returned === null &&
      this.#good === null && this.#blankSince !== this.#blankSince;
  }

  /** Skips readings close to the level up to the end of the block. @returns index of the first that needs a closer look */
  #skipQuiet(samples: SampleColumns, from: number, to: number): number {
    const { time, value, resolution, flags, functionCode } = samples;
    const end = Math.min(to, from + this.#blockSize - this.#n);
    const code = this.#code;
    const flag = this.#flags;
    const count = this.resolution;
    const anyCount = count !== count;
    const gapLimit = this.#gapLimit;
    const base = this.#base;
    const slope = this.#slope;
    const since = this.#since;
    const band = this.#band;
    let last = this.lastTime;
    let before = last;
    let sum = this.#sum;
    let squares = this.#squares;
    let i = from;
    for (; i < end; i++) {
      const t = time[i] as number;
      if (!(t - last <= gapLimit) || flags[i] !== flag || functionCode[i] !== code || (resolution[i] !== count && !anyCount)) break;
      const r = (value[i] as number) - base - slope * (t - since);
      if (!(r < band && r > -band)) break;
      sum += r;
      squares += r * r;
      before = last;
      last = t;
    }
    const skipped = i - from;
    if (skipped === 0) return i;
    const pick = from + this.#pick - this.#n;
    if (pick >= from && pick < i) this.#picked = (value[pick] as number) - base - slope * ((time[pick] as number) - since);
    if (this.#n === 0) this.#blockStart = time[from] as number;
    this.#n += skipped;
    this.#sum = sum;
    this.#squares = squares;
    this.samples += skipped;
    this.dataSamples += skipped;
    this.quietReadings += skipped;
    this.#ranges.skip(skipped);
    this.lastTime = last;
    this.lastDataTime = last;
    this.#lastDifference = last - before;
    for (let k = Math.max(from, i - QUIET_AROUND); k < i; k++) this.#keepLast(time[k] as number, value[k] as number);
    if (this.#n >= this.#blockSize) this.#endBlock();
    return i;
  }

  /** One sample, whatever it is. */
  #take(time: number, value: number, resolution: number, flags: number, code: number): void {
    this.samples++;
    if (this.samples === 1) this.firstTime = time;
    const over = (flags & Flag.overRange) !== 0;
    const difference = time - this.lastTime;
    if (difference > this.#gapLimit) this.#gap(this.lastDataTime, time);
    this.lastTime = time;
    if (code !== this.#code && !this.#adoptFunction(code)) {
      this.foreignSamples++;
      if (this.#blankSince !== this.#blankSince) this.#blankSince = this.lastDataTime === this.lastDataTime ? this.lastDataTime : time;
      return;
    }
    if ((flags & NO_DATA) !== 0 || (!over && value !== value)) {
      if ((flags & Flag.rangeHunt) !== 0) this.huntSamples++;
      if (this.#blankSince !== this.#blankSince) this.#blankSince = this.lastDataTime === this.lastDataTime ? this.lastDataTime : time;
      return;
    }
    if (this.#setup.interval === null && difference > 0 && (this.dataSamples <= 64 || this.#learning !== null) && this.#measured.add(difference)) {
      this.#setInterval(this.#measured.value);
    }
    this.#flags = flags;
    if (resolution !== this.resolution && resolution > 0) this.#setResolution(resolution);
    this.#rangeBefore = this.#ranges.settled;
    this.#ranges.add(resolution);
    if (this.#blankSince === this.#blankSince) {
      // A hunt that ends at over-range was already the departure; any other ending makes it a gap.
      if (over && !this.levelOverRange && this.#learning === null) this.#openAt(Math.min(time, this.#blankSince + this.interval));
      else this.#gap(this.#blankSince, time);
      this.#blankSince = Number.NaN;
    }
    this.#lastDifference = difference;
    this.dataSamples++;
    this.lastDataTime = time;
    if (this.#setup.watching === 'spot') this.#watchContact(time, value, over);
    else if (this.#sweep !== null) this.#watchSweep(this.#sweep, time, value, over);
    else if (this.#learning !== null) this.#learn(time, value, over);
    else this.#watch(time, value, over);
  }

  /** @returns false for a function that this check can't use */
  #adoptFunction(code: number): boolean {
    const { quantity, coupling } = fromFunctionCode(code);
    if (!this.#quiets.has(code)) {
      const expected = expectedQuantities(this.#setup.kind);
      if (quantity !== 'unknown' && expected.length > 0 && !expected.includes(quantity)) return false;
      if (this.quantity !== null && this.quantity !== 'unknown' && quantity !== this.quantity) return false;
      this.quantity = quantity;
      this.#quiets.add(code);
    }
    this.#code = code;
    this.steadiness.coupling = coupling;
    return true;
  }

  #setInterval(interval: number): void {
    this.interval = interval;
    // Times are whole microseconds: a fast meter's grid jitters by that much.
    this.#gapLimit = 1.5 * interval + 1e-6;
    this.#mergeTime = Math.max(2.5 * interval, 0.1);
    this.#blockSize = Math.max(1, Math.round(BLOCK_TIME / interval));
    this.#horizon = 3 * Math.max(BLOCK_TIME, interval);
    this.#zReadings = -1;
    this.steadiness.setMeter(this.resolution, interval);
  }

  #setResolution(resolution: number): void {
    this.resolution = resolution;
    this.noise.setCount(resolution);
    this.#calmTrend.setCount(resolution);
    this.#quickTrend.setCount(resolution);
    this.steadiness.setMeter(resolution, this.interval);
    if (this.#learning === null) this.#renewThreshold();
  }

  #gap(from: number, to: number): void {
    if (!(to > from)) return;
    this.gaps.add({ start: from, end: to });
    this.gapTime += to - from;
    this.steadiness.break();
    if (this.#learning === null && !this.levelOverRange && to - from > 4 * this.interval) {
      this.#dropBlock();
      this.#trend.forgetSlope();
      this.#adoptTrend(to);
      this.#sweep?.interrupt();
    }
  }

  // Learning.

  #learn(time: number, value: number, over: boolean): void {
    const look = this.#learning as { time: number; value: number; over: boolean }[];
    look.push({ time, value, over });
    if (!over) this.steadiness.add(time, 1, value, 0);
    if (look.length < FIRST_LOOK || this.interval !== this.interval) return;
    this.#learning = null;
    const known = look.filter((s) => !s.over);
    if (known.length <= look.length / 2) this.levelOverRange = true;
    else {
      const values = Float64Array.from(known, (s) => s.value);
      for (let i = 1; i < known.length; i++) this.noise.add(((values[i] as number) - (values[i - 1] as number)) / Math.SQRT2);
      this.#restartLevel((look[0] as { time: number }).time - this.interval, middleValue(values, values.length), 2);
    }
    this.dataSamples -= look.length;
    for (const s of look) {
      this.dataSamples++;
      this.#watch(s.time, s.value, s.over, false);
    }
  }

  #restartLevel(time: number, value: number, weight: number): void {
    this.levelOverRange = false;
    this.#resettling.interrupt();
    const kind = this.#setup.kind;
    const direction = badDirection(kind, this.quantity ?? 'voltage', this.#setup.limits, value);
    this.#direction = direction === 'down' ? -1 : direction === 'up' ? 1 : 0;
    this.#zReadings = -1;
    this.#calmTrend.restart(time, value, weight);
    this.#quickTrend.restart(time, value, weight);
    this.#dropBlock();
    this.#adoptTrend(time);
  }

  #adoptTrend(time: number): void {
    this.#base = this.#trend.value;
    this.#slope = this.#trend.slope;
    this.#since = this.#trend.time;
    if (this.#slope !== 0 && time - this.#since > this.#horizon) {
      this.#base += this.#slope * this.#horizon;
      this.#slope = 0;
    }
    this.#renewThreshold();
  }

  #renewThreshold(): void {
    if (this.noise.readings !== this.#zReadings) {
      this.#zReadings = this.noise.readings;
      const sides = this.#direction === 0 ? 2 : 1;
      this.#zNormal = [this.#alarmBudget, NOISE_SHARE * this.#alarmBudget].map((budget) => thresholdFactor(entryThresholdZ(this.interval, budget, sides), this.#zReadings));
    }
    this.#zEntry = this.noise.reach(this.#zNormal[0] as number);
    this.#zListed = this.noise.reach(this.#zNormal[1] as number);
    // A level that rests on few blocks is itself uncertain.
    const weight = this.#trend.weight;
    const unsure = weight > 20 ? 1 : Math.sqrt(1 + 1 / Math.max(1, weight));
    const count = this.resolution > 0 ? this.resolution : 0;
    // A bare 1e-12 of the level keeps a signal without any noise from leaving it by rounding.
    this.entry = Math.max(this.#zEntry * unsure * (this.noise.deviation || 0), 1.5 * count, 1e-12 * Math.abs(this.#base));
    this.#band = this.entry / 2;
    // A level between two counts shows the farther one now and then: that is no departure.
    this.#leave = Math.max(this.#band, count);
  }

  /** Thresholds for departures down and up that the tails ask for, in noise deviations: each way asks what noise does the other way. */
  #tails(): { down: number; up: number } {
    const learned = this.#learned;
    if (learned.excursions === this.tail.total && learned.readings === this.quietReadings) return learned;
    const allowed = Math.max(1e-6, (this.#alarmBudget * (this.lastTime - this.firstTime - this.gapTime)) / 3600);
    // On a coarse display excursions come in whole counts: the threshold belongs between two of them.
    const step = this.resolution / this.noise.deviation;
    const ask = (control: 0 | 1): number => {
      const size = this.tail.threshold(control, this.quietReadings, allowed, this.noise.swing);
      return size > 0 && step > 1 ? size + step / 2 : size;
    };
    this.#learned = { down: ask(1), up: ask(0), excursions: this.tail.total, readings: this.quietReadings };
    return this.#learned;
  }

  // A spot take: only contacts and what they read. A departure ends the contact, and is no dropout.

  #watchContact(time: number, value: number, over: boolean): void {
    this.#learning = null;
    if (!over) {
      this.overRangeRun = 0;
      this.steadiness.add(time, 1, value, 0);
      return;
    }
    this.overRangeRun++;
    this.steadiness.break();
  }

  // A sensor sweep.

  #watchSweep(sweep: SweepWatch, time: number, value: number, over: boolean): void {
    this.#learning = null;
    if (this.interval !== this.interval) return;
    sweep.setInterval(this.interval);
    this.#direction = 0;
    this.quietReadings = sweep.quietReadings;
    this.#blocks = sweep.quietReadings;
    this.#renewThreshold();
    if (this.#returned !== null && time - this.#returned.last > this.#mergeTime) this.#finish(this.#returned);
    const wasAway = sweep.away !== null;
    const outcome = sweep.watch(time, value, over, this.entry, this.shiftAfter);
    if (sweep.away !== null && !wasAway) this.steadiness.break();
    if (sweep.away === null && !over) this.steadiness.add(time, 1, value, 0);
    if (outcome === null) return;
    if (outcome.kind === 'shift') {
      this.shifts.add({ at: this.startOf(outcome.departure), from: outcome.departure.level, to: Number.isFinite(outcome.to) ? outcome.to : null });
      return;
    }
    const { departure, instead } = outcome;
    if (instead !== null) {
      instead.isWithdrawn = true;
      if (this.#returned === instead) this.#returned = null;
    }
    const earlier = this.#returned;
    if (earlier !== null && departure.first - earlier.last <= this.#mergeTime) earlier.merge(departure);
    else {
      if (earlier !== null) this.#finish(earlier);
      this.#returned = departure;
    }
  }

  // Watching.

  #predict(time: number): number { return this.#base + this.#slope * Math.min(time - this.#since, this.#horizon); }

  #watch(time: number, value: number, over: boolean, isNew = true): void {
    if (this.levelOverRange) {
      this.#watchOverRange(time, value, over);
      return;
    }
    if (this.#returned !== null && time - this.#returned.last > this.#mergeTime) this.#finish(this.#returned);
    const change = over ? Infinity : value - this.#predict(time);
    const size = over ? Infinity : this.#direction === 0 ? Math.abs(change) : this.#direction * change;
    if (this.#away !== null) {
      this.#watchAway(this.#away, time, value, change, size, over);
      return;
    }
    if (size > this.entry) {
      this.#good = null;
      this.#depart(time, value, change, size, over);
      return;
    }
    if (size < -this.entry) {
      this.#watchGood(time, value, -size);
      return;
    }
    if (this.#good !== null) this.#endGood(this.#good);
    if (Math.abs(change) > FIRST_EXCURSION * this.noise.deviation) this.#noteTail(time, change);
    if (this.#returned !== null) this.#returned.addQuiet(time, size);
    this.#keepLast(time, value);
    this.#quiet(time, change, isNew);
  }

  /** Excursions that stay below the threshold, or go the good way: peaks within the merge time count once. */
  #noteTail(time: number, change: number): void {
    const side = change > 0 ? 1 : 0;
    const peak = Math.abs(change) / this.noise.deviation;
    const held = this.#tailPeaks[side] as { peak: number; until: number };
    if (time <= held.until) {
      held.peak = Math.max(held.peak, peak);
      return;
    }
    if (held.peak > 0) this.tail.add(side, held.peak);
    held.peak = peak;
    held.until = time + this.#mergeTime;
  }

  #quiet(time: number, change: number, isNew: boolean): void {
    const band = this.#band;
    const kept = change > band ? band : change < -band ? -band : change;
    if (this.#n === 0) this.#blockStart = time;
    if (this.#n === this.#pick) this.#picked = change;
    this.#n++;
    this.#sum += kept;
    this.#squares += kept * kept;
    if (isNew || this.#learning === null) this.quietReadings++;
    if (this.#n >= this.#blockSize) this.#endBlock();
  }

  #dropBlock(): void {
    this.#n = 0;
    this.#sum = 0;
    this.#squares = 0;
    this.#picked = Number.NaN;
  }

  #endBlock(): void {
    const n = this.#n;
    const end = this.lastTime;
    const middle = (this.#blockStart + end) / 2;
    const off = this.#sum / n;
    const mean = this.#base + this.#slope * Math.min(middle - this.#since, this.#horizon) + off;
    if (this.#picked === this.#picked) this.noise.add(this.#picked);
    this.steadiness.add(end, n, mean, Math.max(0, this.#squares - n * off * off));
    if (this.#resettling.add(mean, n, mean - off, this.resolution)) this.#passThrough();
    this.#calmTrend.add(middle, mean);
    this.#quickTrend.add(middle, mean);
    this.#chooseTrend();
    this.#blocks++;
    this.#dropBlock();
    // A fixed place in the block could lock onto a ripple; the golden ratio spreads the places evenly.
    this.#pick = Math.floor(((this.#blocks * 0.6180339887498949) % 1) * this.#blockSize);
    if (this.#setup.interval === null && this.dataSamples > 64 && this.#lastDifference > 0 && this.#measured.add(this.#lastDifference)) {
      this.#setInterval(this.#measured.value);
    }
    this.#adoptTrend(end);
    const excursion = this.#excursion;
    if (excursion !== null && end - excursion.start > this.shiftAfter) this.#settleExcursion(excursion);
  }

  #chooseTrend(): void {
    const calm = this.#calmTrend.surprise;
    const quick = this.#quickTrend.surprise;
    if (this.#calmTrend.surprises < 16) return;
    if (this.#trend === this.#calmTrend ? quick < 0.6 * calm : quick < 0.85 * calm) this.#trend = this.#quickTrend;
    else this.#trend = this.#calmTrend;
  }

  // Departures.

  /** Opens a departure whose first reading was seen before its size was known (a range hunt on the way to over-range). */
  #openAt(time: number): void {
    if (this.#away === null) this.#depart(time, Number.NaN, Infinity, Infinity, true);
  }

  #depart(time: number, value: number, change: number, size: number, over: boolean): void {
    this.#dropBlock();
    this.#resettling.interrupt();
    this.#joined = this.#returned;
    this.#returned = null;
    const level = this.levelOverRange ? Number.NaN : this.#predict(time);
    const away = new Departure(time, level, this.noise.deviation, this.entry, this.#quietBefore(level));
    if (time - this.#lastOpposite.time <= this.#mergeTime) away.opposite = Math.max(away.opposite, this.#lastOpposite.size);
    this.#away = away;
    this.#near = null;
    this.#recent = [];
    away.rangeBefore = this.#rangeBefore;
    away.add(time, change, size, over);
    this.#remember(value, over);
    this.steadiness.break();
  }

  #keepLast(time: number, value: number): void {
    const at = this.#lastAt;
    this.#lastTimes[at] = time;
    this.#lastValues[at] = value;
    this.#lastAt = at + 1 === QUIET_AROUND ? 0 : at + 1;
  }

  #quietBefore(level: number): { ends: number[]; sizes: number[] } {
    const sign = this.#direction === 0 ? 1 : this.#direction;
    const ends: number[] = [];
    const sizes: number[] = [];
    for (let k = 0; k < QUIET_AROUND; k++) {
      const at = (this.#lastAt + k) % QUIET_AROUND;
      const value = this.#lastValues[at] as number;
      if (value !== value) continue;
      ends.push(this.#lastTimes[at] as number);
      sizes.push(sign * (value - level));
    }
    return { ends, sizes };
  }

  #remember(value: number, over: boolean): void {
    this.#recent.push(over ? Infinity : value);
    if (this.#recent.length > 5) this.#recent.shift();
  }

  #watchAway(away: Departure, time: number, value: number, change: number, size: number, over: boolean): void {
    if (!over && size < this.#leave) {
      this.#near = null;
      if (size < -this.entry) away.opposite = Math.max(away.opposite, -size);
      this.#comeBack(away);
      away.addQuiet(time, size);
      this.#keepLast(time, value);
      if (Math.abs(change) < this.entry) this.#quiet(time, change, true);
      else this.#watchGood(time, value, Math.abs(change));
      return;
    }
    const interest = this.depthOfInterest;
    const nearEnough = Math.min(interest, Math.max(away.peak > interest ? 0.5 * interest : 0, 0.3 * away.peak));
    if (!over && size < Math.max(away.peak > 2 * this.entry ? this.entry : 0, nearEnough)) {
      const near = extend(this.#near, time, value, size);
      this.#near = near;
      if (near.n >= 3 && near.last - near.first >= Math.min(0.1, 4 * this.interval)) {
        this.#comeBack(away);
        this.#followTo(near, away.level);
      }
      return;
    }
    this.#near = null;
    away.add(time, change, size, over);
    this.#remember(value, over);
    if (time - away.first > this.shiftAfter) {
      this.#shift(away);
      return;
    }
    if (away.readings >= 3 && away.peak < interest) this.#followPlateau(away, interest);
  }

  /** A shallow departure that stays put is followed, so that a dropout on top of it is seen. */
  #followPlateau(away: Departure, interest: number): void {
    const recent = this.#recent.slice(-3);
    const spread = Math.max(...recent) - Math.min(...recent);
    if (!(spread < this.entry) || away.last - away.first < Math.min(this.#mergeTime, 4 * this.interval)) return;
    const value = middleValue(Float64Array.from(recent), recent.length);
    const excursion = this.#excursion;
    const from = excursion?.from ?? away.level;
    if (Math.abs(value - from) >= interest) return;
    this.#finishJoined();
    this.#away = null;
    this.#near = null;
    if (excursion !== null && Math.abs(value - from) <= this.entry) this.#excursion = null;
    else if (excursion !== null) excursion.change = value - from;
    else this.#excursion = { start: this.startOf(away), from, change: value - from, isBad: true };
    this.#restartLevel(away.last, value, 2);
  }

  /** The signal came back, but not quite to its old level: what is left is followed. */
  #followTo(near: Run, from: number): void {
    const value = near.sum / near.n;
    this.#near = null;
    if (this.#excursion === null) this.#excursion = { start: near.first, from, change: value - from, isBad: this.#direction * (value - from) > 0 };
    this.#restartLevel(near.last, value, 2);
  }

  /** The dip that has just ended led to another level: loads that changed over, and no dropout unless it was deep. */
  #passThrough(): void {
    const departure = this.#resettling.take();
    if (departure === null || departure.overRange || !(departure.peak < this.#depthAt(departure.level))) return;
    const outcome = this.classify(departure);
    if (outcome === null || !('departure' in outcome)) return;
    departure.isWithdrawn = true;
    this.sags.add({ start: outcome.start, end: outcome.end, depth: departure.peakChange });
  }

  #comeBack(away: Departure): void {
    const joined = this.#joined;
    this.#away = null;
    this.#joined = null;
    joined?.merge(away);
    this.#returned = joined ?? away;
    this.#resettling.watch(this.#returned);
  }

  /** The departure under way turned out to be something else: the one before it stands for itself. */
  #finishJoined(): void {
    const joined = this.#joined;
    this.#joined = null;
    if (joined !== null) this.#finish(joined);
  }

  /** Time at which the signal left: within the first reading by the part of it that was away, or in the dead time before. */
  startOf(away: Departure): number {
    const aperture = Math.min(this.#setup.aperture ?? this.interval, this.interval);
    const part = away.firstPart;
    if (away.readings < 2) return away.first - aperture / 2 - (this.interval - aperture) / 4;
    return part > 0.95 ? away.first - (this.interval + aperture) / 2 : away.first - part * aperture;
  }

  #finish(departure: Departure): void {
    this.#returned = null;
    if (departure.readings <= UNSETTLED && !departure.overRange && this.#ranges.hasLeft(departure.rangeBefore)) {
      // The level is what it was, in another range: a range hunt that nobody marked.
      departure.isWithdrawn = true;
      this.rangeChanges++;
      this.gaps.add({ start: departure.first - this.interval, end: departure.last });
      this.gapTime += departure.last - departure.first + this.interval;
      return;
    }
    const outcome = this.classify(departure);
    if (this.#direction === 0 && departure.readings < 2 && Number.isFinite(departure.peak) && !this.#isOpen(departure)) {
      // Both ways are bad: one reading by itself may be noise, and then it says how far noise goes the other way.
      this.tail.add(departure.peakChange > 0 ? 1 : 0, departure.peak / departure.noise);
    }
    if (outcome === null) return;
    if ('departure' in outcome) this.candidates.add(outcome);
    else this.sags.add(outcome);
  }

  /** Dropouts so far: those that stand out from all noise seen; one that has just returned may still be merged with the next. */
  dropouts(): Candidate[] {
    const listed = this.candidates.items().filter((candidate) => this.isReal(candidate.departure));
    const pending = this.#returned ?? this.#joined;
    const last = pending === null ? null : this.classify(pending);
    if (last !== null && 'departure' in last && this.isReal(last.departure)) listed.push(last);
    return listed;
  }

  /** Size that a departure up (> 0) or down needs to be listed, as all noise and movement seen by now show, SI. @param noise  s when it left */
  leastListed(change: number, noise: number): number { return Math.max(noise * this.zOf(change), this.#sweep?.motion ?? 0); }

  /** False for a departure that, as the noise learned since shows, was no more than noise. */
  isReal(departure: Departure): boolean {
    if (departure.isWithdrawn) return false;
    // One that reads nothing is what it looks like, however far interference once went the other way.
    if (this.#sweep === null && this.#isOpen(departure)) return departure.peak >= departure.noise * this.#zListed;
    return !(Math.min(departure.peak, departure.edge) < this.leastListed(departure.peakChange, departure.noise));
  }

  /** True for a departure to zero, where an open circuit takes a supply or a current. */
  #isOpen({ level, peakChange, noise, threshold }: Departure): boolean {
    return Math.abs(level) > 2 * threshold && Math.abs(level + peakChange) < Math.max(3 * noise, 0.05 * Math.abs(level));
  }

  /** What a departure that has returned is; null when it was interference, which goes both ways. */
  classify(departure: Departure): Candidate | Sag | null {
    const start = this.startOf(departure);
    if (this.levelOverRange) return this.#classifyClosing(departure, start);
    const isNoise = departure.opposite > 0.5 * departure.peak && !(departure.peak > 0.5 * Math.abs(departure.level) && Math.abs(departure.level) > 10 * departure.threshold);
    if (isNoise) return null;
    if (departure.isWithdrawn) return null;
    if (departure.peak < this.#depthAt(departure.level) && departure.isPlateau && !departure.overRange) {
      return { start, end: departure.last, depth: departure.peakChange };
    }
    return { departure, start, end: Math.max(departure.last, start) };
  }

  /** A short check whose over-range level closed for a moment. */
  #classifyClosing(departure: Departure, start: number): Candidate | Sag {
    const low = this.#setup.limits.low;
    if (departure.readings >= 3 && low !== null && departure.peakChange > low) return { start, end: departure.last, depth: null };
    return { departure, start, end: Math.max(departure.last, start) };
  }

  #shift(away: Departure): void {
    const from = away.level;
    const value = middleValue(Float64Array.from(this.#recent), this.#recent.length);
    this.#away = null;
    this.#near = null;
    this.#excursion = null;
    const toOver = !Number.isFinite(value);
    this.#finishJoined();
    this.shifts.add({ at: this.startOf(away), from: Number.isFinite(from) ? from : null, to: toOver ? null : value });
    if (toOver) this.#levelGoesOver();
    else this.#restartLevel(away.last, value, 2);
  }

  #levelGoesOver(): void {
    this.levelOverRange = true;
    this.#dropBlock();
    this.#good = null;
  }

  /** The followed change has lasted: it is the level now. */
  #settleExcursion(excursion: Excursion): void {
    this.#excursion = null;
    const to = this.#trend.value;
    if (Math.abs(to - excursion.from) > this.entry) this.shifts.add({ at: excursion.start, from: excursion.from, to });
  }

  // The good way.

  #watchGood(time: number, value: number, size: number): void {
    this.#lastOpposite = { time, size: time - this.#lastOpposite.time <= this.#mergeTime ? Math.max(size, this.#lastOpposite.size) : size };
    if (this.#returned !== null) this.#returned.opposite = Math.max(this.#returned.opposite, size);
    const good = extend(this.#good, time, value, size);
    this.#good = good;
    if (good.n === 1) this.#dropBlock();
    if (good.high - good.low > Math.max(2 * this.entry, 0.2 * good.peak)) {
      // Not there yet, or not still: what comes from here on may be.
      this.#good = { ...extend(null, time, value, size), peak: good.peak };
      return;
    }
    if (good.n < 3 || good.last - good.first < Math.min(this.#mergeTime, 4 * this.interval)) return;
    const to = good.sum / good.n;
    this.#good = null;
    this.steadiness.break();
    const excursion = this.#excursion;
    if (this.#returned !== null) this.#finish(this.#returned);
    if (this.#resettling.settleAt(to, this.resolution)) this.#passThrough();
    if (excursion === null) {
      this.#excursion = { start: good.first - this.interval / 2, from: this.#base, change: to - this.#base, isBad: false };
    } else if (excursion.isBad && this.#direction * (to - excursion.from) < this.entry) {
      this.sags.add({ start: excursion.start, end: good.first - this.interval / 2, depth: excursion.change });
      this.#excursion = null;
    }
    this.#restartLevel(time, to, 2);
  }

  /** The excursion the good way went back by itself: it was noise, and says how far noise reaches. */
  #endGood(good: Run): void {
    this.#good = null;
    if (!(this.noise.deviation > 0)) return;
    this.tail.add(this.#direction < 0 ? 1 : 0, good.peak / this.noise.deviation);
    this.#controlHits.push(this.dataSamples);
    if (this.#controlHits.length > 6) this.#controlHits.shift();
    if (this.#controlHits.length === 6 && this.dataSamples - (this.#controlHits[0] as number) < 120) {
      // So many in a row: the noise itself has grown. Learn it afresh.
      this.#controlHits = [];
      if (this.#returned !== null) this.#finish(this.#returned);
      this.#learning = [];
      this.noise.restart();
      this.#excursion = null;
      this.#dropBlock();
    }
  }

  // An over-range level.

  #watchOverRange(time: number, value: number, over: boolean): void {
    if (this.#returned !== null && time - this.#returned.last > this.#mergeTime) this.#finish(this.#returned);
    const isBad = isShortCheck(this.#setup.kind);
    if (over) {
      this.#good = null;
      if (this.#away !== null) this.#comeBack(this.#away);
      return;
    }
    if (!isBad) {
      // An open circuit that closes: believed after three readings.
      const good = extend(this.#good, time, value, 0);
      this.#good = good;
      if (good.n < 3) return;
      this.#good = null;
      this.shifts.add({ at: good.first - this.interval / 2, from: null, to: good.sum / good.n });
      this.#restartLevel(time, good.sum / good.n, 2);
      return;
    }
    if (this.#away === null) this.#depart(time, value, value, Infinity, false);
    else {
      this.#away.add(time, value, Infinity, false);
      this.#remember(value, false);
      if (Math.abs(value) < Math.abs(this.#away.peakChange)) this.#away.peakChange = value;
      if (time - this.#away.first > this.shiftAfter) this.#shift(this.#away);
    }
  }
}

function extend(run: Run | null, time: number, value: number, size: number): Run {
  if (run === null) return { first: time, last: time, n: 1, sum: value, low: value, high: value, peak: size };
  run.last = time;
  run.n++;
  run.sum += value;
  run.low = Math.min(run.low, value);
  run.high = Math.max(run.high, value);
  run.peak = Math.max(run.peak, size);
  return run;
}
