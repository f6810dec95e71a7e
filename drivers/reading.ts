/**
 * One decoded value: what a meter's display says, as data. Pure; everything else in the
 * project that knows about meters knows only these types.
 */

/** What is measured. `unknown` when the meter's text names no unit. The order is part of the session file: only append. */
export const QUANTITIES = [
  'unknown', 'voltage', 'current', 'resistance', 'frequency', 'capacitance', 'temperature', 'duty', 'conductance', 'power',
  'acceleration', 'speed', 'angle',
] as const;
export type Quantity = (typeof QUANTITIES)[number];

/** SI unit symbol by quantity; duty is a bare ratio (1 = 100 %), an angle is in degrees. */
export const UNITS: Record<Quantity, string> = {
  unknown: '', voltage: 'V', current: 'A', resistance: 'ohm', frequency: 'Hz', capacitance: 'F', temperature: 'degC',
  duty: '1', conductance: 'S', power: 'W',
  acceleration: 'm/s2', speed: 'm/s', angle: 'deg',
};

/** How an electrical quantity is coupled; `none` where the meter doesn't say. The order is part of the session file: only append. */
export const COUPLINGS = ['none', 'dc', 'ac', 'acdc'] as const;
export type Coupling = (typeof COUPLINGS)[number];

/** Bits of `Reading.flags`. The numbers are part of the session file: only append. */
export const Flag = {
  /** Beyond the range in the positive direction or without sign ("OL"); `value` is NaN. */
  overRange: 1,
  /** Together with `overRange`: the sign shown was minus. */
  negative: 2,
  /** The display shows no value (blank, not-a-number); `value` is NaN. A gap, never a dropout. */
  blank: 4,
  /** The meter holds an old value. */
  hold: 8,
  minimum: 16,
  maximum: 32,
  average: 64,
  relative: 128,
  autoRange: 256,
  lowBattery: 512,
  /** The meter says that it is between ranges. */
  rangeHunt: 1024,
  diode: 2048,
  continuity: 4096,
} as const;

export interface Reading {
  readonly quantity: Quantity;
  readonly coupling: Coupling;
  /** SI unit of the quantity; NaN when over-range or blank. */
  readonly value: number;
  /** The value of one step of the last digit shown, SI; NaN when not known. */
  readonly resolution: number;
  /** Bits of `Flag`. */
  readonly flags: number;
}

/** Quantity and coupling in one byte, as samples carry and files store it: `quantity * 4 + coupling`. */
export function functionCode(quantity: Quantity, coupling: Coupling): number {
  return QUANTITIES.indexOf(quantity) * 4 + COUPLINGS.indexOf(coupling);
}

/** The inverse of `functionCode`. @throws {RangeError} for a code that names no quantity */
export function fromFunctionCode(code: number): { quantity: Quantity; coupling: Coupling } {
  const quantity = QUANTITIES[code >> 2];
  const coupling = COUPLINGS[code & 3];
  if (quantity === undefined || coupling === undefined) throw new RangeError(`no quantity has the function code ${code}`);
  return { quantity, coupling };
}
