/** The accuracy that holds for one reading: that of the range in use, found out from what the reading shows. */
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import type { Accuracy, RangeAccuracy } from './judgement.ts';

/** What the manual of a meter says. */
export interface StatedAccuracy {
  /** On every range that has no line of its own; null when not known. */
  readonly accuracy: Accuracy | null;
  readonly ranges?: readonly RangeAccuracy[];
  /** Largest number that the display shows, e.g. 6000; null or missing when not known. */
  readonly displayCounts?: number | null;
}

/** What tells the range: the value, and that of one count (null when not known), SI. */
export interface ShownValue {
  readonly quantity: Quantity;
  readonly coupling: Coupling;
  readonly value: number;
  readonly count: number | null;
}

/** A range shows somewhat more than its name says: 6.1 V on the range of 6 V. */
const OVER_FULL_SCALE = 1.1;
/** Ranges are named a little above what the display shows: 2 V for 1.999 V. */
const NAMED_ABOVE = 0.95;

/**
 * The line of the range in use. One count of the reading tells the range when the display's counts are known: 10 mV is the range of 60 V
 * on 6000 counts, whatever the value. When they are not, the least accurate range that may have shown the value counts.
 * A line for the coupling goes before one for any; a reading that names no coupling is taken for DC, as meters name AC.
 * @returns null when nothing is known for this reading
 */
export function accuracyAt(stated: StatedAccuracy, shown: ShownValue): Accuracy | null {
  const lines = (stated.ranges ?? []).filter((line) => line.quantity === shown.quantity && fitsCoupling(line, shown.coupling));
  const ranged = lines.filter((line) => line.upTo !== null);
  const size = Math.abs(shown.value);
  const { count } = shown;
  const displayCounts = stated.displayCounts ?? null;
  const inUse = displayCounts === null || count === null ? []
    : ranged.filter((line) => size <= OVER_FULL_SCALE * (line.upTo as number) && isNear(countOf(line.upTo as number, displayCounts), count));
  const possible = inUse.length > 0 ? inUse : ranged.filter((line) => size <= (line.upTo as number));
  return worst(preferred(possible), size, count ?? 0) ?? worst(preferred(lines.filter((line) => line.upTo === null)), size, count ?? 0) ?? stated.accuracy;
}

/** Value of one count on the range that ends at `upTo`: the power of ten with which the display reaches it. */
function countOf(upTo: number, displayCounts: number): number {
  return 10 ** Math.ceil(Math.log10((NAMED_ABOVE * upTo) / displayCounts));
}

function isNear(count: number, shown: number): boolean {
  return Math.abs(Math.log10(count / shown)) < 0.2;
}

function fitsCoupling({ coupling }: RangeAccuracy, shown: Coupling): boolean {
  return coupling === null || coupling === (shown === 'none' ? 'dc' : shown);
}

function preferred(lines: readonly RangeAccuracy[]): readonly RangeAccuracy[] {
  const own = lines.filter(({ coupling }) => coupling !== null);
  return own.length > 0 ? own : lines;
}

function worst(lines: readonly RangeAccuracy[], size: number, count: number): Accuracy | undefined {
  let found: RangeAccuracy | undefined;
  const bound = ({ fraction, counts }: Accuracy): number => fraction * size + counts * count;
  for (const line of lines) if (found === undefined || bound(line) > bound(found)) found = line;
  return found === undefined ? undefined : { fraction: found.fraction, counts: found.counts };
}
