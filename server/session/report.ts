/**
 * The page that somebody else believes: what was wrong, what was measured where and with what, what was done, whether
 * that is proved. Only data; report-page.ts makes a page of it. Pure.
 */
import { UNITS } from '../../drivers/reading.ts';
import type { Quantity } from '../../drivers/reading.ts';
import { SIGNIFICANT } from '../diagnosis/claims.ts';
import { dropoutsIn } from '../diagnosis/judgement.ts';
import type { Accuracy, Judgement, Limits } from '../diagnosis/judgement.ts';
import { joinWords, sayLimit, sayValue, tidyBeside } from '../diagnosis/wording.ts';
import type { Chart } from './chart.ts';
import { quantityOf } from './check-function.ts';
import { chanceWords, partWords } from './fault-words.ts';
import type { Located } from './located.ts';
import { figure } from './path-words.ts';
import type { Proof } from './proof.ts';
import { checkWords, percent } from './proof.ts';
import type { Repair, RepairFile } from './repair.ts';
import type { Loss, MeterRecord, SessionInfo, TakeSummary } from './session.ts';
import { wallTimeUs } from './wall-time.ts';

/** A trace reduced for drawing, lowest and highest of each column kept at their own times, so that no dropout is lost. */
export interface ReportTrace {
  readonly take: number;
  /** Session clock, s, rising. */
  readonly time: ArrayLike<number>;
  /** SI; NaN where there is no data or the meter was over-range. */
  readonly value: ArrayLike<number>;
  readonly isOverRange: readonly boolean[];
}

export interface ReportPhoto {
  readonly id: string;
  /** JPEG. */
  readonly base64: string;
}

export interface ReportInput {
  readonly info: SessionInfo;
  /** Each as it was when a take was judged by it; one may occur in several states. */
  readonly meters: readonly MeterRecord[];
  /** Ended takes. */
  readonly takes: readonly TakeSummary[];
  readonly traces: readonly ReportTrace[];
  readonly chart: Chart | null;
  /** From the takes before the first repair; null when the chart can't tell. */
  readonly located: Located | null;
  readonly repair: RepairFile;
  /** One for each repair, in order. */
  readonly proofs: readonly Proof[];
  readonly photos: readonly ReportPhoto[];
  /** Connectors taken apart and put together. */
  readonly reseats: readonly { readonly at: number; readonly connector: string }[];
  /** Cautions that were shown and acknowledged. */
  readonly cautions: readonly string[];
  /** Readings that could not be saved. */
  readonly losses: readonly Loss[];
  /** Last chain hash, hexadecimal; null while nothing is sealed. */
  readonly hash: string | null;
  /** Description, chart, repairs, notes and other documents are covered by the hash too; not in recordings of an earlier version. */
  readonly areRecordsSealed: boolean;
  /** A take runs, or samples wait to be sealed: they are not in the page, or not covered by its hash. */
  readonly isGoingOn: boolean;
  readonly version: string;
  /** Date and time, in words. */
  readonly printedAt: string;
}

export interface ReportRow {
  readonly take: number;
  /** Date and time, UTC, in a session that was gone on with; else empty. */
  readonly when: string;
  readonly check: string;
  readonly watching: string;
  readonly condition: string;
  readonly reading: string;
  readonly limits: string;
  /** Number of its basis among `bases`, from 1; 0 for none. */
  readonly basis: number;
  readonly verdict: string;
  readonly reason: string;
  readonly meter: string;
  readonly dropouts: number;
  /** Shortest dropout that could have been seen. */
  readonly shortest: string;
  /** It failed, or it is the proof. */
  readonly decides: boolean;
}

/** A trace as it is drawn; those of one group share their scale of values, before and after. */
export interface ReportFigure extends ReportTrace {
  readonly group: number;
  readonly caption: string;
  /** Its dropouts one by one; empty when there is none. */
  readonly details: string;
  readonly unit: string;
  /** Session clock, s. */
  readonly start: number;
  readonly end: number;
  readonly limits: { readonly low: number | null; readonly high: number | null };
  readonly dropouts: readonly { readonly start: number; readonly end: number }[];
  readonly gaps: readonly { readonly start: number; readonly end: number }[];
}

export interface ReportRepair {
  readonly heading: string;
  readonly text: string;
  readonly photos: readonly ReportPhoto[];
  /** What came of it. */
  readonly outcome: string;
}

