/**
 * A block of samples of one take and meter in compressed columns. After decompression (brotli):
 * form (1 byte), sample count, then the columns seq, time, arrival, value, resolution, flags, function code.
 * Arrival is stored either by itself or as its lag behind the sample's time, whichever is smaller.
 */
import { brotliCompress, brotliDecompressSync, constants } from 'node:zlib';
import { promisify } from 'node:util';
import { emptySamples, type StoredSamples } from '../stored-samples.ts';
import { ByteReader, ByteWriter, DamagedBytes } from './bytes.ts';
import { readDoubles, writeDoubles } from './decimal-column.ts';
import { readIntegers, writeIntegers } from './integer-column.ts';
import { readRuns, writeRuns } from './run-column.ts';

/** Samples in a sealed block; only the last of a take and meter is shorter. */
export const BLOCK_SAMPLES = 32_768;

const FORM = 1;
/** No block that was written is larger than this when decompressed; a damaged one might claim to be. */
const LARGEST_BLOCK = 64 * BLOCK_SAMPLES + 65_536;

const compress = promisify(brotliCompress);

/** The columns of samples before general compression. */
export function writeColumns(samples: StoredSamples): Uint8Array {
  const out = new ByteWriter();
  out.byte(FORM);
  out.count(samples.length);
  writeIntegers(out, samples.seq);
  writeIntegers(out, samples.timeUs);
  writeArrival(out, samples);
  writeDoubles(out, samples.value);
  writeDoubles(out, samples.resolution);
  writeRuns(out, samples.flags);
  writeRuns(out, samples.functionCode);
  return out.finish();
}

/**
 * Packs bytes with brotli on the thread pool, so that the caller goes on meanwhile.
 * @param effort 0 to 11: how hard to try
 */
export function pack(bytes: Uint8Array, effort: number): Promise<Uint8Array> {
  return compress(bytes, {
    params: {
      [constants.BROTLI_PARAM_QUALITY]: effort,
      [constants.BROTLI_PARAM_LGWIN]: constants.BROTLI_MAX_WINDOW_BITS,
      [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length,
    },
  });
}

/** @throws {DamagedBytes} for bytes that are no block */
export function readBlock(packed: Uint8Array): StoredSamples {
  const from = new ByteReader(unpack(packed));
  if (from.byte() !== FORM) throw new DamagedBytes('a block has an unknown form');
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

export function unpack(packed: Uint8Array): Uint8Array {
  try {
    return brotliDecompressSync(packed, { maxOutputLength: LARGEST_BLOCK });
  } catch (error) {
    throw new DamagedBytes('packed columns can not be unpacked', { cause: error });
  }
}

const BY_ITSELF = 0;
const AS_LAG = 1;

function writeArrival(out: ByteWriter, { arrivalUs, timeUs }: StoredSamples): void {
  const lag = arrivalUs.map((arrival, i) => arrival - timeUs[i]!);
  const isLagSmaller = roughness(lag) < roughness(arrivalUs);
  out.byte(isLagSmaller ? AS_LAG : BY_ITSELF);
  writeIntegers(out, isLagSmaller ? lag : arrivalUs);
}

function readArrival(from: ByteReader, timeUs: Float64Array): Float64Array {
  const form = from.byte();
  const values = readIntegers(from, timeUs.length);
  if (form === AS_LAG) for (let i = 0; i < values.length; i++) values[i] = values[i]! + timeUs[i]!;
  return values;
}

/** Bits that the second differences would take: small where a prediction works well. */
function roughness(values: Float64Array): number {
  let bits = 0;
  for (let i = 2; i < values.length; i++) {
    bits += 32 - Math.clz32(Math.abs(values[i]! - 2 * values[i - 1]! + values[i - 2]!));
  }
  return bits;
}
