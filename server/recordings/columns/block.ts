/**
 * A block of samples of one take and meter in compressed columns: form (1 byte), sample count, then the columns seq,
 * time, arrival, value, resolution, flags, function code. stored either by itself or as its lag behind the
 * sample's time, whichever is smaller. Should columns ever not give back the samples bit for bit, the canonical bytes
 * are stored as they are (form 2).
 */
import { emptySamples, fromCanonical, type StoredSamples, toCanonical } from '../stored-samples.ts';
import { ByteReader, ByteWriter, DamagedBytes } from './bytes.ts';
import { readDoubles, writeDoubles } from './decimal-column.ts';
import { readIntegers, writeIntegers } from './integer-column.ts';
import { readRuns, writeRuns } from './run-column.ts';

/** Samples in a sealed block; only the last of a take and meter is shorter. */
export const BLOCK_SAMPLES = 32_768;

const COLUMNS = 1;
const CANONICAL = 2;

/** A block that is certain to give back these samples: it has been read back. */
export function writeBlock(samples: StoredSamples): Uint8Array {
  const steps = blockSteps(samples);
  for (;;) {
    const { done, value } = steps.next();
    if (done === true) return value;
  }
}

/** `writeBlock` in steps of some milliseconds each, so that whoever has more urgent things to do can do them in between. */
export function* blockSteps(samples: StoredSamples): Generator<void, Uint8Array> {
  const canonical = toCanonical(samples);
  const columns = yield* columnSteps(samples);
  yield;
  if (givesBack(columns, canonical)) return columns;
  const out = new ByteWriter();
  out.byte(CANONICAL);
  out.reserve(canonical.length).set(canonical);
  return out.finish();
}

function givesBack(block: Uint8Array, canonical: Uint8Array): boolean {
  try {
    return Buffer.compare(toCanonical(readBlock(block)), canonical) === 0;
  } catch {
    return false;
  }
}

function* columnSteps(samples: StoredSamples): Generator<void, Uint8Array> {
  const out = new ByteWriter();
  out.byte(COLUMNS);
  out.count(samples.length);
  writeIntegers(out, samples.seq);
  yield;
  writeIntegers(out, samples.timeUs);
  yield;
  yield* arrivalSteps(out, samples);
  yield;
  writeDoubles(out, samples.value);
  yield;
  writeDoubles(out, samples.resolution);
  writeRuns(out, samples.flags);
  writeRuns(out, samples.functionCode);
  return out.finish();
}

/** @throws {DamagedBytes} for bytes that are no block */
export function readBlock(bytes: Uint8Array): StoredSamples {
  const from = new ByteReader(bytes);
  const form = from.byte();
  if (form === CANONICAL) return fromCanonical(bytes.slice(1));
  if (form !== COLUMNS) throw new DamagedBytes('a block has an unknown form');
  const n = from.count();
  if (n > BLOCK_SAMPLES) throw new DamagedBytes(`a block claims ${n} samples`);
  const seq = readIntegers(from, n);
  const timeUs = readIntegers(from, n);
  const arrivalUs = readArrival(from, timeUs);
  const value = readDoubles(from, n);
  const resolution = readDoubles(from, n);
  const { flags, functionCode } = emptySamples(n);
  readRuns(from, flags);
  readRuns(from, functionCode);
  from.expectEnd();
  return { length: n, seq, timeUs, arrivalUs, value, resolution, flags, functionCode };
}

const BY_ITSELF = 0;
const AS_LAG = 1;

function* arrivalSteps(out: ByteWriter, { arrivalUs, timeUs }: StoredSamples): Generator<void, void> {
  const byItself = new ByteWriter();
  byItself.byte(BY_ITSELF);
  writeIntegers(byItself, arrivalUs);
  yield;
  const asLag = new ByteWriter();
  asLag.byte(AS_LAG);
  writeIntegers(asLag, arrivalUs.map((arrival, i) => arrival - timeUs[i]!));
  const [a, b] = [byItself.finish(), asLag.finish()];
  const smaller = a.length <= b.length ? a : b;
  out.reserve(smaller.length).set(smaller);
}

function readArrival(from: ByteReader, timeUs: Float64Array): Float64Array {
  const form = from.byte();
  const values = readIntegers(from, timeUs.length);
  if (form === AS_LAG) for (let i = 0; i < values.length; i++) values[i] = values[i]! + timeUs[i]!;
  return values;
}
