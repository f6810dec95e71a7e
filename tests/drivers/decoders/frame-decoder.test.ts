import { describe, expect, it } from 'vitest';
import { FrameDecoder, type FrameLayout, LAYOUTS, parseFrameLayout } from '../../../drivers/decoders/index.ts';
import { crc16Modbus, sum8, xor8 } from '../../../drivers/decoders/checksum.ts';
import { characterOfSegments, SEGMENTS, segmentsOfCharacter } from '../../../drivers/decoders/segments.ts';
import { Flag } from '../../../drivers/reading.ts';
import { CRC16_MODBUS, SEVEN_SEGMENT_MASKS } from '../../reference/protocol-frames.ts';
import { decodeChunks, testDecoder } from '../decoder-contract.ts';

function layoutOf(data: Record<string, unknown>): FrameLayout {
  const parsed = parseFrameLayout({ layout: 'frame/1', name: 'test', origin: 'test', ...data });
  if (parsed.kind === 'unusable') throw new Error(parsed.faults.join('\n'));
  return parsed.layout;
}

function builtIn(name: string): FrameLayout {
  return LAYOUTS.find((layout) => layout.name === name) as FrameLayout;
}

/** Lights the segments of some text on the display of a layout, and sets fixed bits. Written from the layout's description, not from the decoder. */
function segmentFrame(layout: FrameLayout, text: string, marks: readonly [number, number][]): Uint8Array {
  const frame = new Uint8Array(layout.length);
  for (const bits of layout.fixed) frame[bits.at] = (frame[bits.at] as number) | bits.equals;
  if (layout.digits.as !== 'segments') throw new Error('no segments');
  layout.digits.places.forEach((place, i) => {
    const shape = segmentsOfCharacter(text.charAt(i));
    SEGMENTS.forEach((segment, n) => {
      if ((shape >> n) & 1) frame[place[segment].at] = (frame[place[segment].at] as number) | (1 << place[segment].bit);
    });
  });
  for (const [at, bit] of marks) frame[at] = (frame[at] as number) | (1 << bit);
  return frame;
}

describe('seven-segment shapes', () => {
  it.each(Object.entries(SEVEN_SEGMENT_MASKS))('%s is lit as published (%i)', (digit, mask) => {
    expect(characterOfSegments(mask)).toBe(digit);
    expect(segmentsOfCharacter(digit)).toBe(mask);
  });
});

describe('check sums', () => {
  it('crc16Modbus gives the published check value', () => {
    expect(crc16Modbus(Buffer.from('123456789'))).toBe(CRC16_MODBUS.check);
    expect(crc16Modbus(Uint8Array.from(CRC16_MODBUS.example.frame))).toBe(0xcdc5);
  });
  it('sum8 and xor8 by hand', () => {
    expect(sum8(Uint8Array.of(0xff, 0x02, 0x10))).toBe(0x11);
    expect(xor8(Uint8Array.of(0xff, 0x02, 0x10))).toBe(0xed);
  });
});

describe('the layout mirrored-display-14', () => {
  const layout = builtIn('mirrored-display-14');
  const dcVolts: [number, number][] = [[0, 2], [12, 2]];
  const frames = [
    segmentFrame(layout, '1234', [...dcVolts, [5, 3]]),
    segmentFrame(layout, '0567', [...dcVolts, [1, 3], [3, 3]]),
    segmentFrame(layout, ' 0L ', [[11, 2], [10, 1], [5, 3]]),
    segmentFrame(layout, '4700', [[11, 2], [9, 1], [3, 3]]),
    segmentFrame(layout, '8888', [[12, 3], [10, 3], [7, 3], [11, 0]]),
  ];
  testDecoder({ newDecoder: () => new FrameDecoder(layout), frames, values: [12.34, -0.567, NaN, 4700, 0.8888], recovery: 0, falseShare: 0 });

  it('reads unit, coupling, resolution and marks', () => {
    const [volts, minus, over, ohms, held] = decodeChunks(new FrameDecoder(layout), frames).readings;
    expect(volts).toEqual({ quantity: 'voltage', coupling: 'dc', value: 12.34, resolution: 0.01, flags: 0 });
    expect(minus).toMatchObject({ value: -0.567, resolution: 0.001 });
    expect(over).toMatchObject({ quantity: 'resistance', flags: Flag.overRange });
    expect(ohms).toMatchObject({ quantity: 'resistance', value: 4700, resolution: 1 });
    expect(held).toMatchObject({ quantity: 'current', value: 0.8888, resolution: 0.0001, flags: Flag.hold });
  });

  it('passes over a frame with a shape that is no digit', () => {
    const broken = (frames[0] as Uint8Array).slice();
    // Upper right and bottom only: nothing that a display shows.
    broken[3] = 0x40;
    broken[4] = 0x59;
    expect(decodeChunks(new FrameDecoder(layout), [broken, frames[1] as Uint8Array])).toMatchObject({ readings: [{ value: -0.567 }], skipped: [{ bytes: 14, why: 'unknown-frame' }] });
  });

  it('says that it is from memory', () => {
    expect(layout.origin).toBe('from memory');
  });
});

describe('the layout panel-ascii-11', () => {
  const layout = builtIn('panel-ascii-11');
  const frame = (text: string): Uint8Array => Buffer.from(`\x02${text}\r`, 'latin1');
  testDecoder({
    newDecoder: () => new FrameDecoder(layout),
    frames: [frame('+012342A@'), frame('-000051A@'), frame('+123450CA'), frame('+047001F@')].map((bytes) => bytes),
    values: [12.34, -0.5, NaN, 470e3],
    recovery: 1,
    falseShare: 0,
  });
  it('reads function, range and status', () => {
    expect(decodeChunks(new FrameDecoder(layout), [frame('+012342AB')]).readings).toEqual([{ quantity: 'voltage', coupling: 'dc', value: 12.34 * 10 / 10, resolution: 0.01, flags: Flag.hold }]);
  });
});

