/**
 * Decoders: bytes or lines of one connection to readings. Pure: no Node, clock or I/O; they import only
 * drivers/reading.ts. Each gives the same readings wherever the bytes are cut, and finds its way back after garbage.
 * Read decoder.ts first, then text-lines.ts.
 */
export { TextLineDecoder } from './text-lines.ts';

export type { Decoder, DecodeSink, SkipReason } from './decoder.ts';
export type { DecodedLine, TextLineOptions } from './text-lines.ts';