export interface Report {
  readonly title: string;
  /** One line for someone who reads nothing else. */
  readonly headline: string;
  /** What must not be overlooked; empty when nothing. */
  readonly notice: string;
  readonly facts: readonly (readonly [label: string, value: string])[];
  readonly meters: readonly string[];
  readonly rows: readonly ReportRow[];
  /** Where the limits come from, by the numbers in the rows. */
  readonly bases: readonly string[];
  /** Traces of the takes that decided, with what to say under each. */
  readonly figures: readonly ReportFigure[];
  readonly finding: readonly string[];
  readonly repairs: readonly ReportRepair[];
  readonly proof: { readonly words: string; readonly rows: readonly (readonly [check: string, before: string, after: string, result: string])[] };
  readonly cautions: readonly string[];
  readonly footer: readonly string[];
}

/** Dropouts listed of one take; the rest is counted. */
const LISTED_DROPOUTS = 6;
/** Traces drawn when there is no proof to choose them. */
const MOST_FIGURES = 4;

export function reportOf(input: ReportInput): Report {
  const { info, takes, chart } = input;
  const proof = input.proofs.at(-1) ?? null;
  const groups = decisiveTakes(takes, proof);
  const deciding = new Set([...takes.filter(isBad), ...provingTakes(proof).flat()]);
  const inOrder = [...takes].sort((left, right) => left.start - right.start);
  // Numbered in the order in which they are read: what decided comes first.
  const bases = [...new Set([...inOrder.filter((take) => deciding.has(take)), ...inOrder].map(({ check }) => check.limitsBasis).filter((basis) => basis !== ''))];
  const facts: [string, string][] = [
    ['Vehicle', info.vehicle], ['Complaint', info.complaint], ['Codes', (info.codes ?? []).join(', ')], ['Also known', info.facts ?? ''],
    ['Temperature', info.ambient === undefined || info.ambient === null ? '' : `${info.ambient} °C`], ['Recorded', `${dateWords(info.startedAtUs / 1000)} UTC`],
    ['Gone on with', (info.stretches ?? []).map(({ startedAtUs }) => `${dateWords(startedAtUs / 1000)} UTC`).join(', ')],
  ];
  return {
    title: info.title === '' ? 'Harness diagnosis' : info.title,
    headline: headlineOf(input, proof),
    notice: input.meters.some((meter) => meter.simulated) ? 'SIMULATED METER: nothing here was measured on a real vehicle.' : '',
    facts: facts.filter(([, value]) => value !== ''),
    meters: [...new Set(input.meters.map(meterWords))],
    rows: inOrder.map((take) => ({ ...rowOf(take, input, bases), decides: deciding.has(take) })),
    bases,
    figures: groups.flatMap((group, order) => group.flatMap((take) => figureOf(take, order, input.traces))),
    finding: findingOf(input),
    repairs: input.repair.repairs.map((repair, order) => repairOf(repair, input.proofs[order] ?? null, chart, input)),
    proof: {
      words: proof?.words ?? '',
      rows: proof === null ? [] : [
        ...proof.rows.map((row) => [checkWords(row.check), takeWords(row.before, info), row.after === null ? 'not repeated yet' : takeWords(row.after, info), resultOf(row)] as const),
        ...proof.aside.map(({ take, reason }) => [checkWords(take.check), takeWords(take, info), '', `Set aside: ${reason}`] as const),
      ],
    },
    cautions: input.cautions,
    footer: footerOf(input),
  };
}

function resultOf({ state, comparison, missing }: Proof['rows'][number]): string {
  return [state === 'not-yet' ? 'Not yet' : capital(state), ...comparisonWords(comparison), ...missing.map((sentence) => sentence.replace(/\.$/, ''))].join('. ');
}

