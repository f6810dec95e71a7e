/**
 * What silence proves: how much a stretch without (or with few) dropouts says about the rate of dropouts, how much more of it a
 * claim needs, and whether a repair made a difference.
 *
 * `dropouts` is always the number of merged dropouts. `catchChance` is the chance that this meter shows one dropout of the
 * claimed length (visibility.ts); what was seen is then a thinned count, so that limits are divided by it.
 */
import { binomialCdf, binomialUpperLimit, poissonLowerLimit, poissonUpperLimit } from './distributions.ts';
import type { Claim } from './judgement.ts';

export const CLAIM_CONFIDENCE = 0.95;
/** The other side of it: a coincidence with less chance than this is called unlikely (common practice, no source). */
export const SIGNIFICANT = 0.05;

function checkExposure(exposure: number): void {
  if (!(exposure >= 0)) throw new RangeError(`an exposure is 0 or more, not ${exposure}`);
}

function checkCatchChance(catchChance: number): void {
  if (!(catchChance >= 0 && catchChance <= 1)) throw new RangeError(`a catch chance lies within 0..1, not ${catchChance}`);
}

/**
 * Highest rate of dropouts still believable: exact Poisson upper limit over exposure and catch chance.
 * @param dropouts  merged dropouts seen
 * @param exposure  clean watched time in the unit that the rate is wanted in: s, flexed s, h (gaps and frozen readings taken out)
 * @returns dropouts per unit of exposure; Infinity when nothing was watched or nothing could be caught
 * @throws {RangeError} for a negative exposure, a fractional count or a chance outside 0..1
 */
export function rateUpperLimit(dropouts: number, exposure: number, catchChance = 1, confidence = CLAIM_CONFIDENCE): number {
  checkExposure(exposure);
  checkCatchChance(catchChance);
  const seen = exposure * catchChance;
  return seen === 0 ? Infinity : poissonUpperLimit(dropouts, confidence) / seen;
}

/** Lowest rate of dropouts still believable; 0 when none was seen. Parameters as `rateUpperLimit`. */
export function rateLowerLimit(dropouts: number, exposure: number, catchChance = 1, confidence = CLAIM_CONFIDENCE): number {
  checkExposure(exposure);
  checkCatchChance(catchChance);
  if (dropouts === 0) return 0;
  const seen = exposure * catchChance;
  return seen === 0 ? 0 : poissonLowerLimit(dropouts, confidence) / seen;
}

/** As `rateUpperLimit`, for a watched time in s, per hour. 60 clean minutes: under 2.996 an hour. */
export function rateLimitPerHour(dropouts: number, watchedTime: number, catchChance = 1, confidence = CLAIM_CONFIDENCE): number {
  return rateUpperLimit(dropouts, watchedTime / 3600, catchChance, confidence);
}

/**
 * Highest chance of a dropout per flex still believable: 1 - 0.05^(1/n) after n clean flexes, else the exact binomial limit;
 * over the catch chance. 59 clean flexes: under 5 % per flex.
 * @param dropouts  flexes that showed a dropout; more dropouts than flexes say nothing and give 1
 * @returns 0..1; 1 when nothing is known
 */
export function perFlexUpperLimit(dropouts: number, flexes: number, catchChance = 1, confidence = CLAIM_CONFIDENCE): number {
  checkCatchChance(catchChance);
  if (catchChance === 0 || dropouts >= flexes) return 1;
  const seen = dropouts === 0 ? -Math.expm1(Math.log1p(-confidence) / flexes) : binomialUpperLimit(dropouts, flexes, confidence);
  return Math.min(1, seen / catchChance);
}

/** How far a take supports the claim asked of it. */
export interface ClaimStanding {
  readonly isMet: boolean;
  /** Highest rate still believable, in the claim's unit (per flex, per flexed second, per hour); null when nothing is known. */
  readonly limit: number | null;
  /** Exposure still needed without a further dropout, in the claim's unit (flexes, flexed seconds, hours); 0 when met, null when no amount will do. */
  readonly needed: number | null;
}

/**
 * How far a take supports `claim`, and how much more clean watching it needs.
 * @param dropouts  merged dropouts seen in the take
 * @param exposure  in the claim's unit: flexes, flexed s, or h
 * @param catchChance  chance of catching one dropout of `claim.length`
 * @throws {RangeError} for a rate that is not positive
 */
