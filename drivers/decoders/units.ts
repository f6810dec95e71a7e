/**
 * The words that meters print around a number, as tables: units with their prefixes and couplings,
 * over-range words, and words that say what the display does.
 *
 * Case: SI says that `m` is milli and `M` is mega. Devices that only print capitals write MV and MA for milli and MOHM and
 * MHZ for mega, which is also the rule of IEEE 488.2, 7.7.3 (from memory); so `M` is mega for ohm and hertz, milli for the rest.
 */
import type { Coupling, Quantity } from '../reading.ts';
import { Flag } from '../reading.ts';

export interface UnitWord {
  readonly kind: 'unit';
  /** null: a unit of something that this project has no quantity for (seconds, decibels); a value in it is no reading. */
  readonly quantity: Quantity | null;
  /** The number shown times ten to this is SI. */
  readonly exponent: number;
  readonly coupling: Coupling;
  /** Degrees Fahrenheit and kelvin do not start at the zero of degrees Celsius. */
  readonly scale: 'plain' | 'fahrenheit' | 'kelvin';
}
export interface FlagWord { readonly kind: 'flag'; readonly flags: number }
export interface CouplingWord { readonly kind: 'coupling'; readonly coupling: Coupling }
export interface OverRangeWord { readonly kind: 'over-range' }
/** The first part of a unit that may stand apart from the rest: `4.7 k Ohm`, `21 deg C`. */
export interface PrefixWord { readonly kind: 'prefix' }
export type KnownWord = UnitWord | FlagWord | CouplingWord | OverRangeWord | PrefixWord;

/** Greek and degree signs, in every coding that bytes read as Latin-1 can show, mapped to letters. Longest first. */
export const SIGNS: readonly (readonly [string, string])[] = [
  ['\u00e2\u0084\u00a6', 'Ohm'], // UTF-8 of U+2126, ohm sign
  ['\u00e2\u0084\u0083', 'degC'], // UTF-8 of U+2103
  ['\u00e2\u0084\u0089', 'degF'], // UTF-8 of U+2109
  ['\u00ce\u00a9', 'Ohm'], // UTF-8 of U+03A9, capital omega
  ['\u00ce\u00bc', 'u'], // UTF-8 of U+03BC, small mu
  ['\u00c2\u00b5', 'u'], // UTF-8 of U+00B5, micro sign
  ['\u00c2\u00b0', 'deg'], // UTF-8 of U+00B0
  ['\u00b5', 'u'], // Latin-1
  ['\u00e6', 'u'], // code page 437
  ['\u00ea', 'Ohm'], // code page 437
  ['\u00d9', 'Ohm'], // ISO 8859-7
  ['\u00ec', 'u'], // ISO 8859-7
  ['\u00f4', 'Ohm'], // character displays' own table (from memory)
  ['\u00e4', 'u'], // character displays' own table (from memory)
  ['\u00b0', 'deg'], // Latin-1
  ['\u00f8', 'deg'], // code page 437
  ['\u00df', 'deg'], // character displays' own table (from memory)
];

const PREFIXES: readonly (readonly [string, number])[] = [
  ['p', -12], ['P', -12], ['n', -9], ['N', -9], ['u', -6], ['U', -6], ['m', -3], ['k', 3], ['K', 3], ['G', 9],
];
const MEGA_UNITS: readonly Quantity[] = ['resistance', 'frequency', 'power'];

