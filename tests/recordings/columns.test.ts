import { describe, expect, it } from 'vitest';
import { readBlock, writeBlock } from '../../server/recordings/columns/block.ts';
import { ByteReader, ByteWriter, DamagedBytes } from '../../server/recordings/columns/bytes.ts';
import { readDoubles, writeDoubles } from '../../server/recordings/columns/decimal-column.ts';
import { LARGEST_INTEGER, readIntegers, writeIntegers } from '../../server/recordings/columns/integer-column.ts';
import { canonicalBatch, fromCanonical, toCanonical } from '../../server/recordings/stored-samples.ts';
import { meterSamples, randomNumbers, strangeSamples } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

function doublesThere(values: readonly number[]): { back: Float64Array; bytes: number } {
  const out = new ByteWriter();
  writeDoubles(out, Float64Array.from(values));
  const bytes = out.finish();
  const from = new ByteReader(bytes);
  const back = readDoubles(from, values.length);
  from.expectEnd();
  return { back, bytes: bytes.length };
}

describe('columns of whole numbers', () => {
  it.each([
    ['nothing', []],
    ['one number', [7]],
    ['a constant', [5, 5, 5, 5]],
    ['a grid', Array.from({ length: 100 }, (_, i) => 1e9 + i * 100_000)],
    ['both signs at the largest size', [LARGEST_INTEGER, -LARGEST_INTEGER, LARGEST_INTEGER, 0, -LARGEST_INTEGER]],
    ['a step', [0, 0, 0, 2 ** 40, 2 ** 40, 0]],
  ])('come back exactly: %s', (_name, values) => {
    const out = new ByteWriter();
    writeIntegers(out, Float64Array.from(values));
    const from = new ByteReader(out.finish());
    expect([...readIntegers(from, values.length)]).toEqual(values);
    from.expectEnd();
  });

  it(`come back exactly at every scale (seed ${seed})`, () => {
    const random = randomNumbers(seed);
    for (let bits = 1; bits <= 49; bits++) {
      const values = Float64Array.from({ length: 300 }, () => Math.round((random() * 2 - 1) * 2 ** bits));
      const out = new ByteWriter();
      writeIntegers(out, values);
      expect(readIntegers(new ByteReader(out.finish()), 300)).toEqual(values.map((value) => value + 0));
    }
  });
});

describe('columns of values', () => {
  it('keep every double bit for bit: zeros of both signs, denormals, infinities, NaN', () => {
    const values = [0, -0, 5e-324, -5e-324, NaN, Infinity, -Infinity, 1.7976931348623157e308, 0.1, 0.30000000000000004, -12.34];
    const { back } = doublesThere(values);
    for (const [i, value] of values.entries()) expect(Object.is(back[i], value), `${value}`).toBe(true);
  });

  it('keep every display of five digits in every SI prefix as whole numbers, exactly', () => {
    for (const prefix of [-9, -6, -3, 0, 3, 6]) {
      const values = Array.from({ length: 2000 }, (_, i) => Number(`${(i * 37) % 60000}e${prefix - 3}`));
      const { back, bytes } = doublesThere(values);
      expect([...back]).toEqual(values);
      // Two byte planes and a few bytes of header: not the eight planes of raw doubles.
      expect(bytes).toBeLessThan(4 * values.length);
    }
  });

  it('list a few values that are no decimals, and go on as decimals', () => {
    const values = Array.from({ length: 1000 }, (_, i) => (i === 500 ? Math.PI : 12 + (i % 3) / 100));
    const { back, bytes } = doublesThere(values);
    expect([...back]).toEqual(values);
    expect(bytes).toBeLessThan(2 * values.length);
  });

  it('keep computed values raw', () => {
    const values = Array.from({ length: 1000 }, (_, i) => Math.sin(i) * 1e-7);
    expect([...doublesThere(values).back]).toEqual(values);
  });

  it('keep a column of nothing but NaN', () => {
    expect([...doublesThere([NaN, NaN, NaN]).back]).toEqual([NaN, NaN, NaN]);
  });
});

describe('a block', () => {
  it(`gives back the canonical bytes of whatever came (seed ${seed})`, () => {
    const random = randomNumbers(seed);
    for (const batch of [strangeSamples(5000, random), meterSamples(5000, random), strangeSamples(1, random), meterSamples(1, random)]) {
      const bytes = canonicalBatch(batch);
      const block = readBlock(writeBlock(fromCanonical(bytes)));
      expect(Buffer.from(toCanonical(block)).equals(Buffer.from(bytes))).toBe(true);
    }
  });

  it('of a quiet meter takes less than half a byte a sample, arrival times apart', () => {
    const batch = meterSamples(32_768, randomNumbers(seed), { delay: 0 });
    const packed = writeBlock(fromCanonical(canonicalBatch(batch)));
    expect(packed.length / batch.length).toBeLessThan(0.5);
  });

  it('reports damage as such, wherever it is cut off and whatever byte is changed', () => {
    const random = randomNumbers(seed);
    const plain = writeBlock(fromCanonical(canonicalBatch(strangeSamples(200, random))));
    for (let length = 0; length < plain.length; length++) expect(() => readBlock(plain.subarray(0, length))).toThrow(DamagedBytes);
    for (let i = 0; i < plain.length; i++) {
      const changed = plain.slice();
      changed[i]! ^= 1 << Math.floor(random() * 8);
      // Some changes give other numbers, which the seal finds; none may do worse than that.
      try {
        readBlock(changed);
      } catch (error) {
        expect(error).toBeInstanceOf(DamagedBytes);
      }
    }
  });
});