export function claimStanding(
  claim: Claim, dropouts: number, exposure: number, catchChance = 1, confidence = CLAIM_CONFIDENCE,
): ClaimStanding {
  if (!(claim.rate > 0)) throw new RangeError(`a claim's rate is above 0, not ${claim.rate}`);
  const limit = claim.per === 'flex'
    ? perFlexUpperLimit(dropouts, exposure, catchChance, confidence)
    : rateUpperLimit(dropouts, exposure, catchChance, confidence);
  const isMet = limit <= claim.rate;
  const total = isMet ? exposure : exposureNeeded(claim, dropouts, catchChance, confidence);
  return {
    isMet,
    limit: Number.isFinite(limit) ? limit : null,
    needed: total === null ? null : Math.max(0, total - exposure),
  };
}

/** Beyond any amount of flexing, and still exact as a double. */
const MOST_FLEXES = 1e12;

/** Whole exposure at which the claim is met with `dropouts` in it; null when no amount will do. */
export function exposureNeeded(claim: Claim, dropouts: number, catchChance = 1, confidence = CLAIM_CONFIDENCE): number | null {
  checkCatchChance(catchChance);
  if (catchChance === 0) return null;
  if (claim.per !== 'flex') return poissonUpperLimit(dropouts, confidence) / (claim.rate * catchChance);
  const seenRate = claim.rate * catchChance;
  if (seenRate >= 1) return dropouts + 1;
  let high = dropouts + 1;
  while (perFlexUpperLimit(dropouts, high, catchChance, confidence) > claim.rate) {
    high *= 2;
    // A chance of catching so small (1e-16) would need more flexes than a double can count.
    if (high > MOST_FLEXES) return null;
  }
  let low = Math.max(dropouts, Math.floor(high / 2));
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (perFlexUpperLimit(dropouts, middle, catchChance, confidence) > claim.rate) low = middle;
    else high = middle;
  }
  return high;
}

/** Dropouts and what they were counted over: seconds, flexes or hours, the same on both sides of a comparison. */
export interface Count {
  readonly dropouts: number;
  readonly exposure: number;
}

export interface Comparison {
  /** Chance of so few dropouts after the repair had it changed nothing: small means that the repair made a difference. */
  readonly p: number;
  /** Rate after over rate before, highest still believable; null when nothing bounds it. */
  readonly ratioLimit: number | null;
  /** Clean exposure still needed after the repair until p <= 1 - confidence; 0 when reached, null when there was no dropout before. */
  readonly needed: number | null;
}

/**
 * Before against after a repair: given all dropouts, how many fall after it is binomial in the share of exposure, when the
 * repair changed nothing (Przyborowski & Wilenski 1940). An equal chance of catching cancels.
 * 5 dropouts in 60 s, then 60 clean seconds: p = 0.031.
 * @throws {RangeError} unless both exposures are above 0
 */
export function compareBeforeAfter(before: Count, after: Count, confidence = CLAIM_CONFIDENCE): Comparison {
  if (!(before.exposure > 0 && after.exposure > 0)) throw new RangeError('a comparison needs an exposure above 0 before and after');
  const total = before.dropouts + after.dropouts;
  const share = after.exposure / (before.exposure + after.exposure);
  const p = binomialCdf(after.dropouts, total, share);
  const highShare = total === 0 ? 1 : binomialUpperLimit(after.dropouts, total, confidence);
  const ratioLimit = highShare === 1 ? null : ((highShare / (1 - highShare)) * before.exposure) / after.exposure;
  return { p, ratioLimit, needed: cleanExposureNeeded(before, after, p, confidence) };
}

function cleanExposureNeeded(before: Count, after: Count, p: number, confidence: number): number | null {
  if (before.dropouts === 0) return null;
  const size = 1 - confidence;
  if (p <= size) return 0;
  // p falls as the share rises: P(X <= k | n, share) = size at share = the upper limit at that confidence.
  const share = binomialUpperLimit(after.dropouts, before.dropouts + after.dropouts, confidence);
  return (share / (1 - share)) * before.exposure - after.exposure;
}