const UNIT_NAMES: readonly (readonly [Quantity, readonly string[]])[] = [
  ['voltage', ['V', 'v', 'Volt', 'Volts', 'volt', 'volts', 'VOLT', 'VOLTS']],
  ['current', ['A', 'a', 'Amp', 'Amps', 'amp', 'amps', 'AMP', 'AMPS']],
  ['resistance', ['Ohm', 'Ohms', 'ohm', 'ohms', 'OHM', 'OHMS']],
  ['frequency', ['Hz', 'HZ', 'hz', 'Hertz', 'hertz', 'HERTZ']],
  ['capacitance', ['F', 'f', 'Farad', 'farad', 'FARAD', 'Farads', 'farads', 'FARADS']],
  ['conductance', ['S', 'SIE', 'Siemens', 'siemens', 'SIEMENS']],
  ['power', ['W', 'w', 'Watt', 'watt', 'WATT', 'Watts', 'watts', 'WATTS']],
];
const COUPLING_NAMES: readonly (readonly [Coupling, readonly string[]])[] = [
  ['acdc', ['AC+DC', 'ac+dc', 'ACDC', 'acdc', 'DC+AC', 'dc+ac', 'Ac+Dc']],
  ['dc', ['DC', 'dc', 'Dc']],
  ['ac', ['AC', 'ac', 'Ac', '~', 'ACRMS', 'RMS', 'rms', 'TRMS']],
];
const UNSUPPORTED_UNITS = [
  's', 'ms', 'us', 'ns', 'sec', 'SEC', 'min', 'h', 'dB', 'DB', 'dBm', 'DBM', 'dBV', 'DBV', 'hFE', 'HFE', 'rpm', 'RPM', 'VA', 'var',
  'Wh', 'Ah', 'mAh', 'H', 'mH', 'uH', 'nH', 'bar', 'Pa', 'kPa', 'psi', 'lx', 'g', 'kg', '%RH', 'RH', 'J', 'T', 'mT',
];
const FLAG_NAMES: readonly (readonly [number, readonly string[]])[] = [
  [Flag.hold, ['HOLD', 'DHOLD', 'PHOLD', 'AHOLD', 'HLD']],
  [Flag.minimum, ['MIN', 'MINIMUM']],
  [Flag.maximum, ['MAX', 'MAXIMUM']],
  [Flag.average, ['AVG', 'AVE', 'AVERAGE', 'MEAN']],
  [Flag.relative, ['REL', 'RELATIVE', 'DELTA', 'NULL', 'ZERO']],
  [Flag.autoRange, ['AUTO', 'AUTORANGE']],
  [Flag.lowBattery, ['LOBAT', 'LOBATT', 'LOWBAT', 'LOWBATT', 'LOWBATTERY', 'BATT', 'BAT', 'BATTERY']],
  [Flag.rangeHunt, ['RANGING']],
  [Flag.diode, ['DIODE', 'DIOD']],
  [Flag.continuity, ['CONT', 'CONTINUITY', 'BEEP', 'BUZZ', 'BUZZER']],
];
/** As printed, without the decimal point that a display may light inside (`O.L`). */
const OVER_RANGE_NAMES = [
  'OL', '0L', 'OVLD', 'OVL', 'OVER', 'OVERLD', 'OVERLOAD', 'OVERRANGE', 'OVERFLOW', 'OVFL', 'OFL', 'OFLOW', 'OVF', 'INF', 'INFINITY',
];

function buildWords(): Map<string, KnownWord> {
  const words = new Map<string, KnownWord>();
  const addUnit = (text: string, unit: Omit<UnitWord, 'kind'>): void => {
    words.set(text, { kind: 'unit', ...unit });
  };
  const addWithCouplings = (text: string, unit: Omit<UnitWord, 'kind'>): void => {
    addUnit(text, unit);
    if (unit.quantity !== 'voltage' && unit.quantity !== 'current' && unit.quantity !== 'power') return;
    for (const [coupling, names] of COUPLING_NAMES) {
      for (const name of names) {
        addUnit(text + name, { ...unit, coupling });
        addUnit(name + text, { ...unit, coupling });
      }
    }
  };
  for (const [quantity, names] of UNIT_NAMES) {
    for (const name of names) {
      const unit = { quantity, exponent: 0, coupling: 'none', scale: 'plain' } as const;
      addWithCouplings(name, unit);
      for (const [letter, exponent] of PREFIXES) addWithCouplings(letter + name, { ...unit, exponent });
      addWithCouplings(`M${name}`, { ...unit, exponent: megaExponent(quantity) });
    }
  }
  const plain = { exponent: 0, coupling: 'none', scale: 'plain' } as const;
  for (const name of ['degC', 'DegC', 'DEGC', 'degc', 'C', 'CEL', 'Cel', 'Celsius', 'CELSIUS', 'celsius']) addUnit(name, { ...plain, quantity: 'temperature' });
  for (const name of ['degF', 'DegF', 'DEGF', 'degf', 'FAR', 'Fahrenheit', 'FAHRENHEIT', 'fahrenheit']) addUnit(name, { ...plain, quantity: 'temperature', scale: 'fahrenheit' });
  for (const name of ['degK', 'Kelvin', 'KELVIN', 'kelvin']) addUnit(name, { ...plain, quantity: 'temperature', scale: 'kelvin' });
  for (const name of ['%', 'PCT', 'pct', '%DUTY', '%duty', 'DUTY%']) addUnit(name, { ...plain, quantity: 'duty', exponent: -2 });
  for (const name of UNSUPPORTED_UNITS) addUnit(name, { ...plain, quantity: null });
  const everyCase = (name: string): string[] => [name, name.toLowerCase(), name.charAt(0) + name.slice(1).toLowerCase()];
  for (const [coupling, names] of COUPLING_NAMES) for (const name of names) words.set(name, { kind: 'coupling', coupling });
  for (const [flags, names] of FLAG_NAMES) for (const name of names) for (const text of everyCase(name)) words.set(text, { kind: 'flag', flags });
  for (const name of OVER_RANGE_NAMES) for (const text of everyCase(name)) words.set(text, { kind: 'over-range' });
  for (const text of ['p', 'n', 'u', 'm', 'k', 'K', 'M', 'G', 'deg', 'Deg', 'DEG']) words.set(text, { kind: 'prefix' });
  return words;
}

function megaExponent(quantity: Quantity): number {
  return MEGA_UNITS.includes(quantity) ? 6 : -3;
}

const WORDS = buildWords();

/** Looks a word up as printed; signs must have been mapped to letters (`SIGNS`). */
export function knownWord(text: string): KnownWord | undefined {
  return WORDS.get(text);
}
