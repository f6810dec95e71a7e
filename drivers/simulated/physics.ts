/**
 * What a meter does to the truth before it prints a number, as physics: it averages over its aperture, once per
 * interval; its input saturates beyond the range; it adds noise and rounds to whole counts. Pure: it is stepped,
 * not timed, so that a test can run hours of it in milliseconds and the service can run it on a clock.
 */
import type { Quantity } from '../reading.ts';
import { formatCount, type Range, rangesFor } from './ranges.ts';
import { gaussianFrom, randomFrom } from './random.ts';
import type { SimulatedSignal } from './signals.ts';

export interface InstrumentOptions {
  /** From the end of one reading to the end of the next, s. */
  readonly interval: number;
  /** Part of the interval, at its end, over which the signal is averaged, s. */
  readonly aperture: number;
  /** Largest number shown, e.g. 6000. */
  readonly counts: number;
  /** Standard deviation of the noise, in counts. */
  readonly noise: number;
  readonly seed: number;
  /**
   * fitting: every reading is shown in the range that fits it, as if by a perfect hand · hunting: the meter chooses the range
   * itself, one step for a reading, showing over-range or nothing meanwhile · a number: locked on the range with at least this full scale, SI.
   */
  readonly range: 'fitting' | 'hunting' | number;
  /** How long a hunting meter shows nothing after a change of range, s. */
  readonly hunt: number;
}

export interface SimulatedReading {
  /** End of the aperture, s since the meter began. */
  readonly end: number;
  /** The line that the meter prints, without its end. */
  readonly text: string;
}

/** Where an input saturates, in full scales of the range. Common practice, no source. */
const SATURATION = 1.1;
/** A hunting meter goes a range down below this part of full scale. Common practice, no source. */
const RANGE_DOWN = 0.08;
/** Points at which a signal is looked at within an aperture. */
const POINTS = 64;
/** Halvings by which the time of a jump between two points is found. */
const HALVINGS = 20;

export class SimulatedInstrument {
  readonly options: InstrumentOptions;
  readonly #gaussian: () => number;
  #signal: SimulatedSignal;
  /** What the dial stands on. */
  #function: Quantity;
  #ranges: Range[];
  #range: Range;
  #taken = 0;
  #blankUntil = -Infinity;

  /** @throws {RangeError} for an aperture that does not fit into the interval and the like */
  constructor(signal: SimulatedSignal, options: InstrumentOptions) {
    const { interval, aperture, counts, noise, hunt } = options;
    if (!(interval > 0)) throw new RangeError(`the interval must be above 0 s, not ${interval}`);
    if (!(aperture > 0 && aperture <= interval)) throw new RangeError(`the aperture must be above 0 s and at most the interval of ${interval} s, not ${aperture}`);
    if (!(Number.isInteger(counts) && counts >= 99)) throw new RangeError(`counts must be a whole number from 99, not ${counts}`);
    if (!(noise >= 0)) throw new RangeError(`noise must be 0 counts or more, not ${noise}`);
    if (!(hunt >= 0)) throw new RangeError(`hunt must be 0 s or more, not ${hunt}`);
    this.options = options;
    this.#gaussian = gaussianFrom(randomFrom(options.seed));
    this.#signal = signal;
    this.#function = signal.quantity;
    this.#ranges = rangesFor(signal.quantity, counts);
    this.#range = this.#firstRange();
  }

