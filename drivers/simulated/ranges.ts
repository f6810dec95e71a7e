/** The ranges of a simulated meter and how it prints a number in each. Pure. */
import type { Quantity } from '../reading.ts';

export interface Range {
  /** Largest value shown, SI. */
  readonly fullScale: number;
  /** One count, SI: ten to `exponent`. */
  readonly resolution: number;
  readonly exponent: number;
  /** Digits after the decimal point. */
  readonly decimals: number;
  /** Unit with its prefix as printed. */
  readonly unit: string;
}

interface RangeLimits {
  readonly unit: string;
  /** The lowest range shows at least `from`, the highest at least `to` as full scale, SI. Common practice of hand-held meters, no source. */
  readonly from: number;
  readonly to: number;
}

const LIMITS: Record<Quantity, RangeLimits> = {
  unknown: { unit: '', from: 1, to: 1e6 },
  voltage: { unit: 'V', from: 0.1, to: 600 },
  current: { unit: 'A', from: 0.1, to: 10 },
  resistance: { unit: 'Ohm', from: 10, to: 2e7 },
  frequency: { unit: 'Hz', from: 10, to: 1e6 },
  capacitance: { unit: 'F', from: 1e-9, to: 1e-2 },
  temperature: { unit: 'degC', from: 100, to: 1000 },
  duty: { unit: '%', from: 1, to: 1 },
  conductance: { unit: 'S', from: 1e-8, to: 1e-6 },
  power: { unit: 'W', from: 10, to: 1e4 },
  // No meter's: channels of a phone.
  acceleration: { unit: 'm/s2', from: 100, to: 100 },
  speed: { unit: 'm/s', from: 100, to: 100 },
  angle: { unit: 'deg', from: 1000, to: 1000 },
};

const PREFIXES: Record<number, string> = { [-12]: 'p', [-9]: 'n', [-6]: 'u', [-3]: 'm', 0: '', 3: 'k', 6: 'M', 9: 'G' };

/** @param counts  largest number shown without its decimal point, e.g. 6000 @returns lowest range first */
export function rangesFor(quantity: Quantity, counts: number): Range[] {
  const { unit, from, to } = LIMITS[quantity];
  const ranges: Range[] = [];
  let exponent = Math.ceil(Math.log10(from / counts) - 1e-9);
  for (;;) {
    const range = rangeOf(quantity, counts, exponent, unit);
    ranges.push(range);
    if (range.fullScale >= to) return ranges;
    exponent++;
  }
}

function rangeOf(quantity: Quantity, counts: number, exponent: number, unit: string): Range {
  const resolution = Number(`1e${exponent}`);
  const fullScale = counts * resolution;
  if (quantity === 'duty') return { fullScale, resolution, exponent, decimals: Math.max(0, -(exponent + 2)), unit };
  // The prefix that leaves one to three digits before the point, and no digits that are not measured.
  const hasPrefix = quantity !== 'temperature' && quantity !== 'unknown';
  let prefix = hasPrefix ? 3 * Math.floor(Math.log10(fullScale * (1 + 1e-9)) / 3) : 0;
  while (hasPrefix && exponent > prefix) prefix += 3;
  return { fullScale, resolution, exponent, decimals: Math.max(0, prefix - exponent), unit: (PREFIXES[prefix] ?? '') + unit };
}

/** @param count  whole number of counts, within the range */
export function formatCount(count: number, range: Range): string {
  const sign = count < 0 ? '-' : '';
  const digits = String(Math.abs(count)).padStart(range.decimals + 1, '0');
  if (range.decimals === 0) return sign + digits;
  return `${sign}${digits.slice(0, -range.decimals)}.${digits.slice(-range.decimals)}`;
}
