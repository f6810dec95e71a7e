/**
 * What a meter shows of a circuit, simulated reading by reading, with the truth kept beside it. The
 * circuit is a level with drift, ripple, load steps or a swept sensor, and interruptions of any length
 * and depth; the meter averages over its aperture, has dead time, may filter, adds noise and rounds to counts.
 */
import { Flag, functionCode } from '../../drivers/reading.ts';
import type { Quantity } from '../../drivers/reading.ts';
import type { CheckKind } from '../../server/diagnosis/judgement.ts';
import type { SampleColumns } from '../../server/diagnosis/samples.ts';
import { Random } from './random.ts';
import type { NoiseShape } from './random.ts';

/** One stream in full. Times in s, values in SI. */
export interface StreamParameters {
  readonly kind: string;
  readonly check: CheckKind;
  readonly quantity: Quantity;
  readonly interval: number;
  readonly aperture: number;
  /** Weight of the newest reading in the meter's own filter; 1 for none. */
  readonly filter: number;
  /** Value of one count. */
  readonly count: number;
  readonly noise: number;
  readonly noiseShape: NoiseShape;
  /** Correlation of neighbouring noise values, 0 for white. */
  readonly correlation: number;
  readonly hum: { readonly amplitude: number; readonly frequency: number } | null;
  /** Interference in both directions: bursts an hour, mean length, width against the noise. */
  readonly bursts: { readonly perHour: number; readonly length: number; readonly factor: number } | null;
  readonly level: number;
  /** The level is over-range (an isolated wire in a short check). */
  readonly levelOverRange: boolean;
  /** Largest value the meter shows; beyond it is over-range. */
  readonly fullScale: number;
  /** Random walk of the level, per square root of a second. */
  readonly drift: number;
  /** Ripple of an alternator: amplitude, and frequency at idle; the engine's speed wanders. */
  readonly ripple: { readonly amplitude: number; readonly idle: number } | null;
  /** Loads that switch: steps an hour, depth of the largest. */
  readonly loads: { readonly perHour: number; readonly depth: number } | null;
  /** A sensor moved by hand between these values; replaces the level. */
  readonly sweep: { readonly low: number; readonly high: number; readonly slowest: number; readonly fastest: number } | null;
  /** Lost data: losses an hour, mean length. */
  readonly linkGaps: { readonly perHour: number; readonly length: number } | null;
  /** Range hunts of an auto-ranging meter, an hour: some flagged or blank readings, sometimes one half-settled. */
  readonly huntsPerHour: number;
  readonly dropouts: DropoutSchedule | null;
}

export interface DropoutSchedule {
  /** Mean time from the end of one dropout to the next; never less than `apart`. */
  readonly every: number;
  readonly apart: number;
  /** Lengths are log-uniform in this range. */
  readonly shortest: number;
  readonly longest: number;
  /** The value to which a full dropout goes. */
  readonly open: number;
  /** Part of the dropouts that are partial: their depth is log-uniform from `leastDepth` to the full one. */
  readonly partial: number;
  readonly leastDepth: number;
  /** Part of the dropouts that chatter: several contacts within a tenth of a second. */
  readonly chatter: number;
}

export interface TrueDropout {
  readonly start: number;
  readonly end: number;
  /** What the circuit reads without it when it begins. */
  readonly level: number;
  /** Signed change of the circuit's value. */
  readonly depth: number;
  /** Largest change of a reading without noise, over the readings that it touches; signed. */
  seen: number;
  /** Readings that it moves by more than a tenth of `seen`. */
  touched: number;
  /** End time of the first reading that it moves. */
  firstTouched: number;
}

/** A load that is on from `start` to `end`, s, and changes the level by `depth`, SI, signed. */
export interface Load { readonly start: number; readonly end: number; readonly depth: number }

