/**
 * The overview of a take: for every run of 2^level samples the lowest and highest value, each at its own time, the
 * first over-range and the first blank sample, and the longest time step, so that a plot of any width never hides a
 * one-sample dropout, an over-range or a gap. Five levels, a factor of 16 apart: 2^7, 2^11, 2^15, 2^19, 2^23 samples.
 */
import { Flag } from '../../drivers/reading.ts';
import { ByteReader, ByteWriter, DamagedBytes } from './columns/bytes.ts';
import { readDoubles, writeDoubles } from './columns/decimal-column.ts';
import { readIntegers, writeIntegers } from './columns/integer-column.ts';
import { readRuns, writeRuns } from './columns/run-column.ts';
import type { StoredSamples } from './stored-samples.ts';

export const LEVELS = [7, 11, 15, 19, 23] as const;
/** Buckets of one level that make one of the next. */
export const FAN = 16;
/** Buckets in a stored chunk. */
export const CHUNK_BUCKETS = 256;

/** One run of samples. Times in us on the session clock; null where there is no such sample. */
export interface Bucket {
  readonly startUs: number;
  readonly endUs: number;
  /** Lowest and highest value; NaN when no sample has one. */
  readonly min: number;
  readonly minAtUs: number;
  readonly minFlags: number;
  readonly max: number;
  readonly maxAtUs: number;
  readonly maxFlags: number;
  /** All flags of all samples. */
  readonly anyFlags: number;
  readonly overAtUs: number | null;
  readonly overFlags: number;
  readonly blankAtUs: number | null;
  /** Longest step from one sample to the next that ends in this run, and the time at which it began; 0 for none. */
  readonly stepUs: number;
  readonly stepFromUs: number;
  /** Of the first sample. */
  readonly resolution: number;
  readonly functionCode: number;
}

/**
 * @param lastUs time of the sample before these, null when they are the first
 * @returns buckets of 2^7 samples; the last may be of fewer
 */
export function bucketsOf(samples: StoredSamples, lastUs: number | null): Bucket[] {
  const size = 2 ** LEVELS[0];
  const buckets: Bucket[] = [];
  let last = lastUs;
  for (let from = 0; from < samples.length; from += size) {
    const to = Math.min(samples.length, from + size);
    buckets.push(bucketOf(samples, from, to, last));
    last = samples.timeUs[to - 1]!;
  }
  return buckets;
}

function bucketOf({ timeUs, value, flags, resolution, functionCode }: StoredSamples, from: number, to: number, lastUs: number | null): Bucket {
  let low = -1;
  let high = -1;
  let min = Infinity;
  let max = -Infinity;
  let over = -1;
  let blank = -1;
  let anyFlags = 0;
  let stepUs = 0;
  let stepFromUs = timeUs[from]!;
  let last = lastUs ?? timeUs[from]!;
  for (let i = from; i < to; i++) {
    const flag = flags[i]!;
    const at = timeUs[i]!;
    const y = value[i]!;
    anyFlags |= flag;
    if (at - last > stepUs) {
      stepUs = at - last;
      stepFromUs = last;
    }
    last = at;
    if (Number.isNaN(y)) {
      if ((flag & Flag.overRange) !== 0) {
        if (over < 0) over = i;
      } else if (blank < 0) blank = i;
      continue;
    }
    if (y < min || low < 0) {
      min = y;
      low = i;
    }
    if (y > max || high < 0) {
      max = y;
      high = i;
    }
  }
  return {
    startUs: timeUs[from]!, endUs: last,
    min: low < 0 ? NaN : min, minAtUs: low < 0 ? timeUs[from]! : timeUs[low]!, minFlags: low < 0 ? 0 : flags[low]!,
    max: high < 0 ? NaN : max, maxAtUs: high < 0 ? timeUs[from]! : timeUs[high]!, maxFlags: high < 0 ? 0 : flags[high]!,
    anyFlags,
    overAtUs: over < 0 ? null : timeUs[over]!, overFlags: over < 0 ? 0 : flags[over]!,
    blankAtUs: blank < 0 ? null : timeUs[blank]!,
    stepUs, stepFromUs,
    resolution: resolution[from]!, functionCode: functionCode[from]!,
  };
}

/** One bucket for a run of them. @throws {RangeError} for none */
export function joinBuckets(buckets: readonly Bucket[]): Bucket {
  const [first, ...rest] = buckets;
  if (first === undefined) throw new RangeError('no buckets to join');
  return rest.reduce((joined, next) => {
    const low = next.min < joined.min || Number.isNaN(joined.min) ? next : joined;
    const high = next.max > joined.max || Number.isNaN(joined.max) ? next : joined;
    const over = joined.overAtUs === null ? next : joined;
    const step = next.stepUs > joined.stepUs ? next : joined;
    return {
      startUs: joined.startUs, endUs: next.endUs,
      min: low.min, minAtUs: low.minAtUs, minFlags: low.minFlags,
      max: high.max, maxAtUs: high.maxAtUs, maxFlags: high.maxFlags,
      anyFlags: joined.anyFlags | next.anyFlags,
      overAtUs: over.overAtUs, overFlags: over.overFlags,
      blankAtUs: joined.blankAtUs ?? next.blankAtUs,
      stepUs: step.stepUs, stepFromUs: step.stepFromUs,
      resolution: joined.resolution, functionCode: joined.functionCode,
    };
  }, first);
}

const FORM = 1;

/**
 * A time within a bucket is stored as the number of the sample that a regular grid would have there, and what the grid
 * is off by: nothing for most meters.
 */
class Grid {
  readonly #last: number;

