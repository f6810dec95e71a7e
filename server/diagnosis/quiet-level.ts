/**
 * What the quiet circuit reads: the readings near the level, gathered into blocks, and the two trends that follow them. Readings
 * that need no closer look are skipped here, in one tight loop.
 */
import { LocalTrend } from './local-trend.ts';
import type { Point } from './local-trend.ts';
import type { Pace } from './pace.ts';
import type { SampleColumns } from './samples.ts';
import type { SampleTally } from './sample-tally.ts';

/** Blocks that the level remembers: calm, and quickly moving. */
const LONG_MEMORY = 24;
const SHORT_MEMORY = 3;
/** Blocks after which the two are compared, and by how much the quick one must be better to be taken, and to be kept. */
const COMPARED_AFTER = 16;
const TAKEN_BELOW = 0.6;
const KEPT_BELOW = 0.85;
/** Blocks by weight after which a level counts as known. */
const KNOWN_WEIGHT = 8;

/** Part of a block from one picked reading to the next. */
const GOLDEN = 0.6180339887498949;

/** A block of quiet readings. */
export interface Block extends Point {
  readonly n: number;
  /** Time of its end, s. */
  readonly end: number;
  /** What its mean differs from the level foretold, SI. */
  readonly off: number;
  /** Sum of squared differences from the mean. */
  readonly squares: number;
  /** One reading of it, less the level, for the noise; NaN when that one was not quiet. */
  readonly picked: number;
}

export class QuietLevel {
  readonly #pace: Pace;
  readonly #calm = new LocalTrend(LONG_MEMORY);
  readonly #quick = new LocalTrend(SHORT_MEMORY);
  #trend = this.#calm;
  /** The level is over-range. */
  isOverRange = false;
  /** Level and slope as they were at `since`. */
  base = 0;
  slope = 0;
  since = 0;

  /** The newest full block: one for all, as there are many. */
  readonly #block = { n: 0, middle: 0, end: 0, mean: 0, off: 0, squares: 0, picked: 0 };

  // The block being filled.
  #n = 0;
  #sum = 0;
  #squares = 0;
  #start = 0;
  #pick = 0;
  #picked = Number.NaN;
  /** Blocks so far. */
  #blocks = 0;

  constructor(pace: Pace) { this.#pace = pace; }

  /** Value at the newest block, SI. */
  get value(): number { return this.#trend.value; }
  /** Blocks that it rests on, by weight. */
  get weight(): number { return this.#trend.weight; }

  /** The level was found so many blocks ago that what readings differ from it is noise, and not its own error. */
  get isKnown(): boolean { return this.#calm.weight >= KNOWN_WEIGHT; }

  predict(time: number): number { return this.base + this.slope * Math.min(time - this.since, this.#pace.horizon); }

  setCount(count: number): void {
    this.#calm.setCount(count);
    this.#quick.setCount(count);
  }

  /** Begins anew at a level known from some readings. */
  restart(time: number, value: number, weight: number): void {
    this.isOverRange = false;
    this.#calm.restart(time, value, weight);
    this.#quick.restart(time, value, weight);
    this.dropBlock();
    this.#adopt(time);
  }

  /** After a pause that ended at `time` the slope says nothing more. */
  pause(time: number): void {
    this.dropBlock();
    this.#trend.forgetSlope();
    this.#adopt(time);
  }

  dropBlock(): void {
    this.#n = 0;
    this.#sum = 0;
    this.#squares = 0;
    this.#picked = Number.NaN;
  }

  /** One quiet reading. @param change  less the level @param band  farther than this counts as if it were there, SI */
  add(time: number, change: number, band: number): void {
    const kept = change > band ? band : change < -band ? -band : change;
    if (this.#n === 0) this.#start = time;
    if (this.#n === this.#pick) this.#picked = change;
    this.#n++;
    this.#sum += kept;
    this.#squares += kept * kept;
  }

  get isFull(): boolean { return this.#n >= this.#pace.blockSize; }

  /**
   * Takes readings within `band` of the level, without gap or change of range, function or flags, up to the end of the block.
   * @returns index of the first that needs a closer look
   */
  skip(samples: SampleColumns, from: number, to: number, tally: SampleTally, band: number): number {
    const { time, value, resolution, flags, functionCode } = samples;
    const end = Math.min(to, from + this.#pace.blockSize - this.#n);
    const { code, flags: flag, resolution: count } = tally;
    const anyCount = count !== count;
    const gapLimit = this.#pace.gapLimit;
    const base = this.base;
    const slope = this.slope;
    const since = this.since;
    let last = tally.lastTime;
    let sum = this.#sum;
    let squares = this.#squares;
    let i = from;
    for (; i < end; i++) {
      const t = time[i] as number;
      if (!(t - last <= gapLimit) || flags[i] !== flag || functionCode[i] !== code || (resolution[i] !== count && !anyCount)) break;
      const r = (value[i] as number) - base - slope * (t - since);
      if (!(Math.abs(r) < band)) break;
      sum += r;
      squares += r * r;
      last = t;
    }
    if (i === from) return i;
    const pick = from + this.#pick - this.#n;
    if (pick >= from && pick < i) this.#picked = (value[pick] as number) - base - slope * ((time[pick] as number) - since);
    if (this.#n === 0) this.#start = time[from] as number;
    this.#n += i - from;
    this.#sum = sum;
    this.#squares = squares;
    return i;
  }

  /** The full block, which ends with the newest reading; it holds until the next one is full. `follow` is to be called with it. */
  takeBlock({ lastTime: end }: SampleTally): Block {
    const n = this.#n;
    const middle = (this.#start + end) / 2;
    const off = this.#sum / n;
    const block = this.#block;
    block.n = n;
    block.middle = middle;
    block.end = end;
    block.off = off;
    block.mean = this.base + this.slope * Math.min(middle - this.since, this.#pace.horizon) + off;
    block.squares = Math.max(0, this.#squares - n * off * off);
    block.picked = this.#picked;
    this.#blocks++;
    this.dropBlock();
    // A fixed place in the block could lock onto a ripple; the golden ratio spreads the places evenly.
    const place = this.#blocks * GOLDEN;
    this.#pick = Math.floor((place - Math.floor(place)) * this.#pace.blockSize);
    return block;
  }

  follow(block: Block): void {
    this.#calm.add(block);
    this.#quick.add(block);
    this.#choose();
    this.#adopt(block.end);
  }

  #choose(): void {
    const calm = this.#calm.surprise;
    const quick = this.#quick.surprise;
    if (this.#calm.surprises < COMPARED_AFTER) return;
    if (this.#trend === this.#calm ? quick < TAKEN_BELOW * calm : quick < KEPT_BELOW * calm) this.#trend = this.#quick;
    else this.#trend = this.#calm;
  }

  #adopt(time: number): void {
    this.base = this.#trend.value;
    this.slope = this.#trend.slope;
    this.since = this.#trend.time;
    if (this.slope !== 0 && time - this.since > this.#pace.horizon) {
      this.base += this.slope * this.#pace.horizon;
      this.slope = 0;
    }
  }
}