function headlineOf({ located, repair, takes, chart }: ReportInput, proof: Proof | null): string {
  const best = located?.faults[0];
  // One taken over as it stood is said shortly: the line on top has no room for where the wire runs.
  const found = repair.finding !== '' && !isTakenOver(repair.finding, located) ? firstSentence(repair.finding) : best === undefined || best.kind === 'none' || located?.isFound !== true ? null : `${best.brief} (${chanceWords(best.chance)})`;
  const foundWords = found === null ? '' : ` Found: ${found.replace(/\.$/, '')}.`;
  const done = repair.repairs.at(-1);
  const doneWords = done === undefined || done.text === '' ? '' : ` Done: ${firstSentence(done.text).replace(/\.$/, '')}${done.place === '' ? '' : ` (${placeBrief(chart, done.place)})`}.`;
  switch (proof?.state) {
    case 'proved': return `Repaired and proved${asideWords(proof)}.${foundWords}${doneWords}`;
    case 'failed': return `Not in order: ${proof.rows.some((row) => row.state === 'failed') ? 'the fault is still there after the repair.' : 'a check fails since the repair that had not failed before.'}${foundWords}`;
    case 'not-yet':
    case 'none': return `Repaired, not yet proved${asideWords(proof)}.${foundWords}${doneWords}`;
    case undefined: {
      if (found !== null) return `${foundWords.trim()} Not repaired yet.`;
      const bad = takes.filter(isBad).length;
      return bad > 0 ? `${bad} of ${takes.length} takes failed or dropped out; the place is not found yet.` : takes.length === 0 ? 'Nothing was measured yet.' : `No fault shown in ${takes.length} ${takes.length === 1 ? 'take' : 'takes'}.`;
    }
  }
}

/** Whoever reads one line only must know of it. */
function asideWords({ aside }: Proof): string {
  return aside.length === 0 ? '' : `; ${aside.length === 1 ? 'one failing check is' : `${aside.length} failing checks are`} set aside`;
}

/** Whether the finding is what the readings still say, word for word. */
function isTakenOver(finding: string, located: ReportInput['located']): boolean {
  return located?.isFound === true && finding.trim() === located.faults[0]?.words;
}

function findingOf({ located, repair, reseats }: ReportInput): string[] {
  const best = located?.faults[0];
  const others = located?.faults.slice(1, 3).filter((fault) => fault.chance >= 0.01).map((fault) => `${fault.brief} (${chanceWords(fault.chance)})`) ?? [];
  const fromReadings = best === undefined || best.kind === 'none' ? [] : located?.isFound === true
    ? [`From the readings, ${chanceWords(best.chance)}: ${best.words}${others.length === 0 ? '' : ` Otherwise ${others.join(', ')}.`}`]
    : [`The readings alone do not single out a place. Likeliest: ${[`${best.brief} (${chanceWords(best.chance)})`, ...others].join(', ')}.`];
  const connectors = [...new Set(reseats.map(({ connector }) => connector))];
  return [...new Set([
    // Said once, with the chance.
    ...(repair.finding === '' || isTakenOver(repair.finding, located) ? [] : [repair.finding]), ...fromReadings, ...(located?.contradictions.map((own) => own.words) ?? []),
    ...(connectors.length === 0 ? [] : [`Taken apart and put together: ${joinWords(connectors)}. That alone may have cured a bad contact.`]),
  ])];
}

function repairOf({ number, at, text, place, photos }: Repair, proof: Proof | null, chart: Chart | null, { info, repair, photos: pictures }: ReportInput): ReportRepair {
  const when = dateWords(wallTimeUs(info, at) / 1000);
  const isLast = number === repair.repairs.length;
  return {
    heading: `${repair.repairs.length > 1 ? `Repair ${number}, ` : ''}${when} UTC${place === '' ? '' : `, at ${placeWords(chart, place)}`}`,
    text, photos: pictures.filter((picture) => photos.some(({ id }) => id === picture.id)), outcome: isLast ? '' : proof?.words ?? '',
  };
}

/** Before and after of each check of the proof; without a proof, the takes that failed. */
function decisiveTakes(takes: readonly TakeSummary[], proof: Proof | null): TakeSummary[][] {
  const groups = provingTakes(proof);
  const all = groups.length > 0 ? groups : takes.filter(isBad).slice(-MOST_FIGURES).map((take) => [take]);
  // A reading held by hand says all in its figure: its trace is drawn only where there is no other.
  const watched = all.filter((group) => group.some(({ watching }) => watching !== 'spot'));
  return watched.length > 0 ? watched : all;
}

function provingTakes(proof: Proof | null): TakeSummary[][] {
  return [...(proof?.rows ?? []).map((row) => [row.before, ...(row.after === null ? [] : [row.after])]), ...(proof?.fresh ?? []).map((take) => [take])];
}

function isBad({ verdict }: TakeSummary): boolean {
  return verdict === 'fail' || verdict === 'intermittent';
}

