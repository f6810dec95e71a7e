/**
 * True signals for a simulated meter, as functions of time. Pure: time in s since the meter began, values in SI,
 * Infinity for an open circuit under an ohmmeter. Building blocks that add up to a circuit that ripples, drifts and drops out.
 */
import type { Coupling, Quantity } from '../reading.ts';
import { randomFrom } from './random.ts';

/** What the leads of a simulated meter touch. */
export interface SimulatedSignal {
  readonly quantity: Quantity;
  readonly coupling: Coupling;
  /** True value at a time, SI; +/-Infinity for beyond every range. */
  at(time: number): number;
  /** Times within from < t < to at which `at` jumps. Only needed where openings are shorter than 1/64 of an aperture. */
  jumps?(from: number, to: number): readonly number[];
}

export interface Interval {
  readonly start: number;
  readonly end: number;
}

export interface OpenScheduleOptions {
  /** Mean time from the end of one opening to the start of the next, s. */
  readonly meanEvery: number;
  /** Lengths are spread evenly between these, s. */
  readonly shortest: number;
  readonly longest: number;
  /** Openings end before this, s. */
  readonly until: number;
  /** Least time between two openings, s; half of `meanEvery` when left out. */
  readonly atLeast?: number;
}

/**
 * When a worn contact opens: a fixed least pause and an exponential one on top.
 * @throws {RangeError} for times that make no schedule
 */
export function openSchedule(seed: number, options: OpenScheduleOptions): Interval[] {
  const { meanEvery, shortest, longest, until } = options;
  const atLeast = options.atLeast ?? meanEvery / 2;
  if (!(meanEvery > 0 && atLeast >= 0 && atLeast <= meanEvery)) throw new RangeError(`an opening every ${meanEvery} s, at least ${atLeast} s apart, is no schedule`);
  if (!(shortest > 0 && longest >= shortest)) throw new RangeError(`openings of ${shortest} to ${longest} s are no schedule`);
  const random = randomFrom(seed);
  const opens: Interval[] = [];
  let time = 0;
  for (;;) {
    const start = time + atLeast - (meanEvery - atLeast) * Math.log(1 - random());
    const end = start + shortest + (longest - shortest) * random();
    if (!(end < until)) return opens;
    opens.push({ start, end });
    time = end;
  }
}

/** A function of time that holds one value. */
export function level(value: number): (time: number) => number {
  return () => value;
}

/** Sine with this amplitude and frequency in Hz, starting at `phase` of a turn (0 to 1). */
export function ripple(amplitude: number, frequency: number, phase = 0): (time: number) => number {
  return (time) => amplitude * Math.sin(2 * Math.PI * (frequency * time + phase));
}

/** A slow wander: sines of unrelated long periods, never beyond +/- `amplitude`. */
export function drift(seed: number, amplitude: number, period: number): (time: number) => number {
  const random = randomFrom(seed);
  const parts = [1, 0.618, 0.273].map((share) => ripple(amplitude * (share / 1.891), 1 / (period * share), random()));
  return (time) => parts.reduce((sum, part) => sum + part(time), 0);
}

export function sum(...parts: readonly ((time: number) => number)[]): (time: number) => number {
  return (time) => parts.reduce((total, part) => total + part(time), 0);
}

/** The signal of `closed`, and within the openings that of `open`. Openings in rising order, not overlapping. */
export function opening(opens: readonly Interval[], closed: (time: number) => number, open: (time: number) => number): (time: number) => number {
  return (time) => (isWithin(opens, time) ? open(time) : closed(time));
}

/** True when a time lies in one of these intervals (start included, end not), by bisection. */
export function isWithin(intervals: readonly Interval[], time: number): boolean {
  let low = 0;
  let high = intervals.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((intervals[middle] as Interval).start <= time) low = middle + 1;
    else high = middle;
  }
  const candidate = intervals[low - 1];
  return candidate !== undefined && time < candidate.end;
}

/** The starts and ends of intervals that lie within from < t < to: the `jumps` of a signal that opens then. */
export function edgesWithin(intervals: readonly Interval[], from: number, to: number): number[] {
  let low = 0;
  let high = intervals.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((intervals[middle] as Interval).end <= from) low = middle + 1;
    else high = middle;
  }
  const edges: number[] = [];
  for (let i = low; i < intervals.length; i++) {
    const { start, end } = intervals[i] as Interval;
    if (start >= to) break;
    if (start > from) edges.push(start);
    if (end < to) edges.push(end);
  }
  return edges;
}
