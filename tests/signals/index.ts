/**
 * Simulated signals with known truth, for tests and benches. Imports only types and codes of the
 * product, never its detectors. Read stream.ts first.
 */
export { Random } from './random.ts';
export { SimulatedStream } from './stream.ts';
export { drawStream, STREAM_KINDS } from './kinds.ts';
export { columnsOf } from './columns.ts';
export type { NoiseShape } from './random.ts';
export type { Shown } from './columns.ts';
export type { DropoutSchedule, StreamParameters, TrueDropout } from './stream.ts';
export type { StreamKind } from './kinds.ts';
