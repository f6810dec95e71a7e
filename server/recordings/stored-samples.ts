/**
 * Samples as the session file holds them: by column, times in whole microseconds, each with its sequence number.
 * The canonical bytes are what is hashed for evidence, so their layout never changes:
 *
 *   n float64 sequence numbers, n float64 times (us), n float64 arrival times (us), n float64 values,
 *   n float64 resolutions, n uint16 flags, n uint8 function codes; all little-endian, every NaN as 0x7ff8000000000000
 */
import type { SampleBatch } from '../session/session.ts';

export interface StoredSamples {
  readonly length: number;
  /** Counts every sample of the session from 1; rising, with holes where other meters' samples lie. */
  readonly seq: Float64Array;
  /** End of each sample on the session clock, us, whole. */
  readonly timeUs: Float64Array;
  /** Arrival as measured, us on the session clock, whole. */
  readonly arrivalUs: Float64Array;
  readonly value: Float64Array;
  readonly resolution: Float64Array;
  readonly flags: Uint16Array;
  readonly functionCode: Uint8Array;
}

/** Bytes of one sample in canonical form. */
export const CANONICAL_BYTES = 43;

const littleEndian = new Uint8Array(new Uint16Array([1]).buffer)[0] === 1;
if (!littleEndian) throw new Error('session files are written by little-endian machines only');

/** Views of canonical bytes as columns; copies only when `bytes` is not aligned to 8. */
export function fromCanonical(bytes: Uint8Array): StoredSamples {
  const length = bytes.byteLength / CANONICAL_BYTES;
  if (!Number.isInteger(length)) throw new RangeError(`${bytes.byteLength} bytes are no whole number of samples`);
  const aligned = bytes.byteOffset % 8 === 0 ? bytes : Uint8Array.from(bytes);
  const { buffer, byteOffset } = aligned;
  const doubles = (column: number): Float64Array => new Float64Array(buffer, byteOffset + 8 * column * length, length);
  return {
    length,
    seq: doubles(0),
    timeUs: doubles(1),
    arrivalUs: doubles(2),
    value: doubles(3),
    resolution: doubles(4),
    flags: new Uint16Array(buffer, byteOffset + 40 * length, length),
    functionCode: new Uint8Array(buffer, byteOffset + 42 * length, length),
  };
}

export function emptySamples(length: number): StoredSamples {
  return fromCanonical(new Uint8Array(length * CANONICAL_BYTES));
}

/** The canonical bytes of samples, in a buffer of their own. */
export function toCanonical(samples: StoredSamples): Uint8Array<ArrayBuffer> {
  const bytes = new Uint8Array(samples.length * CANONICAL_BYTES);
  copySamples(samples, 0, samples.length, fromCanonical(bytes), 0);
  canonicalNaN(bytes, samples.length);
  return bytes;
}

/** Gives every NaN of the value and resolution columns the one bit pattern that is hashed. */
export function canonicalNaN(bytes: Uint8Array, length: number): void {
  const columns = new Float64Array(bytes.buffer, bytes.byteOffset + 24 * length, 2 * length);
  const words = new Uint32Array(bytes.buffer, bytes.byteOffset + 24 * length, 4 * length);
  for (let i = 0; i < columns.length; i++) {
    if (Number.isNaN(columns[i])) {
      words[2 * i] = 0;
      words[2 * i + 1] = 0x7ff80000;
    }
  }
}

/** The canonical bytes of a batch of live samples; times are rounded to the microsecond. */
export function canonicalBatch(batch: SampleBatch): Uint8Array<ArrayBuffer> {
  const n = batch.length;
  const bytes = new Uint8Array(n * CANONICAL_BYTES);
  const columns = fromCanonical(bytes);
  for (let i = 0; i < n; i++) {
    columns.seq[i] = batch.firstSeq + i;
    columns.timeUs[i] = Math.round(batch.time[i]! * 1e6);
    columns.arrivalUs[i] = Math.round(batch.arrival[i]! * 1e6);
  }
  columns.value.set(batch.value.subarray(0, n));
  columns.resolution.set(batch.resolution.subarray(0, n));
  columns.flags.set(batch.flags.subarray(0, n));
  columns.functionCode.set(batch.functionCode.subarray(0, n));
  canonicalNaN(bytes, n);
  return bytes;
}

/** Copies samples `from` (inclusive) to `to` (exclusive) of one set of columns into another at `at`. */
export function copySamples(source: StoredSamples, from: number, to: number, target: StoredSamples, at: number): void {
  target.seq.set(source.seq.subarray(from, to), at);
  target.timeUs.set(source.timeUs.subarray(from, to), at);
  target.arrivalUs.set(source.arrivalUs.subarray(from, to), at);
  target.value.set(source.value.subarray(from, to), at);
  target.resolution.set(source.resolution.subarray(from, to), at);
  target.flags.set(source.flags.subarray(from, to), at);
  target.functionCode.set(source.functionCode.subarray(from, to), at);
}

/** Samples `from` (inclusive) to `to` (exclusive) as views, without copying. */
export function sliceSamples(source: StoredSamples, from: number, to: number): StoredSamples {
  return {
    length: to - from,
    seq: source.seq.subarray(from, to),
    timeUs: source.timeUs.subarray(from, to),
    arrivalUs: source.arrivalUs.subarray(from, to),
    value: source.value.subarray(from, to),
    resolution: source.resolution.subarray(from, to),
    flags: source.flags.subarray(from, to),
    functionCode: source.functionCode.subarray(from, to),
  };
}

export function joinSamples(parts: readonly StoredSamples[]): StoredSamples {
  const joined = emptySamples(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    copySamples(part, 0, part.length, joined, at);
    at += part.length;
  }
  return joined;
}
