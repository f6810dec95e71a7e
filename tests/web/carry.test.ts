import { describe, expect, it } from 'vitest';
import { decodeForwardedFrame, encodeForwardedFrame, MOST_FORWARDED } from '../../server/live/forwarded-frame.ts';
import { hindranceOf } from '../../web/carry/hindrance.ts';
import { fullUuid, UART_SERVICES } from '../../web/carry/uart-services.ts';

describe('fullUuid(text)', () => {
  it.each([
    // The 128-bit form of FFE0 as public sample code has it: https://github.com/eric-b/demo-hm10 (Constants/Hm1xShortUuids.cs).
    ['ffe0', '0000ffe0-0000-1000-8000-00805f9b34fb'], [' 0xFFE0 ', '0000ffe0-0000-1000-8000-00805f9b34fb'], ['0000FFE1', '0000ffe1-0000-1000-8000-00805f9b34fb'],
    // Zephyr API documentation, nus.h: BT_UUID_NUS_SRV_VAL.
    ['6E400001-B5A3-F393-E0A9-E50E24DCCA9E', '6e400001-b5a3-f393-e0a9-e50e24dcca9e'], ['6E400001B5A3F393E0A9E50E24DCCA9E', '6e400001-b5a3-f393-e0a9-e50e24dcca9e'],
  ])('writes %s in full', (text, full) => expect(fullUuid(text)).toBe(full));
  it.each(['', 'ffe', 'ffe01', 'meter', '6e400001-b5a3'])('takes "%s" for none', (text) => expect(fullUuid(text)).toBeNull());
  it('leaves the known services as they are: a short or upper-case one would never be found', () => {
    for (const { service } of UART_SERVICES) expect(fullUuid(service)).toBe(service);
  });
});

describe('hindranceOf(surroundings)', () => {
  it('names the first thing that stands in the way', () => {
    expect(hindranceOf({ isSecure: false, has: false, hasAdapter: null })).toBe('insecure');
    expect(hindranceOf({ isSecure: true, has: false, hasAdapter: null })).toBe('missing');
    expect(hindranceOf({ isSecure: true, has: true, hasAdapter: false })).toBe('no-adapter');
    expect(hindranceOf({ isSecure: true, has: true, hasAdapter: null })).toBeNull();
  });
});

describe('the frame of forwarded bytes', () => {
  it('comes back as it went, also out of the middle of a larger buffer', () => {
    const frame = { meter: 3, sequence: 70_000, at: 12.5, bytes: Uint8Array.of(1, 2, 3) };
    const sent = encodeForwardedFrame(frame);
    expect(decodeForwardedFrame(Buffer.concat([Buffer.from('xx'), sent]).subarray(2))).toEqual(frame);
    expect(decodeForwardedFrame(encodeForwardedFrame({ ...frame, at: NaN }))?.at).toBeNaN();
  });
  it('is refused when it is cut, of another kind or too long', () => {
    const sent = encodeForwardedFrame({ meter: 3, sequence: 1, at: 0, bytes: Uint8Array.of(1) });
    for (let length = 0; length < sent.length; length++) expect(decodeForwardedFrame(sent.subarray(0, length))).toBeNull();
    expect(decodeForwardedFrame(Uint8Array.of(1, ...sent.subarray(1)))).toBeNull();
    expect(decodeForwardedFrame(new Uint8Array(MOST_FORWARDED + 15).fill(2))).toBeNull();
    expect(() => encodeForwardedFrame({ meter: 0, sequence: 0, at: 0, bytes: new Uint8Array(MOST_FORWARDED + 1) })).toThrow(RangeError);
  });
});
