/**
 * Fewer points for a screen without losing an extreme: per column of equal time the smallest and the largest value, each
 * at its own time, and every over-range or blank stretch kept. Pure.
 */
import { Flag } from '../../drivers/reading.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';

const NO_VALUE = Flag.overRange | Flag.blank;

/**
 * @param samples  time rising
 * @param columns  how many columns of equal time the span is cut into (>= 1)
 * @returns at most 4 points a column, in order of time: smallest, largest, first and last sample without a value. The
 *   input itself when it has no more points than that.
 */
export function reduceSamples(samples: SampleColumns, columns: number): SampleColumns {
  const n = samples.length;
  if (n <= 4 * columns) return samples;
  const start = samples.time[0]!;
  const width = (samples.time[n - 1]! - start) / columns;
  const keep: number[] = [];
  for (let i = 0, column = 1; i < n; column++) {
    const edge = column < columns ? start + column * width : Infinity;
    let low = -1;
    let high = -1;
    let firstEmpty = -1;
    let lastEmpty = -1;
    for (; i < n && samples.time[i]! < edge; i++) {
      if ((samples.flags[i]! & NO_VALUE) !== 0) {
        if (firstEmpty < 0) firstEmpty = i;
        lastEmpty = i;
      } else {
        if (low < 0 || samples.value[i]! < samples.value[low]!) low = i;
        if (high < 0 || samples.value[i]! > samples.value[high]!) high = i;
      }
    }
    const chosen = new Set([low, high, firstEmpty, lastEmpty].filter((index) => index >= 0));
    keep.push(...[...chosen].sort((a, b) => a - b));
  }
  return pick(samples, keep);
}

/** The samples at the given indices, copied. */
function pick(samples: SampleColumns, indices: readonly number[]): SampleColumns {
  const n = indices.length;
  const out = {
    length: n,
    time: new Float64Array(n), value: new Float64Array(n), resolution: new Float64Array(n),
    flags: new Uint16Array(n), functionCode: new Uint8Array(n),
  };
  indices.forEach((from, i) => {
    out.time[i] = samples.time[from]!;
    out.value[i] = samples.value[from]!;
    out.resolution[i] = samples.resolution[from]!;
    out.flags[i] = samples.flags[from]!;
    out.functionCode[i] = samples.functionCode[from]!;
  });
  return out;
}

/** Several runs of samples as one, copied. */
export function joinSamples(parts: readonly SampleColumns[]): SampleColumns {
  const n = parts.reduce((sum, part) => sum + part.length, 0);
  const out = {
    length: n,
    time: new Float64Array(n), value: new Float64Array(n), resolution: new Float64Array(n),
    flags: new Uint16Array(n), functionCode: new Uint8Array(n),
  };
  let at = 0;
  for (const part of parts) {
    out.time.set(part.time.subarray(0, part.length), at);
    out.value.set(part.value.subarray(0, part.length), at);
    out.resolution.set(part.resolution.subarray(0, part.length), at);
    out.flags.set(part.flags.subarray(0, part.length), at);
    out.functionCode.set(part.functionCode.subarray(0, part.length), at);
    at += part.length;
  }
  return out;
}