  /** End of the reading that `next` will give, s. */
  get nextEnd(): number {
    return (this.#taken + 1) * this.options.interval;
  }

  /** The leads touch something else from now on. */
  setSignal(signal: SimulatedSignal): void {
    this.#signal = signal;
  }

  /** The dial is turned to what the signal is now; one signal may be volts first and ohms then. */
  #turnDial(): void {
    const { quantity } = this.#signal;
    if (quantity === this.#function) return;
    this.#function = quantity;
    this.#ranges = rangesFor(quantity, this.options.counts);
    this.#range = this.#firstRange();
  }

  /** Passes over readings that end before a time: nobody looked. */
  skipTo(time: number): void {
    this.#taken = Math.max(this.#taken, Math.floor(time / this.options.interval));
  }

  next(): SimulatedReading {
    const end = this.nextEnd;
    this.#taken++;
    this.#turnDial();
    return { end, text: this.#convert(end) };
  }

  #firstRange(): Range {
    const { range } = this.options;
    const top = this.#ranges.at(-1) as Range;
    if (typeof range !== 'number') return top;
    return this.#ranges.find((each) => each.fullScale >= range * (1 - 1e-9)) ?? top;
  }

  #convert(end: number): string {
    const { aperture, range: way, noise, counts, hunt } = this.options;
    const noiseCounts = noise === 0 ? 0 : noise * this.#gaussian();
    if (end <= this.#blankUntil) return this.#print('9.91E+37');
    const top = this.#ranges.at(-1) as Range;
    const saturation = SATURATION * (way === 'fitting' ? top : this.#range).fullScale;
    const mean = apertureMean(this.#signal, end - aperture, end, saturation);
    if (way === 'fitting') this.#range = this.#ranges.find((range) => Math.round(Math.abs(mean) / range.resolution) <= counts) ?? top;
    const count = Math.round(mean / this.#range.resolution + noiseCounts);
    const text = Math.abs(count) > counts ? this.#print(count < 0 ? '-OL' : 'OL') : this.#print(formatCount(count, this.#range));
    if (way === 'hunting') this.#stepRange(count, end + hunt);
    return text;
  }

  #stepRange(count: number, blankUntil: number): void {
    const at = this.#ranges.indexOf(this.#range);
    const size = Math.abs(count);
    const step = size > this.options.counts ? 1 : size < RANGE_DOWN * this.options.counts ? -1 : 0;
    const range = this.#ranges[at + step];
    if (step === 0 || range === undefined) return;
    this.#range = range;
    this.#blankUntil = blankUntil;
  }

  #print(number: string): string {
    const { coupling } = this.#signal;
    const words = { none: '', dc: ' DC', ac: ' AC', acdc: ' AC+DC' }[coupling];
    return `${number} ${this.#range.unit}${words}`.trimEnd();
  }
}

/**
 * Mean of a signal over an aperture, its input limited to +/- saturation. Between points the signal counts as straight, at a
 * jump as a step whose time is found by halving; an opening shorter than 1/64 of the aperture is seen only if
 * the signal names its jumps (`jumps`).
 */
export function apertureMean(signal: SimulatedSignal, from: number, to: number, saturation: number): number {
  const limited = (time: number): number => Math.min(saturation, Math.max(-saturation, signal.at(time)));
  const times: number[] = [];
  for (let i = 0; i <= POINTS; i++) times.push(from + ((to - from) * i) / POINTS);
  const jumps = signal.jumps?.(from, to) ?? [];
  for (const jump of jumps) if (jump > from && jump < to) times.push(jump);
  if (jumps.length > 0) times.sort((a, b) => a - b);
  let area = 0;
  let left = times[0] as number;
  let leftValue = limited(left);
  for (let i = 1; i < times.length; i++) {
    const right = times[i] as number;
    const rightValue = limited(right);
    area += stretchArea(limited, left, leftValue, right, rightValue);
    left = right;
    leftValue = rightValue;
  }
  return area / (to - from);
}

/** Area between two neighbouring points; where the values differ much there is a jump, and its time is looked for. */
function stretchArea(at: (time: number) => number, left: number, leftValue: number, right: number, rightValue: number): number {
  const isJump = Math.abs(rightValue - leftValue) > 0.02 * Math.max(Math.abs(leftValue), Math.abs(rightValue));
  if (!isJump) return ((leftValue + rightValue) / 2) * (right - left);
  let low = left;
  let high = right;
  for (let i = 0; i < HALVINGS; i++) {
    const middle = (low + high) / 2;
    if (Math.abs(at(middle) - leftValue) <= Math.abs(at(middle) - rightValue)) low = middle;
    else high = middle;
  }
  return leftValue * (low - left) + rightValue * (right - low);
}