function figureOf(take: TakeSummary, group: number, traces: readonly ReportTrace[]): ReportFigure[] {
  const trace = traces.find((own) => own.take === take.id);
  if (trace === undefined) return [];
  const { judgement, check } = take;
  return [{
    ...trace, group, unit: judgement.unit, start: take.start, end: take.end ?? take.start + judgement.elapsed, limits: check.limits, dropouts: judgement.dropouts, gaps: judgement.gaps,
    caption: `Take ${take.id}, ${checkWords(check)} (${take.watching}): ${take.verdict}${dropoutsIn(judgement) > 0 ? `, ${dropoutWords(judgement)}` : ''}`,
    details: dropoutDetails(take),
  }];
}

/** "At 5.44 s by 8.48 V for 120 (110 to 130) ms; ..." */
function dropoutDetails({ start, judgement }: TakeSummary): string {
  const listed = judgement.dropouts.slice(0, LISTED_DROPOUTS).map((dropout) => {
    const depth = dropout.depth === null ? 'to over-range' : `by ${figure(Math.abs(dropout.depth))} ${judgement.unit}`;
    // One that the take begins in began before it.
    return `${figure(Math.max(0, dropout.start - start))} s ${depth}${lengthWords(dropout)}${dropout.count > 1 ? ` (${dropout.count} departures)` : ''}`;
  });
  const more = dropoutsIn(judgement) - listed.length;
  return listed.length === 0 ? '' : `At ${listed.join('; ')}${more > 0 ? `; and ${more} more` : ''}.`;
}

/** Its length with the 95 % interval, or its bounds where there is no best value; of one that chatters from the first contact lost to the last regained. */
function lengthWords({ duration: { estimate, low, high }, count }: Judgement['dropouts'][number]): string {
  const inAll = count > 1 ? ' in all' : '';
  if (high === null) return low === null ? '' : ` for at least ${msWords(low)}${inAll}`;
  if (low === null || low === 0) return ` for at most ${msWords(high)}${inAll}`;
  const range = msWords(low) === msWords(high) ? msWords(low) : `${msWords(low)} to ${msWords(high)}`;
  if (estimate === null) return ` for ${range}${inAll}`;
  return ` for ${msWords(estimate)}${range === msWords(estimate) ? '' : ` (${range})`}${inAll}`;
}

function rowOf(take: TakeSummary, { info, meters }: ReportInput, bases: readonly string[]): Omit<ReportRow, 'decides'> {
  const { judgement, check } = take;
  return {
    take: take.id, when: whenOf(take, info), check: checkWords(check), watching: take.watching, condition: check.condition,
    reading: readingWords(take), limits: limitsWords(check.limits, quantityOf(check)), basis: bases.indexOf(check.limitsBasis) + 1, verdict: take.verdict, reason: firstClause(judgement.reasons[0] ?? ''),
    meter: meters.find((meter) => meter.index === take.meter)?.label ?? '', dropouts: dropoutsIn(judgement),
    shortest: judgement.shortestVisibleDropout === null || take.watching === 'spot' ? '' : msWords(judgement.shortestVisibleDropout),
  };
}

function footerOf({ info, hash, areRecordsSealed, losses, isGoingOn, version, printedAt }: ReportInput): string[] {
  const open = isGoingOn ? ' Made while the session was open: what was measured later is not in it.' : '';
  return [
    ...losses.map(({ samples, from, to }) => `Not saved, as the disk was full, gone or too slow: ${samples} readings between ${from.toFixed(1)} and ${to.toFixed(1)} s of the session. The verdicts were made with them.`),
    `Recording ${info.id}. Last hash of its chain: ${hash ?? `none yet, nothing is sealed.${open}`}`,
    ...(hash === null ? [] : [
      'What the hash proves: whoever keeps this page can see whether anything in the recording was changed since, by "loomtrace verify FILE --hash HASH"; what was added or corrected within Loomtrace is named there. It does not prove who measured, or that the meter was right.',
      ...(areRecordsSealed ? [] : [`Recorded by an earlier version: of what is not a take, the hash covers only repairs that takes were made after.`]),
      ...(open === '' ? [] : [open.trim()]),
    ]),
    `Made ${printedAt} by Loomtrace ${version}. The vehicle maker's service information comes before anything said here.`,
  ];
}

function readingWords({ judgement }: TakeSummary): string {
  const last = judgement.steady[judgement.steady.length - 1];
  if (judgement.levelOverRange) return 'over-range';
  const value = last?.value ?? judgement.level;
  if (value === null) return 'no steady reading';
  return sayValue(value - (judgement.leadOhms ?? 0), judgement.quantity as Quantity, judgement.resolution);
}

