/** Samples of one session file: by index, and what a plot of a window of them needs. What it throws of SQLite, `SessionReader` names. */
import type Database from 'better-sqlite3';
import type { SampleColumns } from '../diagnosis/samples.ts';
import { readBlock } from './columns/block.ts';
import { RecordingError } from './errors.ts';
import { LEVELS, readBuckets } from './overview.ts';
import { fromCanonical, joinSamples, sliceSamples, type StoredSamples } from './stored-samples.ts';
import { samplesWithGaps, TraceBuilder } from './trace.ts';

/** A window with at most this many samples a column is sent whole. */
const WHOLE_SAMPLES_A_COLUMN = 2;
/** Unpacked blocks kept for the next request; each takes 1.4 MB. */
const KEPT_BLOCKS = 4;

export interface Trace extends SampleColumns {
  /** False when these are all samples of the window (with a neighbour on each side), true for extremes per column. */
  readonly reduced: boolean;
}

const NOTHING: Trace = { ...samplesWithGaps(joinSamples([]), null, null), reduced: false };

interface Part {
  readonly source: 'block' | 'tail';
  readonly first_sample: number;
  readonly samples: number;
  readonly first_us: number;
  readonly last_us: number;
}

export interface Extent {
  readonly samples: number;
  readonly firstUs: number;
  readonly lastUs: number;
}

export class SampleReader {
  readonly #db: Database.Database;
  readonly #statements: ReturnType<typeof statements>;
  readonly #blocks = new Map<string, StoredSamples>();
  readonly #intervals = new Map<string, number | null>();

  constructor(db: Database.Database) {
    this.#db = db;
    this.#statements = statements(db);
  }

  /** Samples in a take of one meter, and the time they span; null when there are none. */
  extent(take: number, meter: number): Extent | null {
    const row = this.#statements.extent.get({ take, meter }) as { samples: number | null; first_us: number; last_us: number };
    return row.samples === null ? null : { samples: row.samples, firstUs: row.first_us, lastUs: row.last_us };
  }

  /** Samples `from` (inclusive) to `to` (exclusive), counted within their take and meter from 0. */
  samples(take: number, meter: number, from: number, to: number): StoredSamples {
    const parts = this.#statements.partsByIndex.all({ take, meter, from, to }) as Part[];
    return joinSamples(parts.map((part) => {
      const samples = this.#read(take, meter, part);
      return sliceSamples(samples, Math.max(0, from - part.first_sample), Math.min(samples.length, to - part.first_sample));
    }));
  }

