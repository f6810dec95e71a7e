/**
 * The recent samples of one meter, kept for drawing: columns that grow at the end and forget at the front. Pure.
 * Every sample says whether the line may be joined to the one before it, so that no gap is ever drawn over.
 */
import type { SampleFrame } from '../../server/live/sample-frame.ts';

/** A gap is longer than this many intervals (definition of a gap). */
const GAP_INTERVALS = 1.5;
/** A reduced frame has two points a column at any place in it, so that its spacing varies this much without a gap. */
const REDUCED_SPACINGS = 4;

export class TraceBuffer {
  readonly #keep: number;
  length = 0;
  time: Float64Array;
  value: Float64Array;
  flags: Uint16Array;
  /** 1 where the line must not be joined to the sample before. */
  breakBefore: Uint8Array;

  /** @param keep how many samples are kept at least */
  constructor(keep: number) {
    this.#keep = keep;
    this.time = new Float64Array(2 * keep);
    this.value = new Float64Array(2 * keep);
    this.flags = new Uint16Array(2 * keep);
    this.breakBefore = new Uint8Array(2 * keep);
  }

  clear(): void {
    this.length = 0;
  }

  /**
   * @param frame samples; those not later than the last one kept are left out, because a fresh overview overlaps
   * @param interval declared sample interval, s; estimated when null
   */
  append(frame: SampleFrame, interval: number | null): void {
    if (frame.replace) this.clear();
    const longest = this.#longestJoin(frame, interval);
    for (let i = 0; i < frame.length; i++) {
      const last = this.length === 0 ? -Infinity : this.time[this.length - 1]!;
      const at = frame.time[i]!;
      if (at <= last) continue;
      if (this.length === 2 * this.#keep) this.#forget();
      const n = this.length++;
      this.time[n] = at;
      this.value[n] = frame.value[i]!;
      this.flags[n] = frame.flags[i]!;
      this.breakBefore[n] = at - last > longest ? 1 : 0;
    }
  }

  #longestJoin(frame: SampleFrame, interval: number | null): number {
    const spacing = typicalSpacing(frame.time, frame.length) ?? typicalSpacing(this.time, this.length);
    if (frame.reduced) return Math.max(GAP_INTERVALS * (interval ?? 0), REDUCED_SPACINGS * (spacing ?? Infinity));
    const known = interval ?? typicalSpacing(this.time, this.length) ?? spacing;
    return known === null ? Infinity : GAP_INTERVALS * known;
  }

  #forget(): void {
    const from = this.length - this.#keep;
    for (const column of [this.time, this.value, this.flags, this.breakBefore]) column.copyWithin(0, from, this.length);
    this.length = this.#keep;
  }
}

/** Median distance of the last hundred times, s; null for fewer than four. */
export function typicalSpacing(time: Float64Array, length: number): number | null {
  if (length < 4) return null;
  const steps: number[] = [];
  for (let i = Math.max(1, length - 100); i < length; i++) steps.push(time[i]! - time[i - 1]!);
  steps.sort((a, b) => a - b);
  return steps[steps.length >> 1]!;
}