function dropoutWords(judgement: Judgement): string {
  const dropouts = dropoutsIn(judgement);
  return dropouts === 0 ? 'no dropout' : dropouts === 1 ? '1 dropout' : `${dropouts} dropouts`;
}

function takeWords(take: TakeSummary, info: SessionInfo): string {
  const when = whenOf(take, info);
  return `Take ${take.id}${when === '' ? '' : ` (${when} UTC)`}: ${readingWords(take)}, ${dropoutWords(take.judgement)} in ${figure(take.judgement.elapsed)} s (${take.watching}): ${take.verdict}`;
}

/** What the statistics of a proof say; nothing where there was no dropout to compare. */
export function comparisonWords(comparison: Proof['rows'][number]['comparison']): string[] {
  if (comparison === null) return [];
  const { before, after, per, p } = comparison;
  const unit = per === 'flex' ? 'flexes' : 's';
  return [`${before.dropouts} ${before.dropouts === 1 ? 'dropout' : 'dropouts'} in ${figure(before.exposure)} ${unit} before, ${after.dropouts} in ${figure(after.exposure)} ${unit} after: had nothing changed, so few would have a chance of ${percent(p)} (p ${p < 1e-4 ? 'below 0.0001' : `= ${tidyBeside(SIGNIFICANT, p)}`})`];
}

function limitsWords({ low, high }: Limits, quantity: Quantity): string {
  if (low !== null && high !== null) return `${sayLimit(low, quantity)} to ${sayLimit(high, quantity)}`;
  return low !== null ? `at least ${sayLimit(low, quantity)}` : high !== null ? `at most ${sayLimit(high, quantity)}` : 'none';
}

function meterWords(meter: MeterRecord): string {
  const calibrated = meter.calibrated === undefined || meter.calibrated === '' ? 'calibration date not given' : `calibrated ${meter.calibrated}`;
  return [meter.label === '' ? `Meter ${meter.index + 1}` : meter.label, accuracyWords(meter), calibrated, ...(meter.leadOhms === null ? [] : [`leads ${figure(meter.leadOhms)} ohm, taken off`]), ...(meter.simulated ? ['SIMULATED'] : [])].join(', ');
}

function accuracyWords({ accuracy, ranges = [] }: MeterRecord): string {
  const bound = ({ fraction, counts }: Accuracy): string => `+/-(${figure(fraction * 100)} % + ${figure(counts)} counts)`;
  const lines = ranges.map((line) => `${line.quantity}${line.coupling === null ? '' : ` ${line.coupling}`}${line.upTo === null ? '' : ` up to ${figure(line.upTo)} ${UNITS[line.quantity]}`} ${bound(line)}`);
  const elsewhere = accuracy === null ? [] : [`${lines.length === 0 ? '' : 'else '}${bound(accuracy)}${accuracy.isAssumed === true ? ' (assumed)' : ''}`];
  return lines.length + elsewhere.length === 0 ? 'accuracy not known' : [...lines, ...elsewhere].join('; ');
}

/** Where a repair was done, in words. */
function placeWords(chart: Chart | null, place: string): string {
  return chart !== null && [...chart.spans, ...chart.components].some(({ id }) => id === place) ? partWords(chart, place) : place;
}

function placeBrief(chart: Chart | null, place: string): string {
  return chart?.components.find(({ id }) => id === place)?.name ?? place;
}

function msWords(seconds: number): string {
  return seconds < 1 ? `${figure(Number((seconds * 1000).toPrecision(2)))} ms` : `${figure(seconds)} s`;
}

/** Days or weeks may lie between two takes where the session was gone on with. */
function whenOf({ start }: TakeSummary, info: SessionInfo): string {
  return info.stretches === undefined ? '' : dateWords(wallTimeUs(info, start) / 1000);
}

function dateWords(milliseconds: number): string {
  return new Date(milliseconds).toISOString().replace('T', ' ').slice(0, 16);
}

function firstSentence(text: string): string {
  const sentence = /^.*?[.!?](?=\s|$)/s.exec(text)?.[0] ?? text;
  // Never within a word.
  return sentence.length > 160 ? `${sentence.slice(0, 157).replace(/[\s,;:(]+\S*$/, '')} ...` : sentence;
}

/** What follows a semicolon is for the screen, where there is room. */
function firstClause(text: string): string {
  const end = text.indexOf('; ');
  return end < 0 ? text : `${text.slice(0, end)}.`;
}

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1);
}
