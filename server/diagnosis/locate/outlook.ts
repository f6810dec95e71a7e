/** What a check would tell: which places each of its readings points to. The reason for making it. */
import type { Bench, Candidate } from './next-check.ts';
import { MOST_HYPOTHESES, outcomesOf } from './next-check.ts';
import type { Locator } from './locator.ts';
import { isSamePlace } from './probe.ts';
import type { Suspect } from './suspects.ts';
import { placeOf } from './suspects.ts';

/** One of the readings that a check may give. */
export interface Outlook {
  /** SI, from the lowest to the highest that is to be expected; Infinity for over-range. */
  readonly low: number;
  readonly high: number;
  /** The take is to show dropouts; null where it is a spot take. */
  readonly dropouts: boolean | null;
  /** Chance of reading this. */
  readonly chance: number;
  /** Places that it would point to, the likeliest first; empty for "nothing on this chart". */
  readonly places: readonly { readonly at: string; readonly chance: number }[];
}

/** What has less than this part of the chance of the likeliest in an outcome is not spoken of. */
const NEGLIGIBLE = 0.03;

/** Outcomes of a check that can be told apart, the likeliest first. Their chances add up to that of the hypotheses that take part. */
export function outlooks(locator: Locator, bench: Bench, candidate: Candidate): Outlook[] {
  const { probe, flexing } = candidate;
  const expected = locator.expectations([flexing === undefined ? probe : { ...probe, flexing }], MOST_HYPOTHESES);
  const outcomes = outcomesOf(expected.map((own) => own.at[0] as (typeof own.at)[number]), candidate, bench, locator.observations.some((own) => isSamePlace(own.probe, probe)));
  const byOutcome = new Map<number, { value: number; chance: number; place: string; dropouts: boolean | null }[]>();
  expected.forEach(({ suspect, chance, at }, order) => {
    const { value, dropouts } = at[0] as (typeof at)[number];
    const own = { value, chance, place: placeOf(locator.suspects[suspect] as Suspect), dropouts: flexing === undefined ? null : (dropouts ?? 0) >= 0.6 };
    const outcome = outcomes[order] as number;
    byOutcome.set(outcome, [...byOutcome.get(outcome) ?? [], own]);
  });
  return [...byOutcome.values()].map((own): Outlook => {
    const chance = own.reduce((sum, one) => sum + one.chance, 0);
    const most = Math.max(...own.map((one) => one.chance));
    const worthNaming = own.filter((one) => one.chance >= NEGLIGIBLE * most);
    const places = new Map<string, number>();
    for (const one of worthNaming) if (one.place !== '') places.set(one.place, (places.get(one.place) ?? 0) + one.chance);
    const values = worthNaming.map((one) => one.value);
    return {
      low: Math.min(...values), high: Math.max(...values), dropouts: own[0]?.dropouts ?? null, chance,
      places: [...places].map(([at, share]) => ({ at, chance: share })).sort((left, right) => right.chance - left.chance),
    };
  }).sort((left, right) => right.chance - left.chance);
}
