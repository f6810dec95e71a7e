/**
 * The session clock of one meter: from the times at which chunks of readings arrived, the times at which the readings were
 * taken. A meter samples on an even grid; the link delays each chunk by some least time and then by more or less.
 *
 *   arrival   .      .   .         ...
 *                  . '  '  .  '  '          points (sample number, arrival)
 *             . '_-- '--    line through the earliest arrivals: no point lies below it
 *             ------------------- sample number
 *
 * The line is an edge of the lower convex hull of the points, the one below their middle: of all lines below every point it has
 * the smallest sum of distances (S. B. Moon, P. Skelly, D. Towsley, "Estimation and removal of clock skew from network delay
 * measurements", INFOCOM 1999; from memory). Its slope is the interval, it dates the samples. Causal: a sample
 * once dated stays so. The least delay of the link itself cannot be known from arrivals and stays in the times.
 *
 * Pure; all times in s.
 */
import { LowerHull } from './lower-hull.ts';

/** A hull looks back between half of this and all of it, s: long against jitter, short against the wander of a meter's crystal. */
const LOOK_BACK = 300;
/** Jitter assumed before it is known, s and in intervals: a busy computer, a latency timer. */
const FIRST_JITTER = 0.02;
const FIRST_JITTER_INTERVALS = 0.25;
/** The largest lateness seen is forgotten with this time constant, s. */
const JITTER_MEMORY = 120;
/** A delay this many times the largest so far is still taken for a delay. */
const LONGER_STALLS = 1.5;
/**
 * On a link that jitters by more than an interval, samples count as lost when so many chunks, over so long, and over so many times the
 * jitter, were all late by most of an interval. Delays come in runs, so that a few late chunks prove nothing.
 */
const LOSS_CHUNKS = 16;
const LOSS_TIME = 1;
const LOSS_JITTERS = 10;
/** For how long after a gap late samples may still turn up and show that there was none, s. */
const RECALL = 3;
/** A measured interval replaces what was known before after so many chunks that span so many times the jitter. */
const SURE_CHUNKS = 16;
const SURE_JITTERS = 20;
/** Three gaps within so many samples mean that the interval is longer than thought. */
const MISTRUST_SAMPLES = 100;
/** Used to spread the very first chunk when nothing is known of the interval, s. */
const UNKNOWN_STEP = 0.001;

export interface SampleClockOptions {
  /** Declared sample interval, s; measured when null. */
  readonly interval: number | null;
}

/** The grid at one moment, kept over a gap in case the samples were only late. */
interface Recall {
  readonly hull: LowerHull;
  readonly young: LowerHull;
  index: number;
  readonly interval: number;
  readonly lateness: number;
  readonly until: number;
}

export class SampleClock {
  readonly #declared: number | null;
  #hull = new LowerHull();
  #young = new LowerHull();
  /** Number of the last sample on the grid. */
  #index = 0;
  #interval: number | null;
  /** Lateness to be expected of a chunk, s. */
  #jitter: number | null = null;
  #last = -Infinity;
  #chunksSinceStart = 0;
  #isSure = false;
  #leastLateness = Infinity;
  #lateChunks = 0;
  #lateSince = 0;
  #lastArrival = 0;
  #recall: Recall | null = null;
  /** Arrival and number of samples since the last few starts, to notice a declared interval that is far too short. */
  #starts: { arrival: number; samples: number }[] = [];

  /** @throws {RangeError} for an interval that is not above 0 */
  constructor(options: SampleClockOptions) {
    if (options.interval !== null && !(options.interval > 0)) throw new RangeError(`the interval must be above 0 s, not ${options.interval}`);
    this.#declared = options.interval;
    this.#interval = options.interval;
  }

  /** Sample interval as measured so far, or as declared; null when nothing is known. */
  get interval(): number | null {
    return this.#interval;
  }

  /** The link was lost: what comes next has nothing to do with the grid so far. */
  restart(): void {
    this.#chunksSinceStart = 0;
    this.#recall = null;
  }

  /**
   * Dates the readings of one chunk: strictly rising whole microseconds, none later than the arrival (unless more readings
   * come than there are microseconds).
   * @param arrival  monotonic clock, s, never falling
   * @param count  readings in the chunk, 1 or more
   * @param out  takes the times, oldest first
   * @throws {RangeError} for a count below 1 or an array that is too short
   */
  date(arrival: number, count: number, out: Float64Array): void {
    if (!(Number.isInteger(count) && count >= 1)) throw new RangeError(`a chunk has at least one reading, not ${count}`);
    if (out.length < count) throw new RangeError(`${count} times do not fit into an array of ${out.length}`);
    if (this.#chunksSinceStart === 0) this.#begin(arrival, count);
    else this.#continue(arrival, count);
    this.#chunksSinceStart++;
    this.#lastArrival = arrival;
    const end = Math.min(arrival, this.#hull.lineAt(this.#index, this.#slope()));
    this.#write(arrival, end, count, out);
  }

  #begin(arrival: number, count: number): void {
    this.#starts = [...this.#starts.slice(-3), { arrival, samples: 0 }];
    this.#index = count - 1;
    this.#hull = new LowerHull();
    this.#young = new LowerHull();
    this.#hull.add(this.#index, arrival);
    this.#young.add(this.#index, arrival);
    this.#leastLateness = Infinity;
    this.#lateChunks = 0;
    this.#lateSince = arrival;
  }

  #continue(arrival: number, count: number): void {
    for (const start of this.#starts) start.samples += count;
    this.#tryRecall(arrival, count);
    const interval = this.#interval;
    const next = this.#index + count;
    if (interval === null) {
      this.#index = next;
      this.#learn(arrival);
      return;
    }
    const lateness = arrival - this.#hull.lineAt(next, this.#slope());
    const jitter = this.#jitter ?? Math.max(FIRST_JITTER, FIRST_JITTER_INTERVALS * interval);
    const isMeasured = this.#declared !== null || this.#chunksSinceStart >= 4;
    if (isMeasured && lateness > 0.5 * interval + LONGER_STALLS * jitter) {
      this.#passGap(arrival, count, lateness, jitter, interval);
      return;
    }
    this.#index = next;
    this.#learn(arrival);
    if (this.#chunksSinceStart >= 4) this.#jitter = Math.max(jitter * Math.exp((this.#lastArrival - arrival) / JITTER_MEMORY), lateness);
    this.#noticeLoss(arrival, lateness, jitter, interval);
  }

  /** Samples are missing: the grid goes on when the pause fits it, else it begins anew. */
  #passGap(arrival: number, count: number, lateness: number, jitter: number, interval: number): void {
    const recall: Recall = this.#recall ?? {
      hull: this.#hull.copy(), young: this.#young.copy(), index: this.#index + count, interval, lateness, until: arrival + RECALL,
    };
    const missing = Math.round(lateness / interval);
    const rest = Math.abs(lateness - missing * interval);
    if (missing <= 20 && jitter < 0.25 * interval && rest < 0.15 * interval && this.#chunksSinceStart >= 8) {
      this.#index += count + missing;
      this.#learn(arrival);
    } else {
      this.#begin(arrival, count);
      this.#chunksSinceStart = 0;
      this.#mistrustInterval(arrival);
    }
    this.#recall = recall;
  }