  /**
   * What a plot of a window needs: all samples when they are few, else at most four points a column. So that lines lead on to
   * the edges, there is a sample before and after; of a reduced trace, points up to a column outside the window.
   * @param from session clock, s; may be -Infinity for the start of the take
   * @param to session clock, s; may be Infinity for its end
   * @throws {RecordingError} TAKE_NOT_FOUND
   */
  trace(take: number, meter: number, from: number, to: number, columns: number): Trace {
    return this.#db.transaction(() => {
      const extent = this.extent(take, meter);
      if (extent === null) {
        if (this.#statements.take.get(take) === undefined) throw new RecordingError('TAKE_NOT_FOUND', `This session has no take ${take}.`);
        return NOTHING;
      }
      const fromUs = Math.max(extent.firstUs, from * 1e6);
      const toUs = Math.min(extent.lastUs, to * 1e6);
      if (fromUs > toUs) return NOTHING;
      const intervalUs = this.#intervalUs(take, meter);
      const few = columns * WHOLE_SAMPLES_A_COLUMN;
      // Blocks that the window cuts are only read where their samples decide.
      const inside = this.#statements.samplesInside.get({ take, meter, fromUs, toUs }) as number;
      const inWindow = inside > few ? inside : inside + this.#countInCutParts(take, meter, fromUs, toUs);
      if (inWindow <= few) return this.#whole(take, meter, fromUs, toUs, intervalUs);
      const builder = new TraceBuilder(fromUs, toUs, columns, intervalUs);
      const levels = LEVELS.filter((level) => 2 ** level * columns <= inWindow);
      this.#collect(builder, take, meter, levels, fromUs, toUs);
      return { ...builder.finish(), reduced: true };
    })();
  }

  /**
   * Adds the window from the coarsest of `levels`; buckets that take more time than a column (where the meter was slow or
   * silent) from finer ones down to the samples themselves. So what is not shown lies within two columns of something
   * shown that is at least as deep: one for the bucket, one for the column. Buckets that the window cuts are added whole.
   */
  #collect(builder: TraceBuilder, take: number, meter: number, levels: readonly number[], fromUs: number, toUs: number): void {
    if (fromUs > toUs) return;
    const level = levels.at(-1);
    if (level === undefined) {
      this.#collectSamples(builder, take, meter, fromUs, toUs);
      return;
    }
    const finer = levels.slice(0, -1);
    let fineFromUs = fromUs;
    let coveredUs = fromUs;
    const chunks = this.#statements.chunks.all({ take, meter, level, fromUs, toUs }) as Buffer[];
    for (const columns of chunks) {
      const buckets = readBuckets(columns);
      for (let i = 0; i < buckets.length; i++) {
        const startUs = buckets.startUs[i]!;
        const endUs = buckets.endUs[i]!;
        if (endUs < fromUs || startUs > toUs) continue;
        if (endUs - startUs <= builder.columnUs) {
          if (fineFromUs < coveredUs) this.#collect(builder, take, meter, finer, fineFromUs, startUs - 1);
          builder.addBucket(buckets, i);
          fineFromUs = endUs + 1;
        }
        coveredUs = endUs + 1;
      }
    }
    this.#collect(builder, take, meter, finer, fineFromUs, toUs);
  }

  #collectSamples(builder: TraceBuilder, take: number, meter: number, fromUs: number, toUs: number): void {
    let lastUs: number | null = null;
    for (const part of this.#partsByTime(take, meter, fromUs, toUs)) {
      const samples = this.#read(take, meter, part);
      const first = lowerBound(samples.timeUs, fromUs);
      const end = lowerBound(samples.timeUs, toUs + 1);
      if (first === end) continue;
      builder.addSamples(sliceSamples(samples, first, end), first > 0 ? samples.timeUs[first - 1]! : lastUs ?? this.#timeBefore(take, meter, part.first_us));
      lastUs = samples.timeUs[end - 1]!;
    }
  }

  #whole(take: number, meter: number, fromUs: number, toUs: number, intervalUs: number | null): Trace {
    const parts = this.#partsByTime(take, meter, fromUs, toUs);
    let from: number;
    let to: number;
    if (parts.length === 0) {
      const before = this.#statements.countBefore.get({ take, meter, atUs: fromUs }) as number;
      [from, to] = [before - 1, before + 1];
    } else {
      const first = parts[0]!;
      const last = parts.at(-1)!;
      from = first.first_sample + lowerBound(this.#read(take, meter, first).timeUs, fromUs) - 1;
      to = last.first_sample + lowerBound(this.#read(take, meter, last).timeUs, toUs + 1) + 1;
    }
    const samples = this.samples(take, meter, Math.max(0, from - 1), to);
    const hasOneBefore = from >= 1;
    const shown = hasOneBefore ? sliceSamples(samples, 1, samples.length) : samples;
    return { ...samplesWithGaps(shown, hasOneBefore ? samples.timeUs[0]! : null, intervalUs), reduced: false };
  }

  /** Samples of the window in blocks that it cuts. */
  #countInCutParts(take: number, meter: number, fromUs: number, toUs: number): number {
    const cut = this.#statements.partsCut.all({ take, meter, fromUs, toUs }) as Part[];
    return cut.reduce((sum, part) => {
      const { timeUs } = this.#read(take, meter, part);
      return sum + lowerBound(timeUs, toUs + 1) - lowerBound(timeUs, fromUs);
    }, 0);
  }

  #partsByTime(take: number, meter: number, fromUs: number, toUs: number): Part[] {
    return this.#statements.partsByTime.all({ take, meter, fromUs, toUs }) as Part[];
  }

  #timeBefore(take: number, meter: number, atUs: number): number | null {
    return (this.#statements.timeBefore.get({ take, meter, atUs }) as number | null) ?? null;
  }

  /** Declared interval of the meter, else the median step of the take's first samples. */
  #intervalUs(take: number, meter: number): number | null {
    const declared = this.#statements.interval.get(meter) as number | null | undefined;
    if (typeof declared === 'number') return declared * 1e6;
    const key = `${take} ${meter}`;
    const known = this.#intervals.get(key);
    if (known !== undefined) return known;
    const { timeUs, length } = this.samples(take, meter, 0, 1001);
    const steps = Array.from({ length: Math.max(0, length - 1) }, (_, i) => timeUs[i + 1]! - timeUs[i]!).sort((a, b) => a - b);
    const median = steps[Math.floor(steps.length / 2)] ?? null;
    if (length > 1000) this.#intervals.set(key, median);
    return median;
  }

  #read(take: number, meter: number, part: Part): StoredSamples {
    if (part.source === 'tail') {
      const columns = this.#statements.tailColumns.get(take, meter, part.first_sample) as Buffer;
      return fromCanonical(Uint8Array.from(columns));
    }
    const key = `${take} ${meter} ${part.first_sample}`;
    const kept = this.#blocks.get(key);
    if (kept !== undefined) return kept;
    const samples = readBlock(this.#statements.blockColumns.get(take, meter, part.first_sample) as Buffer);
    if (samples.length !== part.samples) throw new RecordingError('SESSION_DAMAGED', `Block ${key} holds ${samples.length} samples instead of ${part.samples}.`);
    this.#blocks.set(key, samples);
    if (this.#blocks.size > KEPT_BLOCKS) this.#blocks.delete(this.#blocks.keys().next().value!);
    return samples;
  }
}

