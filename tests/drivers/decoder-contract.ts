/**
 * What every decoder of bytes promises, run over each of them: the same readings wherever the bytes are cut,
 * recovery after garbage, nothing for half a frame, every byte counted at most once, bounded memory.
 */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import type { Decoder, SkipReason } from '../../drivers/decoders/decoder.ts';
import type { Reading } from '../../drivers/reading.ts';

export interface DecoderCase {
  readonly newDecoder: () => Decoder;
  /** Whole frames, in order, and the value that each must give. */
  readonly frames: readonly Uint8Array[];
  readonly values: readonly number[];
  /** How many frames may be lost after garbage before readings are right again. */
  readonly recovery: number;
  /** Largest share of runs of random bytes in which a value may come out, by the redundancy of the frame; 0 for none. */
  readonly falseShare: number;
}

export interface Decoded {
  readings: Reading[];
  skipped: { bytes: number; why: SkipReason }[];
}

export function decodeChunks(decoder: Decoder, chunks: readonly Uint8Array[]): Decoded {
  const decoded: Decoded = { readings: [], skipped: [] };
  for (const chunk of chunks) {
    decoder.decode(chunk, {
      reading: (reading) => void decoded.readings.push(reading),
      skipped: (bytes, why) => void decoded.skipped.push({ bytes, why }),
    });
  }
  return decoded;
}

function join(parts: readonly Uint8Array[]): Uint8Array {
  return Uint8Array.from(Buffer.concat(parts));
}

export function testDecoder(decoderCase: DecoderCase): void {
  const { newDecoder, frames, values } = decoderCase;
  const whole = join(frames);
  const valuesOf = (decoded: Decoded): number[] => decoded.readings.map((reading) => reading.value);

  it('gives every value of whole frames and skips nothing', () => {
    const decoded = decodeChunks(newDecoder(), [whole]);
    expect(valuesOf(decoded)).toEqual(values);
    expect(decoded.skipped).toEqual([]);
  });

  it('gives the same readings wherever the bytes are cut in two', () => {
    const expected = decodeChunks(newDecoder(), [whole]);
    for (let cut = 0; cut <= whole.length; cut++) {
      expect(decodeChunks(newDecoder(), [whole.subarray(0, cut), whole.subarray(cut)]), `cut at ${cut}`).toEqual(expected);
    }
  });

  it('gives the same readings byte by byte', () => {
    const bytes = [...whole].map((byte) => Uint8Array.of(byte));
    expect(decodeChunks(newDecoder(), bytes)).toEqual(decodeChunks(newDecoder(), [whole]));
  });

  it('gives nothing for half a frame', () => {
    const first = frames[0] as Uint8Array;
    for (let length = 0; length < first.length; length++) {
      expect(decodeChunks(newDecoder(), [first.subarray(0, length)]).readings, `${length} bytes`).toEqual([]);
    }
  });

  it(`is right again at most ${decoderCase.recovery} frames after garbage`, () => {
    fc.assert(fc.property(fc.uint8Array({ minLength: 1, maxLength: 200 }), (garbage) => {
      const many = [...frames, ...frames, ...frames];
      const decoded = decodeChunks(newDecoder(), [garbage, join(many)]);
      const expected = [...values, ...values, ...values].slice(decoderCase.recovery);
      expect(valuesOf(decoded).slice(-expected.length)).toEqual(expected);
    }), { numRuns: 500 });
  });

  it('never throws, and holds no more than a bounded number of bytes back', () => {
    fc.assert(fc.property(fc.array(fc.uint8Array({ maxLength: 100 }), { maxLength: 20 }), (chunks) => {
      decodeChunks(newDecoder(), chunks);
    }), { numRuns: 500 });
    const decoder = newDecoder();
    const before = process.memoryUsage().rss;
    const block = new Uint8Array(1 << 20).fill(0x41);
    for (let i = 0; i < 32; i++) decodeChunks(decoder, [block]);
    expect(process.memoryUsage().rss - before).toBeLessThan(100e6);
  });

  it(`makes a value out of random bytes in at most ${decoderCase.falseShare} of runs`, () => {
    let runs = 0;
    let withValue = 0;
    fc.assert(fc.property(fc.uint8Array({ minLength: 50, maxLength: 200 }), (bytes) => {
      runs++;
      if (decodeChunks(newDecoder(), [bytes]).readings.some((reading) => !Number.isNaN(reading.value))) withValue++;
    }), { numRuns: 2000 });
    expect(withValue / runs).toBeLessThanOrEqual(decoderCase.falseShare);
  });
}
