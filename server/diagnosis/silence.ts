/** What a take without dropouts proves so far, and the shortest dropout that this meter sees. */
import type { Quantity } from '../../drivers/reading.ts';
import { claimStanding, rateLimitPerHour } from './claims.ts';
import type { ClaimStanding } from './claims.ts';
import { badDirection } from './check-traits.ts';
import type { ChanceRange } from './coarse-sight.ts';
import type { Claim, ClaimMade, Exposure, JudgeSetup } from './judgement.ts';
import { catchChance, shortestVisibleDropout, sureDropout } from './visibility.ts';
import type { MeterView } from './visibility.ts';
import { sayTime, tidy, tidyUp } from './wording.ts';

/** A meter whose aperture nobody knows may look for as little as a tenth of its interval (common practice, no source). */
const LOWEST_APERTURE = 0.1;
/** Where an open lifts the reading to the supply, and nobody said of which system it is: V (common practice, no source). */
export const USUAL_SUPPLY = 12;
/** Counts of a usual display: an open in ohms goes beyond all of them (common practice, no source). */
const USUAL_COUNTS = 4000;
/** Length of dropout that a claim is about when none is given, s: a flexed crimp opens for 20-150 ms (common practice, no source). */
export const CLAIMED_LENGTH = 0.1;

/** What a clean take must show when nobody says: 5 % per flex (59 flexes), 0.05 per flexed second (a minute), 6 an hour (half an hour). Common practice, no source. */
export const USUAL_RATE: Readonly<Record<Claim['per'], number>> = { flex: 0.05, second: 0.05, hour: 6 };

/** The claim of a way of watching: per hour on the road, per flex where they are counted, else per flexed second. */
export function defaultClaim(watching: 'wiggle' | 'road', flexesKnown: boolean): Claim {
  const per = watching === 'road' ? 'hour' : flexesKnown ? 'flex' : 'second';
  return { per, rate: USUAL_RATE[per], length: CLAIMED_LENGTH };
}

/** What the meter sees now. SI; the level is finite. */
export interface Watch {
  readonly setup: JudgeSetup;
  readonly quantity: Quantity;
  readonly interval: number;
  readonly level: number;
  readonly threshold: number;
  readonly noise: number;
  readonly count: number;
}

export interface Visibility { readonly shortest: number | null; readonly sure: number | null; readonly catchAt: (length: number) => number }

/** Change of the reading when the circuit opens fully, SI. */
export function fullDepth({ setup, quantity, level, count, threshold }: Pick<Watch, 'setup' | 'quantity' | 'level' | 'count' | 'threshold'>): number {
  const direction = badDirection(setup.kind, quantity, setup.limits, level);
  if (quantity === 'resistance') return Math.max(USUAL_COUNTS * count - level, 10 * threshold);
  if (direction === 'up' && setup.kind !== 'supply' && setup.kind !== 'switched-supply') return Math.max((setup.supply ?? USUAL_SUPPLY) - level, threshold);
  return Math.abs(level);
}

/** An open in ohms may read as far beyond the display as the voltage of the open meter is above that of its range (common practice, no source). */
const BEYOND_COUNTS = 100;
/** A 12 V system may have 9 to 16 V, a 24 V one 18 to 32 V (ISO 16750-2, code C and H; from memory). */
const SUPPLY_LEAST = 0.75;
const SUPPLY_MOST = 4 / 3;

/** The same as least and most, SI: where an open lifts the reading to the supply or beyond the display, how far is not known. */
export function fullDepthRange(watch: Pick<Watch, 'setup' | 'quantity' | 'level' | 'count' | 'threshold'>): { readonly least: number; readonly most: number } {
  const { setup, quantity, level, threshold } = watch;
  const depth = fullDepth(watch);
  if (quantity === 'resistance') return { least: depth, most: BEYOND_COUNTS * depth };
  if (badDirection(setup.kind, quantity, setup.limits, level) === 'up' && setup.kind !== 'supply' && setup.kind !== 'switched-supply') {
    const supply = setup.supply ?? USUAL_SUPPLY;
    return { least: Math.max(SUPPLY_LEAST * supply - level, threshold), most: Math.max(SUPPLY_MOST * supply - level, threshold) };
  }
  return { least: depth, most: depth };
}

/** Chances that differ by less are said as one. */
export const SHARP = 0.005;

/** Which way a full dropout moves the reading on the number line; where both ways are bad an open takes it to nothing. */
export function dropoutDirection({ kind, limits }: JudgeSetup, quantity: Quantity, level: number): -1 | 1 {
  const direction = badDirection(kind, quantity, limits, level);
  return direction === 'down' || (direction === 'both' && level >= 0) ? -1 : 1;
}

/** The aperture with which a meter catches least, s: its own when it is known. */
export function lowestAperture(aperture: number | null, interval: number): number { return Math.min(interval, aperture ?? LOWEST_APERTURE * interval); }

