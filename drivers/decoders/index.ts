/**
 * Decoders: bytes or lines of one connection to readings. Pure: no Node, clock or I/O; they import only
 * drivers/reading.ts. Each gives the same readings wherever the bytes are cut, and finds its way back after garbage.
 * Read decoder.ts first, then text-lines.ts and frame-decoder.ts.
 */
export { FixedAsker, isAsker } from './asker.ts';
export { FrameDecoder } from './frame-decoder.ts';
export { parseFrameLayout } from './frame-layout.ts';
export { LAYOUTS } from './layouts/index.ts';
export { RegisterAsker } from './modbus.ts';
export { SCPI_FUNCTIONS, ScpiAsker } from './scpi.ts';
export { parseLayout, textOptions } from './text-layout.ts';
export { TextLineDecoder } from './text-lines.ts';

export type { Asker } from './asker.ts';
export type { Decoder, DecodeSink, SkipReason } from './decoder.ts';
export type { FrameLayout, ParsedLayout } from './frame-layout.ts';
export type { RegisterLayout, RegisterType } from './modbus.ts';
export type { ScpiFunction, ScpiIdentity, ScpiOptions } from './scpi.ts';
export type { Layout, TextLayout } from './text-layout.ts';
export type { DecodedLine, TextLineOptions } from './text-lines.ts';