  /** Starting over every few samples means that the interval is longer than thought. */
  #mistrustInterval(arrival: number): void {
    const first = this.#starts[0];
    if (this.#starts.length < 4 || first === undefined || first.samples > MISTRUST_SAMPLES || this.#interval === null) return;
    const interval = (arrival - first.arrival) / first.samples;
    if (interval > 1.02 * this.#interval) this.#interval = interval;
  }

  /** After a gap: when the missing samples turn up, there was none, and such lateness is this link's way. */
  #tryRecall(arrival: number, count: number): void {
    const recall = this.#recall;
    if (recall === null) return;
    recall.index += count;
    if (arrival > recall.until) {
      this.#recall = null;
      return;
    }
    const { interval } = recall;
    const lateness = arrival - recall.hull.lineAt(recall.index, interval);
    if (Math.abs(lateness) > 0.5 * interval) return;
    this.#interval = interval;
    this.#hull = recall.hull;
    this.#young = recall.young;
    this.#index = recall.index - count;
    this.#chunksSinceStart = Math.max(this.#chunksSinceStart, 8);
    this.#jitter = Math.max(this.#jitter ?? 0, recall.lateness);
    this.#recall = null;
  }

  /** On a link that jitters by more than an interval a lost sample only shows in that no chunk is early any more. */
  #noticeLoss(arrival: number, lateness: number, jitter: number, interval: number): void {
    this.#leastLateness = Math.min(this.#leastLateness, lateness);
    this.#lateChunks++;
    if (this.#lateChunks < LOSS_CHUNKS || arrival - this.#lateSince < Math.max(LOSS_TIME, LOSS_JITTERS * jitter)) return;
    const missing = Math.round(this.#leastLateness / interval);
    this.#leastLateness = Infinity;
    this.#lateChunks = 0;
    this.#lateSince = arrival;
    if (missing < 1) return;
    this.#index += missing;
    this.#learn(arrival);
  }

  /** Takes the newest point into the grid and measures the interval. */
  #learn(arrival: number): void {
    this.#hull.add(this.#index, arrival);
    this.#young.add(this.#index, arrival);
    if (arrival - this.#hull.firstTime > LOOK_BACK && this.#young.span > 0) {
      this.#hull = this.#young;
      this.#young = new LowerHull();
      this.#young.add(this.#index, arrival);
    } else if (this.#young.firstTime - this.#hull.firstTime < LOOK_BACK / 2 && arrival - this.#hull.firstTime >= LOOK_BACK / 2) {
      this.#young = new LowerHull();
      this.#young.add(this.#index, arrival);
    }
    const measured = this.#hull.slope();
    if (measured === undefined || !(measured > 0)) return;
    // Jitter over the time looked back on bounds the error of the slope. What was declared, or measured before a gap, holds
    // until that is small.
    const jitter = Math.max(this.#jitter ?? FIRST_JITTER, measured);
    const isSure = this.#hull.span * measured > SURE_JITTERS * jitter && this.#chunksSinceStart >= SURE_CHUNKS;
    if (isSure || (this.#declared === null && !this.#isSure)) this.#interval = measured;
    if (isSure) this.#isSure = true;
  }

  /** Slope of the line: measured once there is enough to measure on. */
  #slope(): number {
    return this.#interval ?? UNKNOWN_STEP;
  }

  #write(arrival: number, end: number, count: number, out: Float64Array): void {
    const step = this.#slope();
    const room = (end - this.#last) / count;
    // The grid moved earlier: come back to it over several samples, never backwards and not bunched.
    const used = room >= step ? step : Math.max(room, step / 4);
    const endTime = room >= step ? end : Math.min(arrival, Math.max(end, this.#last + count * used));
    const spread = Math.min(used, (endTime - this.#last) / count);
    for (let i = 0; i < count; i++) {
      const time = Math.floor((endTime - (count - 1 - i) * spread) * 1e6) / 1e6;
      const rising = time > this.#last ? time : Math.round(this.#last * 1e6 + 1) / 1e6;
      out[i] = rising;
      this.#last = rising;
    }
  }
}
