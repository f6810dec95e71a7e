/**
 * A road take afterwards: its dropouts by mark, by motion and by time since the start, with what each proves. Pure; the statistics are
 * those of diagnosis/road.ts and diagnosis/claims.ts.
 */
import { rateLowerLimit, rateUpperLimit } from '../diagnosis/claims.ts';
import type { Gap, Judgement } from '../diagnosis/judgement.ts';
import { SIGNIFICANT } from '../diagnosis/claims.ts';
import { normalCdf } from '../diagnosis/normal.ts';
import { associateMarks, associateMotion, FEWEST_CLUSTERS, ROAD_DEFAULTS } from '../diagnosis/road.ts';
import type { Association, MarkAssociation, Motion } from '../diagnosis/road.ts';
import { sayCount, sayTime, tidyBeside } from '../diagnosis/wording.ts';
import type { MarkRecord } from './session.ts';

export interface RoadStretch {
  /** Session clock, s. */
  readonly start: number;
  readonly end: number;
  /** Without gaps, s. */
  readonly watched: number;
  readonly dropouts: number;
  /** Dropouts an hour, with exact limits that hold for all stretches together at 95 %; null where nothing was watched. */
  readonly rate: { readonly estimate: number; readonly low: number; readonly high: number } | null;
}

export interface RoadReport {
  readonly dropouts: number;
  readonly watched: number;
  readonly byMark: readonly MarkAssociation[];
  /** Null without motion. */
  readonly byMotion: Association | null;
  readonly sinceStart: {
    readonly stretches: readonly RoadStretch[];
    /** Chance of such a drift towards the beginning or the end by coincidence; null (withheld) below five clusters of dropouts. */
    readonly p: number | null;
    /** Share of the watched time at which the dropouts lie on average: 0.5 when they are spread evenly; null without dropouts. */
    readonly middle: number | null;
  };
  /** What it comes to, in sentences. */
  readonly words: readonly string[];
}

/** Stretches into which a take is cut to see a warm-up, and the shortest of them, s (common practice, no source). */
const STRETCHES = 6;
const SHORTEST = 60;

/**
 * @param start  of the take, s
 * @param end  of the take, s
 * @param motion  null when none was measured
 * @throws {RangeError} unless the take is longer than 0 s
 */
export function roadReport(
  take: { readonly start: number; readonly end: number }, { dropouts, gaps }: Pick<Judgement, 'dropouts' | 'gaps'>, marks: readonly MarkRecord[], motion: Motion | null,
): RoadReport {
  if (!(take.end > take.start)) throw new RangeError(`a take is longer than 0 s, not from ${take.start} to ${take.end}`);
  const starts = dropouts.map((dropout) => dropout.start);
  const watched = watchedTime(take.start, take.end, gaps);
  const noted = marks.filter(({ kind }) => kind === undefined || kind === 'mark');
  const byMark = associateMarks(starts, noted, take);
  const byMotion = motion === null || motion.time.length === 0 ? null : associateMotion(starts, motion, take);
  const sinceStart = { stretches: stretchesOf(take, starts, gaps), ...drift(take, starts, gaps, watched) };
  return { dropouts: starts.length, watched, byMark, byMotion, sinceStart, words: say(starts, watched, byMark, byMotion, sinceStart) };
}

function watchedTime(from: number, to: number, gaps: readonly Gap[]): number {
  return Math.max(0, to - from - gaps.reduce((sum, gap) => sum + Math.max(0, Math.min(to, gap.end) - Math.max(from, gap.start)), 0));
}

function stretchesOf({ start, end }: { start: number; end: number }, dropouts: readonly number[], gaps: readonly Gap[]): RoadStretch[] {
  const count = Math.max(1, Math.min(STRETCHES, Math.floor((end - start) / SHORTEST)));
  const length = (end - start) / count;
  // Two limits for each stretch, all of them at once right with 95 %.
  const confidence = 1 - 0.025 / count;
  return Array.from({ length: count }, (_, k) => {
    const from = start + k * length;
    const to = k === count - 1 ? end : from + length;
    const inside = dropouts.filter((at) => at >= from && (at < to || k === count - 1)).length;
    const hours = watchedTime(from, to, gaps) / 3600;
    return {
      start: from, end: to, watched: hours * 3600, dropouts: inside,
      rate: hours === 0 ? null : { estimate: inside / hours, low: rateLowerLimit(inside, hours, 1, confidence), high: rateUpperLimit(inside, hours, 1, confidence) },
    };
  });
}

/**
 * Do the dropouts drift towards the beginning or the end of the watched time? Laplace's test of trend (Cox & Lewis, The Statistical Analysis of Series of
 * Events, 1966, section 3.3): were the rate steady, the mean place of n clusters would be 1/2 with variance 1/(12 n).
 */
function drift(take: { start: number; end: number }, dropouts: readonly number[], gaps: readonly Gap[], watched: number): { p: number | null; middle: number | null } {
  const clusters = separate(dropouts);
  const n = clusters.length;
  if (n === 0 || watched === 0) return { p: null, middle: null };
  const middle = clusters.reduce((sum, at) => sum + watchedTime(take.start, at, gaps) / watched, 0) / n;
  return { middle, p: n < FEWEST_CLUSTERS ? null : 2 * normalCdf(-Math.abs(middle - 0.5) * Math.sqrt(12 * n)) };
}

/** Those that follow another one closely tell nothing of their own. */
function separate(dropouts: readonly number[]): number[] {
  return dropouts.filter((at, k) => k === 0 || at - (dropouts[k - 1] as number) > ROAD_DEFAULTS.clusterGap);
}

function say(dropouts: readonly number[], watched: number, byMark: readonly MarkAssociation[], byMotion: Association | null, sinceStart: { p: number | null; middle: number | null }): string[] {
  if (dropouts.length === 0) return [`No dropout in ${sayTime(watched)} watched.`];
  const apart = separate(dropouts).length;
  const words = [`${sayCount(dropouts.length, 'dropout', 'dropouts')} in ${sayTime(watched)} watched${apart === dropouts.length ? '' : `, ${apart} of them separate (more than ${ROAD_DEFAULTS.clusterGap} s after the one before)`}.`];
  if (byMotion !== null && byMotion.p !== null) {
    words.push(byMotion.p <= SIGNIFICANT
      ? `They go with rough motion: ${byMotion.near} near it, ${byMotion.away} away (${sayChance(byMotion.p)}).`
      : `They do not go with motion as far as this take can tell: ${byMotion.near} near rough motion, ${byMotion.away} away (${sayChance(byMotion.p)}).`);
  }
  if (sinceStart.p !== null && sinceStart.middle !== null && sinceStart.p <= SIGNIFICANT) {
    words.push(`They come ${sinceStart.middle < 0.5 ? 'more at the beginning, as when something is cold' : 'more towards the end, as when something gets warm'} (${sayChance(sinceStart.p)}).`);
  }
  const withheld = byMark.some(({ correctedP }) => correctedP === null) || (byMotion !== null && byMotion.p === null) || sinceStart.p === null;
  if (withheld) words.push(`Fewer than ${FEWEST_CLUSTERS} separate dropouts can tell nothing of some of this: drive on for more.`);
  return words;
}

/** "chance of coincidence 0.4 %" */
function sayChance(p: number): string {
  return `chance of coincidence ${p < 0.001 ? 'under 0.1' : tidyBeside(100 * SIGNIFICANT, p * 100)} %`;
}