/** How the meter looks, by its aperture; null while there is nothing to tell it by. */
function viewAt(watch: Watch): ((aperture: number) => MeterView) | null {
  const depth = fullDepth(watch);
  if (!(watch.interval > 0 && watch.threshold > 0 && depth > 0)) return null;
  return (aperture) => ({
    interval: watch.interval, aperture: Math.min(aperture, watch.interval), threshold: watch.threshold, depth, noise: watch.noise, resolution: watch.count,
  });
}

/** The meter at the lowest aperture that it may have, which catches least. */
export function worstView(watch: Watch): MeterView | null {
  return viewAt(watch)?.(lowestAperture(watch.setup.aperture, watch.interval)) ?? null;
}

/** The dropouts that this meter may see and can't miss; with an unknown aperture the worst of the plausible ones. */
export function visibility(watch: Watch): Visibility | null {
  const longest = viewAt(watch)?.(watch.setup.aperture ?? watch.interval);
  const lowest = worstView(watch);
  if (longest === undefined || lowest === null) return null;
  const shortest = shortestVisibleDropout(longest);
  const sure = sureDropout(lowest);
  return { shortest, sure: sure === null || watch.setup.aperture !== null ? sure : Math.max(sure, sureDropout(longest) ?? 0), catchAt: (length) => catchChance(length, lowest) };
}

export interface Silence {
  readonly claim: Claim;
  readonly standing: ClaimStanding;
  readonly limitPerHour: number | null;
  readonly sentence: string;
  /** The same for every way of counting that there is a count for; the one that is asked for first. */
  readonly claims: readonly ClaimMade[];
}

/**
 * How far the take meets its claim.
 * @param watched  time with live readings, s @param exposure  null: the whole take counts as flexed
 * @param caught  chance that the take would have caught a dropout of a length, s: claims rest on the lowest that fits what was shown; null while nothing is known of what
 * the meter sees
 */
export function silence(setup: JudgeSetup, watched: number, dropouts: number, exposure: Exposure | null, caught: ((length: number) => ChanceRange) | null): Silence | null {
  if (setup.watching === 'spot') return null;
  const claim = setup.claim ?? defaultClaim(setup.watching, exposure !== null);
  // Without a view of the meter nothing can be said about what it would have caught.
  const { low: chance, high } = caught === null ? { low: 0, high: 0 } : caught(claim.length);
  const amount = { hour: watched / 3600, flex: exposure?.flexes ?? 0, second: Math.min(watched, exposure?.flexedTime ?? watched) };
  const make = (one: Claim): ClaimMade => {
    const { isMet, limit, needed } = claimStanding(one, dropouts, amount[one.per], chance);
    return { ...one, catchChance: chance, ...(high - chance > SHARP ? { catchChanceAtMost: high } : {}), exposure: amount[one.per], limit, needed, isMet };
  };
  const others = (setup.watching === 'road' ? [] : ['flex', 'second'] as const).filter((per) => per !== 'flex' || amount.flex > 0);
  const claims = [claim, ...[...others, 'hour' as const].filter((per) => per !== claim.per).map((per): Claim => ({ per, rate: USUAL_RATE[per], length: claim.length }))];
  const standing = claimStanding(claim, dropouts, amount[claim.per], chance);
  const limit = rateLimitPerHour(dropouts, watched, chance);
  return {
    claim, standing, limitPerHour: Number.isFinite(limit) ? limit : null, sentence: sayClaim(claim, standing, amount[claim.per], caught === null ? null : chance), claims: claims.map(make),
  };
}

function sayClaim(claim: Claim, standing: ClaimStanding, done: number, chance: number | null): string {
  const unit = { flex: ['flex', 'flexes'], second: ['flexed second', 'flexed seconds'], hour: ['hour', 'hours'] }[claim.per] as [string, string];
  const amount = claim.per === 'hour' ? sayTime(done * 3600) : `${tidy(done)} ${done === 1 ? unit[0] : unit[1]}`;
  if (standing.isMet) return `No dropout in ${amount}: fewer than ${tidyUp(standing.limit as number)} per ${unit[0]} of ${sayTime(claim.length)} or longer, at 95 % confidence.`;
  if (chance === null) return `No dropout in ${amount} so far, but what this meter would have caught is not known yet.`;
  if (standing.needed === null) return `No dropout so far, but this meter can't see dropouts of ${sayTime(claim.length)}${chance === 0 ? '' : ' often enough'}.`;
  const more = claim.per === 'hour' ? `${sayTime(standing.needed * 3600)} more` : `${Math.ceil(standing.needed)} more ${Math.ceil(standing.needed) === 1 ? unit[0] : unit[1]}`;
  return `No dropout in ${amount} so far; needs ${more} without one.`;
}
