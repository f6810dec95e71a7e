/**
 * The binary frame in which a dashboard forwards what its own meter sent. Pure, used on both sides.
 *
 *   byte 0      kind: 2 forwarded bytes
 *   byte 1      meter index
 *   bytes 2-5   number of the chunk since the link was connected
 *   bytes 6-13  session clock when the page received it, s, as the page reckons it; NaN when it can't (float64)
 *   then the bytes of the meter, at most 4,096
 *
 * Numbers are little-endian.
 */

export interface ForwardedFrame {
  readonly meter: number;
  readonly sequence: number;
  /** Session clock, s; NaN when not known. */
  readonly at: number;
  readonly bytes: Uint8Array;
}

/** Most bytes of a meter in one frame. */
export const MOST_FORWARDED = 4096;
const KIND = 2;
const HEADER = 14;

/** @throws {RangeError} for more bytes than a frame holds */
export function encodeForwardedFrame({ meter, sequence, at, bytes }: ForwardedFrame): Uint8Array<ArrayBuffer> {
  if (bytes.length > MOST_FORWARDED) throw new RangeError(`a frame holds ${MOST_FORWARDED} bytes, not ${bytes.length}`);
  const frame = new Uint8Array(HEADER + bytes.length);
  const view = new DataView(frame.buffer);
  view.setUint8(0, KIND);
  view.setUint8(1, meter);
  view.setUint32(2, sequence, true);
  view.setFloat64(6, at, true);
  frame.set(bytes, HEADER);
  return frame;
}

/** @returns null for anything that is no such frame */
export function decodeForwardedFrame(frame: Uint8Array): ForwardedFrame | null {
  if (frame.length <= HEADER || frame.length > HEADER + MOST_FORWARDED || frame[0] !== KIND) return null;
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  return { meter: view.getUint8(1), sequence: view.getUint32(2, true), at: view.getFloat64(6, true), bytes: new Uint8Array(frame.subarray(HEADER)) };
}
