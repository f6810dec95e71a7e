import { describe, expect, it } from 'vitest';
import { RegisterAsker, type RegisterLayout } from '../../../drivers/decoders/index.ts';
import { Flag } from '../../../drivers/reading.ts';
import { CRC16_MODBUS } from '../../reference/protocol-frames.ts';
import { decodeChunks, testDecoder } from '../decoder-contract.ts';

const LAYOUT: RegisterLayout = { slave: 17, function: 4, address: 8, type: 'i16', wordOrder: 'high-first', decimals: 2, words: ['V', 'DC'] };

/** CRC written out bit by bit from its published parameters, apart from the code under test. */
function withCrc(...bytes: number[]): Uint8Array {
  let crc = 0xffff;
  for (const byte of bytes) {
    for (let bit = 0; bit < 8; bit++) {
      const feedback = ((crc ^ (byte >> bit)) & 1) === 1;
      crc = (crc >> 1) ^ (feedback ? 0xa001 : 0);
    }
  }
  return Uint8Array.of(...bytes, crc & 255, crc >> 8);
}

function read(type: RegisterLayout['type'], wordOrder: RegisterLayout['wordOrder'], decimals: number, ...data: number[]): unknown {
  const asker = new RegisterAsker({ ...LAYOUT, type, wordOrder, decimals }, 0.1);
  return decodeChunks(asker, [withCrc(17, 4, data.length, ...data)]).readings[0];
}

describe('the helper of this test', () => {
  it('gives the published CRC', () => {
    expect([...withCrc(...CRC16_MODBUS.example.frame)].slice(-2)).toEqual(CRC16_MODBUS.example.onTheWire);
  });
});

describe('RegisterAsker', () => {
  testDecoder({
    newDecoder: () => new RegisterAsker(LAYOUT, 0.1),
    frames: [withCrc(17, 4, 2, 0x04, 0xd2), withCrc(17, 4, 2, 0xfb, 0x2e), withCrc(17, 4, 2, 0, 0)],
    values: [12.34, -12.34, 0],
    recovery: 0,
    falseShare: 0,
  });

  it('asks for its registers, and again a period after the answer', () => {
    const asker = new RegisterAsker({ ...LAYOUT, slave: 1, function: 3, address: 0, type: 'u32' }, 0.5);
    // Slave 1, function 3, address 0, two registers.
    expect(asker.ask(10)).toEqual(withCrc(1, 3, 0, 0, 0, 2));
    expect(asker.ask(10.1)).toBeNull();
    decodeChunks(asker, [withCrc(1, 3, 4, 0, 0, 0, 7)]);
    expect(asker.askAgainAt()).toBe(10.5);
    expect(asker.ask(10.5)).not.toBeNull();
  });

  it('asks again by itself when no answer comes', () => {
    const asker = new RegisterAsker(LAYOUT, 0.5);
    asker.ask(10);
    expect(asker.ask(11.4)).toBeNull();
    expect(asker.ask(11.5)).not.toBeNull();
  });

  it('reads every register type in both word orders', () => {
    expect(read('u16', 'high-first', 1, 0xff, 0xff)).toMatchObject({ value: 6553.5, resolution: 0.1, quantity: 'voltage', coupling: 'dc' });
    expect(read('i16', 'high-first', 1, 0xff, 0xff)).toMatchObject({ value: -0.1 });
    expect(read('u32', 'high-first', 3, 0x00, 0x01, 0x86, 0xa0)).toMatchObject({ value: 100 });
    expect(read('u32', 'low-first', 3, 0x86, 0xa0, 0x00, 0x01)).toMatchObject({ value: 100 });
    expect(read('i32', 'low-first', 0, 0xff, 0xfe, 0xff, 0xff)).toMatchObject({ value: -2 });
    // 12.5 is 0x41480000 in IEEE 754 single precision.
    expect(read('f32', 'high-first', 3, 0x41, 0x48, 0x00, 0x00)).toMatchObject({ value: 12.5, resolution: 0.001 });
    expect(read('f32', 'low-first', 3, 0x00, 0x00, 0x41, 0x48)).toMatchObject({ value: 12.5 });
  });

  it('takes infinity for over-range and not-a-number for blank', () => {
    expect(read('f32', 'high-first', 3, 0x7f, 0x80, 0, 0)).toMatchObject({ value: NaN, flags: Flag.overRange });
    expect(read('f32', 'high-first', 3, 0xff, 0x80, 0, 0)).toMatchObject({ value: NaN, flags: Flag.overRange | Flag.negative });
    expect(read('f32', 'high-first', 3, 0x7f, 0xc0, 0, 0)).toMatchObject({ value: NaN, flags: Flag.blank });
  });

  it('counts a refusal and a spoilt answer', () => {
    const asker = new RegisterAsker(LAYOUT, 0.1);
    expect(decodeChunks(asker, [withCrc(17, 0x84, 2)])).toEqual({ readings: [], skipped: [{ bytes: 5, why: 'refused' }] });
    const spoilt = withCrc(17, 4, 2, 4, 0xd2);
    spoilt[4] = 0xd3;
    const decoded = decodeChunks(new RegisterAsker(LAYOUT, 0.1), [spoilt, withCrc(17, 4, 2, 0, 0)]);
    expect(decoded.readings.map((reading) => reading.value)).toEqual([0]);
    expect(decoded.skipped).toEqual([{ bytes: 7, why: 'checksum' }]);
  });

  it('passes over its own question, which some adapters echo', () => {
    const asker = new RegisterAsker(LAYOUT, 0.1);
    const question = asker.ask(0) as Uint8Array;
    expect(decodeChunks(asker, [question, withCrc(17, 4, 2, 0x04, 0xd2)]).readings).toMatchObject([{ value: 12.34 }]);
  });

  it.each([[{ slave: 0 }], [{ address: 70000 }], [{ words: ['furlong'] }]])('refuses %j', (wrong) => {
    expect(() => new RegisterAsker({ ...LAYOUT, ...wrong }, 0.1)).toThrow(RangeError);
  });
});
