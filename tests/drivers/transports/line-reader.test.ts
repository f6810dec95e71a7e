import { describe, expect, it } from 'vitest';
import { TextLineDecoder } from '../../../drivers/decoders/index.ts';
import { LineReader, LONGEST_LINE } from '../../../drivers/transports/line-reader.ts';
import { decodeChunks, testDecoder } from '../decoder-contract.ts';

function reader(startsAtLine = true, newline: 'lf' | 'cr' = 'lf'): LineReader {
  return new LineReader(new TextLineDecoder(), { newline, startsAtLine });
}
const bytes = (text: string): Uint8Array => Buffer.from(text, 'latin1');

describe('LineReader with the text line decoder', () => {
  testDecoder({
    newDecoder: () => reader(),
    frames: ['12.34 V DC\r\n', '-0.5 mV\r\n', '17, 3.3 V\n', 'OL kOhm\n', '1.5E-3 A\r\n'].map(bytes),
    values: [12.34, -0.0005, 3.3, NaN, 0.0015],
    // Garbage that ends in a digit joins the line that follows; text has nothing to tell it by.
    recovery: 1,
    falseShare: 0.02,
  });
});

describe('LineReader', () => {
  it('drops the line that it joins in its middle, unless the line begins there', () => {
    expect(decodeChunks(reader(false), [bytes('2.34 V\n12.34 V\n')]).readings).toHaveLength(1);
    expect(decodeChunks(reader(false), [bytes('\n12.34 V\n')]).readings).toHaveLength(1);
    expect(decodeChunks(reader(true), [bytes('2.34 V\n12.34 V\n')]).readings).toHaveLength(2);
  });

  it('gives every line within the call that brings its end, the very first call included', () => {
    const lines = reader();
    expect(decodeChunks(lines, [bytes('1 V\n2 V\n3')]).readings.map((reading) => reading.value)).toEqual([1, 2]);
    expect(decodeChunks(lines, [bytes(' V\n')]).readings.map((reading) => reading.value)).toEqual([3]);
  });

  it('ends lines at CR where the meter does', () => {
    expect(decodeChunks(reader(true, 'cr'), [bytes('1 V\r2 V\r\n3 V\r')]).readings.map((reading) => reading.value)).toEqual([1, 2, 3]);
  });

  it.each([1, 7, 4096, 5000, 1 << 20])('skips a line that is too long whole and once, in chunks of %i bytes, and reads the next', (size) => {
    const stream = bytes(`1 V\n${'5'.repeat(LONGEST_LINE + 1000)}\n2 V\n`);
    const chunks: Uint8Array[] = [];
    for (let at = 0; at < stream.length; at += size) chunks.push(stream.subarray(at, at + size));
    const decoded = decodeChunks(reader(), chunks);
    expect(decoded.readings.map((reading) => reading.value)).toEqual([1, 2]);
    expect(decoded.skipped).toEqual([{ bytes: LONGEST_LINE + 1001, why: 'too-long' }]);
  });

  it('counts each line that it cannot read, with its bytes', () => {
    expect(decodeChunks(reader(), [bytes('hello\n1 V\n??\n\n')]).skipped).toEqual([{ bytes: 6, why: 'no-value' }, { bytes: 3, why: 'not-text' }]);
  });
});
