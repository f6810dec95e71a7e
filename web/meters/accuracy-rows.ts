/** Accuracy as manuals print it: a row for a function and the ranges that share its figures, as text while it is typed. Pure. */
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import type { RangeAccuracy } from '../../server/diagnosis/judgement.ts';
import { typedNumber } from '../check-words.ts';

/** Functions of a meter, in the order in which they are offered. */
export const FUNCTIONS = ['v-dc', 'v-ac', 'ohm', 'a-dc', 'a-ac', 'hz', 'farad', 'celsius', 'duty'] as const;
export type FunctionName = (typeof FUNCTIONS)[number];

const MEANING: Readonly<Record<FunctionName, { readonly quantity: Quantity; readonly coupling: Coupling | null; readonly sign: string }>> = {
  'v-dc': { quantity: 'voltage', coupling: 'dc', sign: 'V' }, 'v-ac': { quantity: 'voltage', coupling: 'ac', sign: 'V' },
  ohm: { quantity: 'resistance', coupling: null, sign: 'Ω' },
  'a-dc': { quantity: 'current', coupling: 'dc', sign: 'A' }, 'a-ac': { quantity: 'current', coupling: 'ac', sign: 'A' },
  hz: { quantity: 'frequency', coupling: null, sign: 'Hz' }, farad: { quantity: 'capacitance', coupling: null, sign: 'F' },
  celsius: { quantity: 'temperature', coupling: null, sign: '°C' }, duty: { quantity: 'duty', coupling: null, sign: '' },
};

export interface AccuracyRow {
  readonly name: FunctionName;
  /** "600 mV 6 V 60 V"; empty for every range of the function. */
  readonly ranges: string;
  readonly percent: string;
  readonly counts: string;
}
export type AccuracyCell = 'ranges' | 'percent' | 'counts';

export type ReadRows =
  | { readonly kind: 'ranges'; readonly ranges: readonly RangeAccuracy[] }
  | { readonly kind: 'problem'; readonly row: number; readonly cell: AccuracyCell };

const POWERS: Readonly<Record<string, number>> = { n: -9, u: -6, µ: -6, μ: -6, m: -3, '': 0, k: 3, K: 3, M: 6 };
const PREFIXES = [[6, 'M'], [3, 'k'], [0, ''], [-3, 'm'], [-6, 'µ'], [-9, 'n']] as const;

/** What the rows come to; rows without figures are left out. A figure that can't be read is named, none is guessed. */
export function rangesOf(rows: readonly AccuracyRow[]): ReadRows {
  const ranges: RangeAccuracy[] = [];
  for (const [row, { name, ranges: text, percent, counts }] of rows.entries()) {
    if (percent.trim() === '' && counts.trim() === '' && text.trim() === '') continue;
    const { quantity, coupling } = MEANING[name];
    const ends = rangeEnds(text, name);
    if (ends === null) return { kind: 'problem', row, cell: 'ranges' };
    const share = figure(percent);
    if (share === null || share > 100) return { kind: 'problem', row, cell: 'percent' };
    const steps = figure(counts);
    if (steps === null || (share === 0 && steps === 0)) return { kind: 'problem', row, cell: 'counts' };
    // By its digits, so that 0.7 % is 0.007 and not 0.006999…
    const fraction = Number(`${share}e-2`);
    for (const upTo of ends.length === 0 ? [null] : ends) ranges.push({ quantity, coupling, upTo, fraction, counts: steps });
  }
  return { kind: 'ranges', ranges };
}

/** The rows that say the same: neighbours with the same figures share one. */
export function rowsOf(ranges: readonly RangeAccuracy[]): AccuracyRow[] {
  const rows: { name: FunctionName; ends: number[]; all: boolean; fraction: number; counts: number }[] = [];
  for (const { quantity, coupling, upTo, fraction, counts } of ranges) {
    const name = FUNCTIONS.find((one) => MEANING[one].quantity === quantity && (MEANING[one].coupling ?? coupling) === coupling)
      ?? FUNCTIONS.find((one) => MEANING[one].quantity === quantity);
    if (name === undefined) continue;
    const last = rows.at(-1);
    if (last !== undefined && last.name === name && !last.all && upTo !== null && last.fraction === fraction && last.counts === counts) last.ends.push(upTo);
    else rows.push({ name, ends: upTo === null ? [] : [upTo], all: upTo === null, fraction, counts });
  }
  return rows.map(({ name, ends, fraction, counts }) => ({
    name, ranges: ends.map((end) => endText(end, name)).join('  '), percent: String(Number((fraction * 100).toPrecision(9))), counts: String(counts),
  }));
}

