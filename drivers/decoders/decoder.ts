/**
 * What every decoder is: bytes of one connection go in, in chunks cut anywhere; readings and a count of
 * what could not be read come out. Pure: no clock, no I/O. A new decoder is made for every connection,
 * so that half a frame from before a cable was pulled can never join the bytes that come after.
 */
import type { Reading } from '../reading.ts';

/**
 * Why bytes gave no reading. too-long: no end of line within the bound · no-value: a line without a measured value ·
 * unknown-unit: a value in a unit that no quantity here has · not-text: bytes that no text line holds ·
 * checksum: the frame's own check failed · unknown-frame: no frame starts or fits here ·
 * refused: the meter answered with an error
 */
export type SkipReason = 'too-long' | 'no-value' | 'unknown-unit' | 'not-text' | 'checksum' | 'unknown-frame' | 'refused';

/** Takes what a decoder finds, in the order of the bytes, before `decode` returns. */
export interface DecodeSink {
  reading(reading: Reading): void;
  /** Once for each line or frame that could not be read, or for each run of bytes that belongs to none. */
  skipped(bytes: number, why: SkipReason): void;
}

export interface Decoder {
  decode(bytes: Uint8Array, sink: DecodeSink): void;
}