describe('layouts of digits by kind', () => {
  const sync = [{ at: 0, equals: '0xAB' }, { at: 1, equals: '0xCD' }];
  it('binary integers in both byte orders, signed or not', () => {
    const read = (digits: object, ...bytes: number[]): number | undefined => {
      const layout = layoutOf({ length: 2 + bytes.length, fixed: sync, digits: { as: 'integer', at: 2, bytes: bytes.length, ...digits }, decimals: 2, words: ['V'] });
      return decodeChunks(new FrameDecoder(layout), [Uint8Array.of(0xab, 0xcd, ...bytes)]).readings[0]?.value;
    };
    // 1234 = 0x04D2, -1234 = 0xFB2E in two's complement, 16909060 = 0x01020304.
    expect(read({ order: 'high-first', signed: true }, 0x04, 0xd2)).toBe(12.34);
    expect(read({ order: 'low-first', signed: true }, 0xd2, 0x04)).toBe(12.34);
    expect(read({ order: 'high-first', signed: true }, 0xfb, 0x2e)).toBe(-12.34);
    expect(read({ order: 'high-first', signed: false }, 0xfb, 0x2e)).toBe(643.02);
    expect(read({ order: 'low-first', signed: true }, 0x04, 0x03, 0x02, 0x01)).toBe(169090.60);
  });
  it('binary-coded decimals, and nothing for a half above 9', () => {
    const layout = layoutOf({
      length: 4, fixed: sync, digits: { as: 'bcd', halves: [{ at: 2, half: 'high' }, { at: 2, half: 'low' }, { at: 3, half: 'high' }, { at: 3, half: 'low' }] }, decimals: 3, words: ['k', 'Ohm'],
    });
    expect(decodeChunks(new FrameDecoder(layout), [Uint8Array.of(0xab, 0xcd, 0x47, 0x05)]).readings).toEqual([{ quantity: 'resistance', coupling: 'none', value: 4705, resolution: 1, flags: 0 }]);
    expect(decodeChunks(new FrameDecoder(layout), [Uint8Array.of(0xab, 0xcd, 0x4a, 0x05)]).readings).toEqual([]);
  });
  it('characters with a sign and a point among them', () => {
    const layout = layoutOf({ length: 8, fixed: sync, digits: { as: 'ascii', at: 2, length: 6 }, words: ['A'] });
    const read = (text: string): object | undefined => decodeChunks(new FrameDecoder(layout), [Uint8Array.of(0xab, 0xcd, ...Buffer.from(text))]).readings[0];
    expect(read('-01.25')).toMatchObject({ value: -1.25, resolution: 0.01 });
    expect(read('   7.5')).toMatchObject({ value: 7.5 });
    expect(read('  0L  ')).toMatchObject({ flags: Flag.overRange });
    expect(read(' -0.L ')).toMatchObject({ flags: Flag.overRange | Flag.negative });
    expect(read('      ')).toMatchObject({ flags: Flag.blank });
    expect(read('12:4.5')).toBeUndefined();
  });
  it.each(['sum8', 'xor8', 'crc16-modbus'] as const)('a frame whose %s does not fit is skipped, in every bit', (as) => {
    const covered = [0xab, 0xcd, 0x04, 0xd2];
    const crc = crc16Modbus(Uint8Array.from(covered));
    const check = as === 'sum8' ? [sum8(Uint8Array.from(covered))] : as === 'xor8' ? [xor8(Uint8Array.from(covered))] : [crc & 255, crc >> 8];
    const layout = layoutOf({ length: 4 + check.length, fixed: sync, checksum: { as, from: 0, at: 4 }, digits: { as: 'integer', at: 2, bytes: 2, order: 'high-first', signed: true } });
    const good = Uint8Array.from([...covered, ...check]);
    expect(decodeChunks(new FrameDecoder(layout), [good]).readings).toHaveLength(1);
    for (let bit = 0; bit < 8 * good.length; bit++) {
      const bad = good.slice();
      bad[bit >> 3] = (bad[bit >> 3] as number) ^ (1 << (bit & 7));
      expect(decodeChunks(new FrameDecoder(layout), [bad]).readings, `bit ${bit}`).toEqual([]);
    }
  });
});

describe('parseFrameLayout(data)', () => {
  it('names every fault with its place', () => {
    const parsed = parseFrameLayout({ layout: 'frame/1', name: 'Bad Name', origin: '', length: 3, fixed: [{ at: 7, equals: 300 }], digits: { as: 'bcd', halves: [] }, rules: [{ when: [], words: ['furlong'] }] });
    if (parsed.kind !== 'unusable') throw new Error('accepted');
    const text = parsed.faults.join('\n');
    for (const place of ['name', 'origin', 'fixed.0.equals', 'digits.halves', 'rules.0.when', 'rules.0.words.0']) expect(text).toContain(place);
  });
  it('refuses bytes outside the frame', () => {
    const parsed = parseFrameLayout({ layout: 'frame/1', name: 'x', origin: 'test', length: 4, fixed: [{ at: 0, equals: 1 }], digits: { as: 'integer', at: 3, bytes: 2, order: 'low-first', signed: false } });
    expect(parsed).toEqual({ kind: 'unusable', faults: ['digits.at: byte 4 is not in a frame of 4 bytes'] });
  });
  it('takes back what it has written', () => {
    for (const layout of LAYOUTS) expect(parseFrameLayout(JSON.parse(JSON.stringify(layout)))).toEqual({ kind: 'layout', layout });
  });
});
