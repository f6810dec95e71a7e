/**
 * The binary frame in which samples go to a dashboard. Pure, used on both sides.
 *
 *   byte 0      kind: 1 samples
 *   byte 1      meter index
 *   bytes 2-3   bits: 1 reduced (extremes per column, each at its own time), 2 replace (a fresh overview)
 *   bytes 4-7   count n
 *   bytes 8-15  sequence number of the first sample (float64)
 *   bytes 16-23 take id, 0 between takes (float64)
 *   then n float64 times, n float64 values, n float64 resolutions, n uint16 flags, n uint8 function codes
 *
 * Numbers are little-endian.
 */
import type { SampleColumns } from '../diagnosis/samples.ts';

export const FrameBit = { reduced: 1, replace: 2 } as const;
const HEADER = 24;

export interface SampleFrame extends SampleColumns {
  readonly meter: number;
  readonly take: number;
  readonly firstSeq: number;
  readonly reduced: boolean;
  readonly replace: boolean;
}

/** @returns a frame of 24 + 27 n bytes */
export function encodeSampleFrame(frame: SampleFrame): Uint8Array<ArrayBuffer> {
  const n = frame.length;
  const bytes = new Uint8Array(HEADER + 27 * n);
  const view = new DataView(bytes.buffer);
  view.setUint8(0, 1);
  view.setUint8(1, frame.meter);
  view.setUint16(2, (frame.reduced ? FrameBit.reduced : 0) | (frame.replace ? FrameBit.replace : 0), true);
  view.setUint32(4, n, true);
  view.setFloat64(8, frame.firstSeq, true);
  view.setFloat64(16, frame.take, true);
  let at = HEADER;
  for (const column of [frame.time, frame.value, frame.resolution]) {
    new Float64Array(bytes.buffer, at, n).set(column.subarray(0, n));
    at += 8 * n;
  }
  new Uint16Array(bytes.buffer, at, n).set(frame.flags.subarray(0, n));
  bytes.set(frame.functionCode.subarray(0, n), at + 2 * n);
  return bytes;
}

/** @throws {RangeError} for bytes that are no whole sample frame */
export function decodeSampleFrame(buffer: ArrayBuffer): SampleFrame {
  if (buffer.byteLength < HEADER) throw new RangeError(`a sample frame has at least ${HEADER} bytes, this has ${buffer.byteLength}`);
  const view = new DataView(buffer);
  const n = view.getUint32(4, true);
  if (view.getUint8(0) !== 1 || buffer.byteLength !== HEADER + 27 * n) {
    throw new RangeError(`not a sample frame: kind ${view.getUint8(0)}, ${n} samples in ${buffer.byteLength} bytes`);
  }
  const bits = view.getUint16(2, true);
  return {
    meter: view.getUint8(1),
    reduced: (bits & FrameBit.reduced) !== 0,
    replace: (bits & FrameBit.replace) !== 0,
    length: n,
    firstSeq: view.getFloat64(8, true),
    take: view.getFloat64(16, true),
    time: new Float64Array(buffer, HEADER, n),
    value: new Float64Array(buffer, HEADER + 8 * n, n),
    resolution: new Float64Array(buffer, HEADER + 16 * n, n),
    flags: new Uint16Array(buffer, HEADER + 24 * n, n),
    functionCode: new Uint8Array(buffer, HEADER + 26 * n, n),
  };
}
