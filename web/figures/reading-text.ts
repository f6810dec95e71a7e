/** Values as a technician reads them: figures, SI prefix and unit, with no more digits than the meter gave. Pure. */
import { UNITS, type Quantity } from '../../drivers/reading.ts';

export interface Figures {
  /** Digits with sign and decimal point, e.g. "12.47". */
  readonly digits: string;
  /** Prefix and unit, e.g. "kΩ"; empty when the quantity is not known. */
  readonly unit: string;
}

/** Powers of ten and their prefix: SI Brochure, 9th edition, table 7. */
const PREFIXES: readonly (readonly [power: number, prefix: string])[] = [
  [-12, 'p'], [-9, 'n'], [-6, 'µ'], [-3, 'm'], [0, ''], [3, 'k'], [6, 'M'], [9, 'G'],
];
const UNIT_SIGNS: Record<string, string> = { ohm: 'Ω', degC: '°C', '1': '%' };
const MINUS = '−';

/** Quantities that are never written with a prefix. */
const PLAIN: ReadonlySet<Quantity> = new Set(['temperature', 'duty', 'unknown']);

/** The unit as written on screens, without prefix. */
export function unitSign(quantity: Quantity): string {
  return UNIT_SIGNS[UNITS[quantity]] ?? UNITS[quantity];
}

/**
 * The power of ten in which a value is shown. Volts and amperes go to a smaller unit only when the meter's range does
 * (resolution below a tenth of a milliunit), so that the unit does not jump while a reading drops out.
 * @param value SI
 * @param resolution SI value of the last digit, NaN when not known
 */
export function displayPower(quantity: Quantity, value: number, resolution: number): number {
  if (PLAIN.has(quantity)) return 0;
  const size = Math.abs(value);
  if (quantity === 'voltage' || quantity === 'power') {
    return size < 1 && resolution < 0.9e-4 ? -3 : size >= 1e5 ? 3 : 0;
  }
  if (quantity === 'current') return resolution < 0.9e-6 && size < 0.01 ? -6 : resolution < 0.9e-3 && size < 1 ? -3 : 0;
  if (quantity === 'resistance' && size < 1000) return 0;
  if (size === 0 || !Number.isFinite(size)) return Number.isFinite(resolution) && resolution > 0 ? clampPower(Math.floor(Math.log10(resolution) / 3) * 3 + 3) : 0;
  return clampPower(Math.floor(Math.log10(size) / 3 + 1e-9) * 3);
}

function clampPower(power: number): number {
  return Math.min(9, Math.max(-12, power));
}

/**
 * @param value SI, finite
 * @param resolution SI; NaN gives four significant digits
 * @param power from `displayPower`, to keep the unit of a related value; chosen from the value when left out
 * @example readingFigures('voltage', 12.4712, 0.01) gives { digits: '12.47', unit: 'V' }
 */
export function readingFigures(quantity: Quantity, value: number, resolution: number, power?: number): Figures {
  const duty = quantity === 'duty';
  const by = duty ? -2 : (power ?? displayPower(quantity, value, resolution));
  const shown = value / 10 ** by;
  const step = resolution / 10 ** by;
  const decimals = Number.isFinite(step) && step > 0
    ? Math.min(8, Math.max(0, Math.round(-Math.log10(step) + 0.2)))
    : significantDecimals(shown, 4);
  const prefix = duty ? '' : (PREFIXES.find(([p]) => p === by)?.[1] ?? '');
  return { digits: withMinus(shown.toFixed(decimals)), unit: prefix + unitSign(quantity) };
}

/** "12.47 V". Null is a dash: not known. */
export function readingText(quantity: Quantity, value: number | null, resolution: number | null): string {
  if (value === null || !Number.isFinite(value)) return '–';
  const { digits, unit } = readingFigures(quantity, value, resolution ?? Number.NaN);
  return unit === '' ? digits : `${digits} ${unit}`;
}

/** A limit or another number without a resolution: three significant digits, no trailing zeros. */
export function roundText(quantity: Quantity, value: number | null): string {
  return value === null || !Number.isFinite(value) ? '–' : withoutZeros(quantity, value, 3);
}

/** A limit as it was given, to six significant digits: rounded, it would read like a value that fails it. */
export function limitText(quantity: Quantity, value: number | null): string {
  return value === null || !Number.isFinite(value) ? '–' : withoutZeros(quantity, value, 6);
}

/** To so many significant digits at most. */
function withoutZeros(quantity: Quantity, value: number, most: number): string {
  const { digits, unit } = readingFigures(quantity, value, 10 ** (Math.floor(Math.log10(Math.abs(value) || 1)) - most + 1), roundPower(quantity, Math.abs(value)));
  const short = digits.includes('.') ? digits.replace(/0+$/, '').replace(/\.$/, '') : digits;
  return unit === '' ? short : `${short} ${unit}`;
}

/** Depth of a dropout: four significant digits, none finer than a count. */
export function depthText(quantity: Quantity, value: number | null, resolution: number | null): string {
  const finest = value === null || value === 0 ? 0 : 10 ** (Math.floor(Math.log10(Math.abs(value))) - 3);
  return readingText(quantity, value, resolution === null ? null : Math.max(resolution, finest));
}

/** Limits of volts are written in millivolts below a tenth, resistances in ohms down to a hundredth. */
function roundPower(quantity: Quantity, size: number): number {
  if (quantity === 'voltage' && size > 0 && size < 0.1) return -3;
  if (quantity === 'resistance' && size > 0 && size < 0.01) return size < 1e-4 ? -6 : -3;
  return displayPower(quantity, size, Number.NaN);
}

function significantDecimals(value: number, digits: number): number {
  const size = Math.abs(value);
  if (size === 0 || !Number.isFinite(size)) return 2;
  return Math.min(8, Math.max(0, digits - 1 - Math.floor(Math.log10(size))));
}

function withMinus(text: string): string {
  // "-0.00" is zero with a sign that says nothing.
  if (/^-0(\.0*)?$/.test(text)) return text.slice(1);
  return text.replace('-', MINUS);
}
