/** A judgement as a summary to read. */
import type { Quantity } from '../../drivers/reading.ts';
import { sayMarkAssociation, sayShare, sayTime, sayTimes, sayValue } from '../diagnosis/index.ts';
import type { ClaimMade, Judgement } from '../diagnosis/index.ts';
import { dropoutsIn } from '../diagnosis/judgement.ts';
import type { BreakFinding } from '../diagnosis/judgement.ts';
import { FOUND_CHANCE } from '../diagnosis/break-words.ts';
import { sayCoincidence } from '../diagnosis/road-words.ts';
import { tidy, tidyDown, tidyUp } from '../diagnosis/wording.ts';
import { SOURCE_CHANCE } from '../diagnosis/zones.ts';
import type { RoadReport } from '../session/road-report.ts';
import type { MarksSaid } from './judge-output.ts';

const LISTED = 20;

/** @param origin  what times are said from, on the clock of the samples, s */
export function judgementAsText(j: Judgement, { zones, road }: MarksSaid = { zones: null, road: null }, origin = 0): string {
  const quantity = j.quantity as Quantity;
  const value = (v: number | null): string => (v === null ? 'over-range' : sayValue(v, quantity, j.resolution));
  const lines = [j.verdict.toUpperCase(), ...j.reasons.map((reason) => `  ${reason}`), ''];
  lines.push(`${j.samples} readings in ${sayTime(j.elapsed)}${j.interval === null ? '' : `, one every ${sayTime(j.interval)}`}.`);
  if (j.level !== null) lines.push(`Level ${value(j.level)}${j.leadOhms === undefined ? '' : `, ${value(j.level - j.leadOhms)} without the leads`}${j.noise === null ? '' : `, noise ${sayValue(j.noise, quantity, null)}`}${j.threshold === null ? '' : `, departures noticed from ${sayValue(j.threshold, quantity, null)}`}.`);
  if (j.dropouts.length > 0) lines.push('', 'Dropouts:');
  for (const d of j.dropouts.slice(0, LISTED)) {
    const { estimate, low, high } = d.duration;
    const length = estimate !== null && low !== null && high !== null ? `about ${sayTime(estimate)} (${sayTime(low)} to ${sayTime(high)})`
      : low !== null && low > 0 && high !== null ? `${sayTime(low)} to ${sayTime(high)} long` : high !== null ? `at most ${sayTime(high)} long` : '';
    lines.push(`  at ${(d.start - origin).toFixed(3)} s  ${d.overRange ? 'over-range' : `by ${value(Math.abs(d.depth ?? 0))}`}${d.count > 1 ? `, ${sayTimes(d.count)}` : ''}${length === '' ? '' : `, ${length}${d.count > 1 ? ' in all' : ''}`}`);
  }
  const more = dropoutsIn(j) - LISTED;
  if (more > 0) lines.push(`  and ${more} more`);
  for (const s of j.shifts) lines.push(`Level change at ${(s.at - origin).toFixed(3)} s: ${value(s.from)} to ${value(s.to)}.`);
  const wrong = j.doubt?.wrongChance ?? null;
  if (wrong !== null) lines.push(`Chance that the word on the level is wrong: ${wrong < 1e-4 ? 'under 0.01' : tidy(100 * wrong)} %.`);
  const claims = j.claims ?? [];
  if (claims.length > 0) lines.push('', `What it proves of breaks of ${sayTime(claims[0]!.length)} or longer, at 95 %:`, ...claims.map((claim) => `  ${sayClaimMade(claim)}`));
  if (j.sight) lines.push('', 'What this meter would have seen here:', ...saySight(j).map((line) => `  ${line}`));
  if (zones !== null) {
    lines.push('', 'Zones:', ...zones.zones.map(({ zone, flexedTime, dropouts, chance }) => `  ${zone}: ${dropouts} in ${sayTime(flexedTime)} flexed, ${sayShare(chance, SOURCE_CHANCE)} to be the source`));
    lines.push(`  in none of them: ${sayShare(zones.elsewhere)}`);
    if (zones.source !== null) lines.push(`  The source is in ${zones.source}.`);
    else if (zones.flexNext !== null) lines.push(`  Flex next: ${zones.flexNext}${zones.dropoutsNeeded === null ? '' : `; about ${zones.dropoutsNeeded} more dropouts to decide`}.`);
  }
  if (road !== null) lines.push('', 'Road:', ...sayRoad(road, origin).map((line) => `  ${line}`));
  if (j.several) lines.push('', 'Several meters:', ...saySeveral(j.several).map((line) => `  ${line}`));
  return `${lines.join('\n')}\n`;
}

