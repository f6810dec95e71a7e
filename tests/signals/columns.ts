import { Flag, functionCode } from '../../drivers/reading.ts';
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import type { SampleColumns } from '../../server/diagnosis/samples.ts';

/** Samples written by hand: a number, 'OL' for over-range, 'blank', or null for a reading that never came. */
export type Shown = number | 'OL' | 'blank' | null;

/** Readings on an even grid, for tests that spell a case out. Interval in s; the first reading ends at one interval. */
export function columnsOf(
  values: readonly Shown[], interval: number,
  { quantity = 'voltage', coupling = 'dc', resolution = 0.01, start = 0 }: { quantity?: Quantity; coupling?: Coupling; resolution?: number; start?: number } = {},
): SampleColumns {
  const rows = values.map((shown, i) => ({ shown, time: Math.round((start + (i + 1) * interval) * 1e6) / 1e6 })).filter((row) => row.shown !== null);
  const n = rows.length;
  return {
    length: n,
    time: Float64Array.from(rows, (row) => row.time),
    value: Float64Array.from(rows, (row) => (typeof row.shown === 'number' ? row.shown : Number.NaN)),
    resolution: new Float64Array(n).fill(resolution),
    flags: Uint16Array.from(rows, (row) => (row.shown === 'OL' ? Flag.overRange : row.shown === 'blank' ? Flag.blank : 0)),
    functionCode: new Uint8Array(n).fill(functionCode(quantity, coupling)),
  };
}
