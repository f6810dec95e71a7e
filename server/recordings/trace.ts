/**
 * Reduces samples and buckets to at most four points a column for drawing: lowest and highest value, each at its own
 * time, the first over-range, the first gap. Over-range points are NaN with the over-range flag; gaps are NaN with
 * the blank flag, just after the last sample before them, so that no line is drawn across.
 */
import { Flag } from '../../drivers/reading.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { BucketColumns } from './overview.ts';
import type { StoredSamples } from './stored-samples.ts';

/** A step longer than this many intervals is a gap. */
export const GAP_INTERVALS = 1.5;

interface Point {
  readonly atUs: number;
  readonly value: number;
  readonly resolution: number;
  readonly flags: number;
  readonly functionCode: number;
}

interface Column {
  min: Point | null;
  max: Point | null;
  over: Point | null;
  gap: Point | null;
}

export class TraceBuilder {
  /** Time that one column stands for. */
  readonly columnUs: number;
  readonly #fromUs: number;
  readonly #perUs: number;
  readonly #gapUs: number;
  readonly #intervalUs: number;
  readonly #columns: (Column | undefined)[];

  /** @param intervalUs of the meter; null when not known, and then no time step is a gap */
  constructor(fromUs: number, toUs: number, columns: number, intervalUs: number | null) {
    this.columnUs = (toUs - fromUs) / columns;
    this.#fromUs = fromUs;
    this.#perUs = toUs > fromUs ? columns / (toUs - fromUs) : 0;
    this.#columns = new Array<Column | undefined>(columns).fill(undefined);
    this.#intervalUs = intervalUs ?? Infinity;
    this.#gapUs = this.#intervalUs * GAP_INTERVALS;
  }

  /** @param lastUs time of the sample before, null when there is none */
  addSamples({ length, timeUs, value, resolution, flags, functionCode }: StoredSamples, lastUs: number | null): void {
    let last = lastUs;
    for (let i = 0; i < length; i++) {
      const atUs = timeUs[i]!;
      const y = value[i]!;
      if (last !== null && atUs - last > this.#gapUs) this.#addGap(last, atUs - last, functionCode[i]!);
      last = atUs;
      const column = this.#columnAt(atUs);
      if (Number.isNaN(y)) {
        const point = { atUs, value: NaN, resolution: resolution[i]!, flags: flags[i]!, functionCode: functionCode[i]! };
        if ((flags[i]! & Flag.overRange) !== 0) column.over ??= point;
        else column.gap ??= point;
        continue;
      }
      if (column.min === null || y < column.min.value) {
        column.min = { atUs, value: y, resolution: resolution[i]!, flags: flags[i]!, functionCode: functionCode[i]! };
      }
      if (column.max === null || y > column.max.value) {
        column.max = { atUs, value: y, resolution: resolution[i]!, flags: flags[i]!, functionCode: functionCode[i]! };
      }
    }
  }

  addBucket(buckets: BucketColumns, i: number): void {
    const resolution = buckets.resolution[i]!;
    const functionCode = buckets.functionCode[i]!;
    const min = buckets.min[i]!;
    if (!Number.isNaN(min)) {
      const max = buckets.max[i]!;
      const lowColumn = this.#columnAt(buckets.minAtUs[i]!);
      if (lowColumn.max === null || lowColumn.min === null || min < lowColumn.min.value) {
        const low: Point = { atUs: buckets.minAtUs[i]!, value: min, resolution, flags: buckets.minFlags[i]!, functionCode };
        if (lowColumn.min === null || min < lowColumn.min.value) lowColumn.min = low;
        lowColumn.max ??= low;
      }
      const highColumn = this.#columnAt(buckets.maxAtUs[i]!);
      if (highColumn.min === null || highColumn.max === null || max > highColumn.max.value) {
        const high: Point = { atUs: buckets.maxAtUs[i]!, value: max, resolution, flags: buckets.maxFlags[i]!, functionCode };
        if (highColumn.max === null || max > highColumn.max.value) highColumn.max = high;
        highColumn.min ??= high;
      }
    }
    if (buckets.hasOver[i] === 1) {
      const atUs = buckets.overAtUs[i]!;
      this.#columnAt(atUs).over ??= { atUs, value: NaN, resolution, flags: buckets.overFlags[i]!, functionCode };
    }
    if (buckets.hasBlank[i] === 1) {
      const atUs = buckets.blankAtUs[i]!;
      this.#columnAt(atUs).gap ??= { atUs, value: NaN, resolution, flags: Flag.blank, functionCode };
    }
    if (buckets.stepUs[i]! > this.#gapUs) this.#addGap(buckets.stepFromUs[i]!, buckets.stepUs[i]!, functionCode);
  }

  finish(): SampleColumns {
    const points: Point[] = [];
    for (const column of this.#columns) {
      if (column === undefined) continue;
      const { min, max, over, gap } = column;
      const own = [min, max === min || max?.atUs === min?.atUs ? null : max, over, gap].filter((point) => point !== null);
      points.push(...own.sort((a, b) => a.atUs - b.atUs));
    }
    return toColumns(points);
  }

  #addGap(fromUs: number, stepUs: number, functionCode: number): void {
    const atUs = fromUs + Math.round(Math.min(this.#intervalUs, stepUs / 2));
    this.#columnAt(atUs).gap ??= { atUs, value: NaN, resolution: NaN, flags: Flag.blank, functionCode };
  }

  #columnAt(atUs: number): Column {
    const index = Math.max(0, Math.min(this.#columns.length - 1, Math.floor((atUs - this.#fromUs) * this.#perUs)));
    return (this.#columns[index] ??= { min: null, max: null, over: null, gap: null });
  }
}

/** All samples as they are, with a blank point in every gap. */
export function samplesWithGaps(samples: StoredSamples, lastUs: number | null, intervalUs: number | null): SampleColumns {
  const gapUs = (intervalUs ?? Infinity) * GAP_INTERVALS;
  const points: Point[] = [];
  let last = lastUs;
  for (let i = 0; i < samples.length; i++) {
    const atUs = samples.timeUs[i]!;
    const functionCode = samples.functionCode[i]!;
    if (last !== null && intervalUs !== null && atUs - last > gapUs) {
      points.push({ atUs: last + Math.round(Math.min(intervalUs, (atUs - last) / 2)), value: NaN, resolution: NaN, flags: Flag.blank, functionCode });
    }
    points.push({ atUs, value: samples.value[i]!, resolution: samples.resolution[i]!, flags: samples.flags[i]!, functionCode });
    last = atUs;
  }
  return toColumns(points);
}

function toColumns(points: readonly Point[]): SampleColumns {
  return {
    length: points.length,
    time: Float64Array.from(points, ({ atUs }) => atUs / 1e6),
    value: Float64Array.from(points, ({ value }) => value),
    resolution: Float64Array.from(points, ({ resolution }) => resolution),
    flags: Uint16Array.from(points, ({ flags }) => flags),
    functionCode: Uint8Array.from(points, ({ functionCode }) => functionCode),
  };
}