/** Rows pasted from a table: function, ranges, percent, counts, by tabs or semicolons. @returns null when it is no such table */
export function pastedRows(text: string): AccuracyRow[] | null {
  const lines = text.split(/\r?\n/).filter((line) => line.trim() !== '').map((line) => line.split(/[\t;]/).map((cell) => cell.trim()));
  if (lines.length === 0 || lines.some((cells) => cells.length < 3 || !/\d/.test(cells[2] as string))) return null;
  const rows = lines.map(([first = '', ranges = '', percent = '', counts = '0']): AccuracyRow | null => {
    const name = functionOf(first);
    return name === null ? null : { name, ranges, percent: percent.replace(/[±%\s]/g, ''), counts: counts.replace(/[^\d.,]/g, '') };
  });
  return rows.every((row) => row !== null) ? rows : null;
}

/** "V DC", "DCV", "ohms", "Ω", "mA AC" and the like. */
function functionOf(text: string): FunctionName | null {
  const words = text.toLowerCase().replaceAll(/[\s()]/g, '');
  const coupling = words.includes('ac') ? 'ac' : 'dc';
  const bare = words.replace(/ac|dc/, '');
  if (/^[mµu]?v(olts?|oltage)?$/.test(bare)) return `v-${coupling}`;
  if (/^[mµu]?a(mps?)?$|^current$/.test(bare)) return `a-${coupling}`;
  if (/^[km]?(ohms?|ω|Ω|resistance)$/.test(bare)) return 'ohm';
  if (/^k?hz$|^frequency$/.test(bare)) return 'hz';
  if (/^[nµu]?f$|^capacitance$/.test(bare)) return 'farad';
  if (/^°?c$|^temperature$/.test(bare)) return 'celsius';
  return bare === '%' || bare === 'duty' ? 'duty' : null;
}

/** Ends of ranges, SI; one unit at the end holds for all, else a number without one is in the basic unit. @returns null for what can't be read */
function rangeEnds(text: string, name: FunctionName): number[] | null {
  const ends: { number: string; power: number | null; hasUnit: boolean }[] = [];
  const rest = text.replace(/(\d+(?:[.,]\d+)?)\s*(?:([nuµμmkKM]?)(Hz|°C|ohms?|[VAFΩ]|%)|([nuµμmkKM])(?![A-Za-z]))?/g, (_, number: string, prefix: string | undefined, unit: string | undefined, lone: string | undefined) => {
    const power = lone !== undefined ? POWERS[lone]! : unit !== undefined ? POWERS[prefix ?? '']! : null;
    ends.push({ number: number.replace(',', '.'), power, hasUnit: unit !== undefined });
    return '';
  });
  if (/[^\s,;/]/.test(rest)) return null;
  const last = ends.at(-1);
  const shared = last?.hasUnit === true && ends.slice(0, -1).every(({ power }) => power === null) ? last.power : null;
  const values = ends.map(({ number, power }) => Number(`${number}e${(power ?? shared ?? 0) + (name === 'duty' ? -2 : 0)}`));
  return values.every((value) => value > 0) ? values : null;
}

function endText(end: number, name: FunctionName): string {
  const { sign } = MEANING[name];
  if (name === 'duty') return `${Number((end * 100).toPrecision(9))} %`;
  const [power, prefix] = name === 'celsius' ? [0, ''] : PREFIXES.find(([each]) => end >= 10 ** each) ?? [-9, 'n'];
  return `${Number((end / 10 ** power).toPrecision(9))} ${prefix}${sign}`;
}

/** 0 for an empty cell; null for what is no number from 0. */
function figure(text: string): number | null {
  try {
    const value = typedNumber(text) ?? 0;
    return value >= 0 ? value : null;
  } catch {
    return null;
  }
}