/** "under 12 % per flex; needs 37 more flexes without one for under 5 %" */
function sayClaimMade({ per, rate, exposure, limit, needed, isMet }: ClaimMade): string {
  const amount = (n: number): string => (per === 'hour' ? sayTime(n * 3600) : `${per === 'flex' ? Math.ceil(n) : tidy(n)} ${per === 'flex' ? (n === 1 ? 'flex' : 'flexes') : 'flexed s'}`);
  const of = (r: number, say = tidy): string => (per === 'flex' ? `${say(100 * r)} % per flex` : `${say(r)} ${per === 'hour' ? 'an hour' : 'a flexed second'}`);
  const now = limit === null ? `nothing yet per ${per === 'second' ? 'flexed second' : per}` : `at most ${of(limit, tidyUp)}`;
  if (isMet) return `${now}, from ${amount(exposure)}: asked for is ${of(rate)}, met`;
  return `${now}, from ${amount(exposure)}: ${needed === null ? `${of(rate)} can't be shown with this meter` : `${of(rate)} needs ${amount(needed)} more without one`}`;
}

/** "41 %", or "12 % to 41 %" where a coarse display leaves it open. */
function sayCaught(chance: number, atMost?: number): string { return `${sayShare(chance)}${atMost === undefined ? '' : ` to ${sayShare(atMost)}`}`; }

function saySight({ sight, shortestVisibleDropout, sureDropout }: Judgement): string[] {
  if (!sight) return [];
  const ohms = (r: number): string => sayValue(r, 'resistance', null);
  const series = sight.visibleSeries;
  return [
    ...(shortestVisibleDropout === null || sureDropout === null ? [] : [`a full break of ${sayTime(shortestVisibleDropout)} may show, one of ${sayTime(sureDropout)} can't be missed`]),
    sight.caughtLength === null ? 'no break is caught with 95 %' : `one of ${sayTime(sight.caughtLength)} is caught with 95 %`,
    `chance of catching one: ${sight.catching.map(({ length, chance, atMost }) => `${sayTime(length)} ${sayCaught(chance, atMost)}`).join(', ')}`,
    ...(series === null ? [] : [
      series.withLoad !== null ? `smallest series resistance that shows: ${ohms(series.withLoad)}` : 'smallest series resistance that shows: not known, no load is stated',
      ...(series.meterAlone === null || series.meterAlone === series.withLoad ? [] : [`without a load only ${ohms(series.meterAlone)} or more shows`]),
    ]),
  ];
}

/** What the take comes to, then marks, motion and stretches one by one, the rates with limits that hold for all stretches together. */
function sayRoad({ words, byMark, byMotion, sinceStart: { stretches, p } }: RoadReport, origin: number): string[] {
  return [
    ...words,
    ...byMark.map(sayMarkAssociation),
    ...(byMotion === null ? ['No motion was recorded.'] : [
      `Motion: ${byMotion.near} began in ${sayTime(byMotion.nearTime)} of the roughest fifth, ${byMotion.away} in ${sayTime(byMotion.awayTime)} of the rest${sayP(byMotion.p)}`,
    ]),
    ...stretches.map(({ start, end, dropouts, rate }) =>
      `from ${sayTime(start - origin)} to ${sayTime(end - origin)}: ${dropouts}${rate === null ? ', nothing watched' : `, ${tidy(rate.estimate)} an hour (${tidyDown(rate.low)} to ${tidyUp(rate.high)})`}`),
    `drift from beginning to end${sayP(p)}`,
  ];
}

function sayP(p: number | null): string {
  return p === null ? ': too few dropouts to tell' : `, ${sayCoincidence(p)}`;
}

function saySeveral({ message, places }: BreakFinding): string[] {
  const where = places.slice(0, 5).map(({ place, chance }) =>
    `${sayShare(chance, FOUND_CHANCE)}: ${place.kind === 'between' ? `between ${place.from} and ${place.to}` : place.kind === 'source' ? 'the source' : `the leads of ${place.meter}`}`);
  return [message, ...where];
}