export class SimulatedStream {
  readonly parameters: StreamParameters;
  readonly seed: number;
  readonly dropouts: TrueDropout[] = [];
  /** Times at which a load switched, s. */
  readonly loadEdges: number[] = [];
  readonly #allLoads: Load[] = [];
  readonly #noise: Random;
  readonly #plan: Random;
  readonly #code: number;
  #index = 0;
  #walk = 0;
  #ar = 0;
  #ripplePhase = 0;
  #speed = 1;
  #humPhase = 0;
  #filtered = Number.NaN;
  #filteredClean = Number.NaN;
  /** What dropouts do to the newest reading, without noise. */
  #change = 0;
  #opens: { readonly from: number; readonly to: number; readonly depth: number; readonly of: TrueDropout }[] = [];
  #nextDropout: number;
  #loads: Load[] = [];
  #nextLoad: number;
  #burstEnd = -1;
  #nextBurst: number;
  #gapEnd = -1;
  #nextGap: number;
  #hunt = 0;
  #nextHunt: number;
  #sweepFrom: number;
  #sweepTo: number;
  #sweepStart = 0;
  #sweepTime = 1e-9;

  constructor(parameters: StreamParameters, seed: number) {
    this.parameters = parameters;
    this.seed = seed;
    const root = new Random(seed);
    this.#noise = root.fork();
    this.#plan = root.fork();
    this.#code = functionCode(parameters.quantity, parameters.quantity === 'resistance' ? 'none' : 'dc');
    const settle = Math.max(10, 60 * parameters.interval);
    this.#nextDropout = parameters.dropouts === null ? Infinity : settle + this.#plan.exponential(parameters.dropouts.every);
    const first = (perHour: number | undefined): number =>
      perHour === undefined || perHour === 0 ? Infinity : settle + this.#plan.exponential(3600 / perHour);
    this.#nextLoad = first(parameters.loads?.perHour);
    this.#nextBurst = first(parameters.bursts?.perHour);
    this.#nextGap = first(parameters.linkGaps?.perHour);
    this.#nextHunt = first(parameters.huntsPerHour);
    this.#sweepFrom = parameters.sweep?.low ?? 0;
    this.#sweepTo = this.#sweepFrom;
    this.#humPhase = this.#plan.uniform() * 2 * Math.PI;
  }

