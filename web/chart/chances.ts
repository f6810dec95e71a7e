/** The chance of a fault at each part of the chart, and in what step it is drawn. Pure. */
import type { Located } from '../../server/session/located.ts';

/** Steps that a drawing can show by width and pattern; `found`: open the harness there. */
export const CHANCE_BANDS = ['found', 'likely', 'possible', 'little'] as const;
export type ChanceBand = (typeof CHANCE_BANDS)[number];

/** Chance from which a step begins. */
export const BAND_FROM: Readonly<Record<Exclude<ChanceBand, 'found'>, number>> = { likely: 0.4, possible: 0.1, little: 0.01 };

/** Chance at each part, all kinds of fault together; a short between two counts at both. Of two faults at once, both have theirs. */
export function chanceByPart({ faults, double }: Pick<Located, 'faults' | 'double'>): ReadonlyMap<string, number> {
  const chances = new Map<string, number>();
  const add = (part: string | undefined, chance: number): void => {
    if (part !== undefined && part !== '') chances.set(part, (chances.get(part) ?? 0) + chance);
  };
  for (const { at, other, chance } of double?.faults ?? faults) {
    add(at, chance);
    add(other, chance);
  }
  return chances;
}

/** @returns null where there is next to no chance */
export function bandOf(chance: number, isFound: boolean): ChanceBand | null {
  if (isFound && chance > 0.5) return 'found';
  return chance >= BAND_FROM.likely ? 'likely' : chance >= BAND_FROM.possible ? 'possible' : chance >= BAND_FROM.little ? 'little' : null;
}