  constructor(level: number) {
    this.#last = 2 ** level - 1;
  }

  index(startUs: number, endUs: number, atUs: number): number {
    return endUs > startUs ? Math.round(((atUs - startUs) / (endUs - startUs)) * this.#last) : 0;
  }

  at(startUs: number, endUs: number, index: number): number {
    return startUs + Math.round((index / this.#last) * (endUs - startUs));
  }
}

/** Buckets of a level as columns. */
export function writeBuckets(buckets: readonly Bucket[], level: number): Uint8Array {
  const out = new ByteWriter();
  const grid = new Grid(level);
  out.byte(FORM);
  out.byte(level);
  out.count(buckets.length);
  const numbers = (of: (bucket: Bucket) => number) => Float64Array.from(buckets, of);
  const small = (of: (bucket: Bucket) => number) => Uint16Array.from(buckets, of);
  const times = (of: (bucket: Bucket) => number) => {
    const index = (b: Bucket) => grid.index(b.startUs, b.endUs, of(b));
    writeIntegers(out, numbers(index));
    writeIntegers(out, numbers((b) => of(b) - grid.at(b.startUs, b.endUs, index(b))));
  };
  const optionalTimes = (of: (bucket: Bucket) => number | null) => {
    writeRuns(out, small((b) => (of(b) === null ? 0 : 1)));
    times((b) => of(b) ?? b.startUs);
  };
  writeIntegers(out, numbers((b) => b.startUs));
  writeIntegers(out, numbers((b) => b.endUs - b.startUs));
  writeDoubles(out, numbers((b) => b.min));
  times((b) => b.minAtUs);
  writeRuns(out, small((b) => b.minFlags));
  writeDoubles(out, numbers((b) => b.max));
  times((b) => b.maxAtUs);
  writeRuns(out, small((b) => b.maxFlags));
  writeRuns(out, small((b) => b.anyFlags));
  optionalTimes((b) => b.overAtUs);
  writeRuns(out, small((b) => b.overFlags));
  optionalTimes((b) => b.blankAtUs);
  writeIntegers(out, numbers((b) => b.stepUs));
  times((b) => b.stepFromUs);
  writeDoubles(out, numbers((b) => b.resolution));
  writeRuns(out, small((b) => b.functionCode));
  return out.finish();
}

/** Buckets by column, as they are read: no object for each, because a plot takes thousands. */
export interface BucketColumns {
  readonly length: number;
  readonly startUs: Float64Array;
  readonly endUs: Float64Array;
  readonly min: Float64Array;
  readonly minAtUs: Float64Array;
  readonly minFlags: Uint16Array;
  readonly max: Float64Array;
  readonly maxAtUs: Float64Array;
  readonly maxFlags: Uint16Array;
  readonly anyFlags: Uint16Array;
  /** 1 where the bucket has an over-range sample. */
  readonly hasOver: Uint16Array;
  readonly overAtUs: Float64Array;
  readonly overFlags: Uint16Array;
  /** 1 where the bucket has a blank sample. */
  readonly hasBlank: Uint16Array;
  readonly blankAtUs: Float64Array;
  readonly stepUs: Float64Array;
  readonly stepFromUs: Float64Array;
  readonly resolution: Float64Array;
  readonly functionCode: Uint16Array;
}

/** @throws {DamagedBytes} for bytes that are no buckets */
export function readBuckets(bytes: Uint8Array): BucketColumns {
  const from = new ByteReader(bytes);
  if (from.byte() !== FORM) throw new DamagedBytes('an overview has an unknown form');
  const grid = new Grid(from.byte());
  const length = from.count();
  if (length > CHUNK_BUCKETS) throw new DamagedBytes(`an overview claims ${length} buckets`);
  const integers = () => readIntegers(from, length);
  const doubles = () => readDoubles(from, length);
  const small = () => readRuns(from, new Uint16Array(length));
  const startUs = integers();
  const endUs = integers();
  for (let i = 0; i < length; i++) endUs[i] = endUs[i]! + startUs[i]!;
  const times = () => {
    const index = integers();
    const off = integers();
    for (let i = 0; i < length; i++) off[i] = off[i]! + grid.at(startUs[i]!, endUs[i]!, index[i]!);
    return off;
  };
  const columns = {
    length, startUs, endUs,
    min: doubles(), minAtUs: times(), minFlags: small(),
    max: doubles(), maxAtUs: times(), maxFlags: small(),
    anyFlags: small(),
    hasOver: small(), overAtUs: times(), overFlags: small(),
    hasBlank: small(), blankAtUs: times(),
    stepUs: integers(), stepFromUs: times(),
    resolution: doubles(), functionCode: small(),
  };
  from.expectEnd();
  return columns;
}

/** The same buckets, an object each. */
export function bucketsFrom(c: BucketColumns): Bucket[] {
  return Array.from({ length: c.length }, (_, i) => ({
    startUs: c.startUs[i]!, endUs: c.endUs[i]!,
    min: c.min[i]!, minAtUs: c.minAtUs[i]!, minFlags: c.minFlags[i]!,
    max: c.max[i]!, maxAtUs: c.maxAtUs[i]!, maxFlags: c.maxFlags[i]!,
    anyFlags: c.anyFlags[i]!,
    overAtUs: c.hasOver[i] === 1 ? c.overAtUs[i]! : null, overFlags: c.overFlags[i]!,
    blankAtUs: c.hasBlank[i] === 1 ? c.blankAtUs[i]! : null,
    stepUs: c.stepUs[i]!, stepFromUs: c.stepFromUs[i]!,
    resolution: c.resolution[i]!, functionCode: c.functionCode[i]!,
  }));
}