/** Index of the first time that is at least `atUs`. */
function lowerBound(timeUs: Float64Array, atUs: number): number {
  let low = 0;
  let high = timeUs.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (timeUs[middle]! < atUs) low = middle + 1;
    else high = middle;
  }
  return low;
}

function statements(db: Database.Database) {
  const parts = (where: string) => `
    SELECT 'block' AS source, first_sample, samples, first_us, last_us FROM blocks WHERE take = @take AND meter = @meter AND ${where}
    UNION ALL
    SELECT 'tail' AS source, first_sample, samples, first_us, last_us FROM tail WHERE take = @take AND meter = @meter AND ${where}
    ORDER BY first_sample`;
  const both = (select: string, where: string) =>
    `SELECT ${select} FROM (SELECT * FROM (${parts(where)}))`;
  return {
    take: db.prepare('SELECT take FROM takes WHERE take = ?').pluck(),
    interval: db.prepare('SELECT interval_s FROM meters WHERE meter = ?').pluck(),
    extent: db.prepare(both('sum(samples) AS samples, min(first_us) AS first_us, max(last_us) AS last_us', 'true')),
    partsByIndex: db.prepare(parts('first_sample < @to AND first_sample + samples > @from')),
    partsByTime: db.prepare(parts('first_us <= @toUs AND last_us >= @fromUs')),
    partsCut: db.prepare(parts('first_us <= @toUs AND last_us >= @fromUs AND NOT (first_us >= @fromUs AND last_us <= @toUs)')),
    samplesInside: db.prepare(both('coalesce(sum(samples), 0)', 'first_us >= @fromUs AND last_us <= @toUs')).pluck(),
    countBefore: db.prepare(both('coalesce(sum(samples), 0)', 'last_us < @atUs')).pluck(),
    timeBefore: db.prepare(both('max(last_us)', 'last_us < @atUs')).pluck(),
    tailColumns: db.prepare('SELECT columns FROM tail WHERE take = ? AND meter = ? AND first_sample = ?').pluck(),
    chunks: db.prepare(`SELECT columns FROM overview WHERE take = @take AND meter = @meter AND level = @level
      AND first_us <= @toUs AND last_us >= @fromUs ORDER BY chunk`).pluck(),
    blockColumns: db.prepare('SELECT columns FROM blocks WHERE take = ? AND meter = ? AND first_sample = ?').pluck(),
  };
}
