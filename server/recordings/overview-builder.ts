/** Builds the overview of one take and meter, block by block: which chunks change, level by level. */
import { type Bucket, bucketsFrom, CHUNK_BUCKETS, FAN, joinBuckets, LEVELS, readBuckets } from './overview.ts';

/** A stored stretch of one level: up to 256 buckets. */
export interface Chunk {
  readonly level: number;
  readonly chunk: number;
  readonly buckets: readonly Bucket[];
  /** Buckets of this level that wait to be joined into the next. */
  readonly waiting: readonly Bucket[];
}

export class OverviewBuilder {
  #levels: readonly Chunk[] = LEVELS.map((level) => ({ level, chunk: 0, buckets: [], waiting: [] }));

  /** The chunks as they will be when these buckets of the finest level are added; nothing changes before `keep`. */
  next(added: readonly Bucket[]): Chunk[] {
    const chunks: Chunk[] = [];
    let arriving = added;
    for (const { level, chunk, buckets, waiting: before } of this.#levels) {
      if (arriving.length === 0) break;
      const isFull = buckets.length === CHUNK_BUCKETS;
      const waiting = [...before, ...arriving];
      const joined: Bucket[] = [];
      while (waiting.length >= FAN) joined.push(joinBuckets(waiting.splice(0, FAN)));
      chunks.push({ level, chunk: isFull ? chunk + 1 : chunk, buckets: isFull ? arriving : [...buckets, ...arriving], waiting });
      arriving = joined;
    }
    return chunks;
  }

  /** Takes up from stored chunks, ordered by level and number. */
  restore(stored: readonly { readonly level: number; readonly chunk: number; readonly columns: Uint8Array }[]): void {
    this.#levels = this.#levels.map((empty) => {
      const last = stored.findLast(({ level }) => level === empty.level);
      if (last === undefined) return empty;
      const buckets = bucketsFrom(readBuckets(last.columns));
      return { level: empty.level, chunk: last.chunk, buckets, waiting: buckets.slice(buckets.length - (buckets.length % FAN)) };
    });
  }

  keep(chunks: readonly Chunk[]): void {
    this.#levels = this.#levels.map((level, i) => chunks[i] ?? level);
  }
}