  /** Time of the next reading, s. */
  get clock(): number { return (this.#index + 1) * this.parameters.interval; }

  /** Loads so far. */
  get loads(): readonly Load[] { return this.#allLoads; }

  /** What the loads that are on at `time` (s) take off the level, SI; at most 0. */
  loadAt(time: number): number {
    return this.#allLoads.reduce((sum, load) => (time >= load.start && time < load.end ? sum + load.depth : sum), 0);
  }

  /** The next readings, at most `length`; fewer where readings are lost. */
  next(length: number): SampleColumns {
    const time = new Float64Array(length);
    const value = new Float64Array(length);
    const resolution = new Float64Array(length).fill(this.parameters.count);
    const flags = new Uint16Array(length);
    const functionColumn = new Uint8Array(length).fill(this.#code);
    let kept = 0;
    for (let i = 0; i < length; i++) {
      const end = this.clock;
      this.#index++;
      let reading = this.#read(end);
      let flag = 0;
      if (end >= this.#nextGap) {
        const gaps = this.parameters.linkGaps as { perHour: number; length: number };
        this.#gapEnd = end + this.#plan.exponential(gaps.length);
        this.#nextGap = this.#gapEnd + this.#plan.exponential(3600 / gaps.perHour);
      }
      if (end <= this.#gapEnd) continue;
      if (end >= this.#nextHunt) {
        this.#hunt = this.#plan.integer(1, 4);
        this.#nextHunt = end + this.#plan.exponential(3600 / this.parameters.huntsPerHour);
      }
      if (this.#hunt > 0) {
        flag = this.#plan.chance(0.5) ? Flag.rangeHunt : Flag.blank;
        if (flag === Flag.blank) reading = Number.NaN;
        else reading *= this.#plan.uniform();
        this.#hunt--;
      } else if (!(Math.abs(reading) <= this.parameters.fullScale)) {
        flag = Flag.overRange;
        reading = Number.NaN;
      }
      // What was lost or never shown can't be found.
      if (flag === 0 || flag === Flag.overRange) this.#note(this.#change, end);
      time[kept] = Math.round(end * 1e6) / 1e6;
      value[kept] = reading;
      flags[kept] = flag;
      kept++;
    }
    return { length: kept, time, value, resolution, flags, functionCode: functionColumn };
  }

  #read(end: number): number {
    const p = this.parameters;
    const begin = end - p.aperture;
    let clean = this.#level(end - p.aperture / 2, end);
    if (p.ripple !== null) clean += this.#ripple(p.ripple, p.interval, p.aperture);
    if (p.loads !== null) clean += this.#loadChange(begin, end, p.loads);
    const change = p.dropouts === null ? 0 : this.#dropoutChange(begin, end, clean, p.dropouts);
    let width = p.noise;
    if (p.bursts !== null) {
      if (end >= this.#nextBurst) {
        this.#burstEnd = end + this.#plan.exponential(p.bursts.length);
        this.#nextBurst = this.#burstEnd + this.#plan.exponential(3600 / p.bursts.perHour);
      }
      if (end <= this.#burstEnd) width *= p.bursts.factor;
    }
    let noise = this.#noise.noise(p.noiseShape);
    if (p.correlation !== 0) {
      this.#ar = p.correlation * this.#ar + Math.sqrt(1 - p.correlation ** 2) * noise;
      noise = this.#ar;
    }
    if (p.hum !== null) {
      this.#humPhase += 2 * Math.PI * p.hum.frequency * p.interval;
      clean += p.hum.amplitude * sinc(p.hum.frequency * p.aperture) * Math.sin(this.#humPhase);
    }
    let reading = clean + change;
    if (p.filter < 1) {
      this.#filtered = this.#filtered !== this.#filtered ? reading : this.#filtered + p.filter * (reading - this.#filtered);
      this.#filteredClean = this.#filteredClean !== this.#filteredClean ? clean : this.#filteredClean + p.filter * (clean - this.#filteredClean);
      reading = this.#filtered;
      this.#change = reading - this.#filteredClean;
    } else this.#change = change;
    reading += width * noise;
    if (p.levelOverRange && Math.abs(reading) > p.fullScale) return Infinity;
    return Math.round(reading / p.count) * p.count;
  }

  #level(middle: number, end: number): number {
    const p = this.parameters;
    if (p.sweep !== null) {
      if (end >= this.#sweepStart + this.#sweepTime) {
        this.#sweepFrom = this.#sweepTo;
        // Half of the time the hand rests.
        if (this.#plan.chance(0.7)) this.#sweepTo = this.#plan.between(p.sweep.low, p.sweep.high);
        this.#sweepStart = end;
        this.#sweepTime = this.#plan.between(p.sweep.fastest, p.sweep.slowest);
      }
      const x = Math.min(1, Math.max(0, (middle - this.#sweepStart) / this.#sweepTime));
      // Minimum-jerk path of a hand: speed and acceleration are zero at both ends.
      return this.#sweepFrom + (this.#sweepTo - this.#sweepFrom) * x ** 3 * (10 + x * (6 * x - 15));
    }
    if (p.drift !== 0) {
      this.#walk += p.drift * Math.sqrt(p.interval) * this.#noise.gauss();
      this.#walk -= this.#walk * Math.min(1, p.interval / 300);
    }
    return p.level + this.#walk;
  }

  #ripple(ripple: { readonly amplitude: number; readonly idle: number }, interval: number, aperture: number): number {
    // The engine's speed wanders between idle and four times idle over seconds.
    this.#speed += 0.3 * Math.sqrt(interval) * this.#plan.gauss();
    this.#speed = Math.min(4, Math.max(1, this.#speed));
    const frequency = ripple.idle * this.#speed;
    this.#ripplePhase = (this.#ripplePhase + frequency * interval) % 1;
    return ripple.amplitude * sinc(frequency * aperture) * Math.sin(2 * Math.PI * this.#ripplePhase);
  }

  #loadChange(begin: number, end: number, loads: { readonly perHour: number; readonly depth: number }): number {
    if (end >= this.#nextLoad) {
      const start = this.#nextLoad;
      this.#loads.push({ start, end: start + this.#plan.logBetween(Math.max(0.5, 6 * this.parameters.interval), 120), depth: -loads.depth * this.#plan.between(0.2, 1) });
      this.#allLoads.push(this.#loads.at(-1) as Load);
      this.loadEdges.push(start, (this.#loads.at(-1) as Load).end);
      this.#nextLoad = start + this.#plan.exponential(3600 / loads.perHour);
    }
    let change = 0;
    for (const load of this.#loads) change += load.depth * overlap(load.start, load.end, begin, end);
    if (this.#loads.length > 0 && (this.#loads[0] as Load).end < begin) this.#loads.shift();
    return change;
  }

  #dropoutChange(begin: number, end: number, clean: number, schedule: DropoutSchedule): number {
    while (end >= this.#nextDropout) this.#planDropout(clean, schedule);
    if (this.#opens.length === 0) return 0;
    let change = 0;
    for (const open of this.#opens) change += open.depth * overlap(open.from, open.to, begin, end);
    const last = this.#opens.at(-1) as { to: number };
    const tail = this.parameters.filter < 1 ? 20 * this.parameters.interval / this.parameters.filter : this.parameters.interval;
    if (begin > last.to + tail) this.#opens = [];
    return change;
  }

  #planDropout(clean: number, schedule: DropoutSchedule): void {
    const start = this.#nextDropout;
    const full = schedule.open - clean;
    const depth = this.#plan.chance(schedule.partial)
      ? Math.sign(full) * this.#plan.logBetween(Math.min(schedule.leastDepth, Math.abs(full) / 2), Math.abs(full))
      : full;
    const contacts = this.#plan.chance(schedule.chatter) ? this.#plan.integer(2, 5) : 1;
    const opens: { from: number; to: number }[] = [];
    let at = start;
    for (let i = 0; i < contacts; i++) {
      const length = this.#plan.logBetween(schedule.shortest, contacts > 1 ? Math.max(schedule.shortest, 0.05) : schedule.longest);
      opens.push({ from: at, to: at + length });
      at += length + this.#plan.between(0.005, 0.08);
    }
    const to = (opens.at(-1) as { to: number }).to;
    const truth: TrueDropout = { start, end: to, level: clean, depth, seen: 0, touched: 0, firstTouched: Number.NaN };
    this.dropouts.push(truth);
    for (const open of opens) this.#opens.push({ ...open, depth, of: truth });
    this.#nextDropout = to + schedule.apart + this.#plan.exponential(schedule.every);
  }

  /** Keeps what a dropout does to the readings when there is no noise. */
  #note(change: number, end: number): void {
    if (this.#opens.length === 0) return;
    const truth = (this.#opens.at(-1) as { of: TrueDropout }).of;
    if (change === 0) return;
    if (truth.touched === 0 && Math.abs(change) > 1e-9 * Math.abs(truth.depth)) truth.firstTouched = end;
    if (Math.abs(change) > Math.abs(truth.seen)) truth.seen = change;
    if (Math.abs(change) > 0.1 * Math.abs(truth.seen)) truth.touched++;
  }
}

/** Part of the window [begin, end] that lies in [from, to]; a window without length is a point. */
function overlap(from: number, to: number, begin: number, end: number): number {
  if (end <= begin) return end >= from && end <= to ? 1 : 0;
  return Math.max(0, Math.min(to, end) - Math.max(from, begin)) / (end - begin);
}

function sinc(x: number): number { return Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x); }
