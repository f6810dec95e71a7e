/**
 * The page that somebody else believes: what was wrong, what was measured where and with what, what was done, whether
 * that is proved. Only data; report-page.ts makes a page of it.
 */
import { UNITS } from '../../drivers/reading.ts';
import type { Accuracy } from '../diagnosis/judgement.ts';
import type { ChartSpan, Chart } from './chart.ts';
import { chanceWords, partWords } from './fault-words.ts';
import type { Located } from './locate-case.ts';
import { figure } from './path-words.ts';
import type { Proof, Repair } from './proof.ts';
import { checkWords } from './proof.ts';
import type { MeterRecord, SessionInfo, TakeSummary } from './session.ts';

/** A trace by columns: the smallest and largest value of each, so that no dropout is lost; NaN where there is no data or over-range. */
export interface ReportTrace {
  readonly take: number;
  readonly start: number;
  readonly end: number;
  readonly low: readonly number[];
  readonly high: readonly number[];
  /** Columns in which the meter was over-range. */
  readonly overRange: readonly boolean[];
}

/** What is known of a meter beyond its record. */
export interface MeterPapers {
  readonly meter: number;
  readonly serialNumber: string;
  /** Date of its last calibration, e.g. "2026-03-14"; empty when not known. */
  readonly calibrated: string;
}

export interface ReportInput {
  readonly info: SessionInfo;
  readonly meters: readonly MeterRecord[];
  readonly papers: readonly MeterPapers[];
  readonly takes: readonly TakeSummary[];
  readonly traces: readonly ReportTrace[];
  readonly chart: Chart | null;
  readonly located: Located | null;
  readonly repair: Repair | null;
  readonly proof: Proof;
  /** Cautions that were shown and acknowledged. */
  readonly cautions: readonly string[];
  /** Chain hash of the recording, and the version that wrote this. */
  readonly fileHash: string;
  readonly version: string;
  /** Local date and time of printing, in words. */
  readonly printedAt: string;
}

export interface ReportRow {
  readonly take: number;
  readonly check: string;
  readonly watching: string;
  readonly condition: string;
  readonly reading: string;
  readonly limits: string;
  readonly basis: string;
  readonly verdict: string;
  readonly reason: string;
  readonly meter: string;
  readonly dropouts: number;
  /** Shortest dropout that could have been seen. */
  readonly shortest: string;
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
  /** Traces of the takes that decided, with what to say under each. */
  readonly traces: readonly (ReportTrace & { readonly caption: string; readonly unit: string; readonly limits: { readonly low: number | null; readonly high: number | null }; readonly dropouts: readonly { readonly start: number; readonly end: number }[] })[];
  readonly finding: readonly string[];
  readonly repair: readonly string[];
  readonly proof: { readonly words: string; readonly rows: readonly (readonly [check: string, before: string, after: string, result: string])[] };
  readonly cautions: readonly string[];
  readonly footer: readonly string[];
}

export function reportOf(input: ReportInput): Report {
  const { info, takes, proof, repair, located, chart } = input;
  const best = located?.faults[0];
  const facts: [string, string][] = [
    ['Vehicle', info.vehicle], ['Complaint', info.complaint], ['Codes', (info.codes ?? []).join(', ')], ['Also known', info.facts ?? ''],
    ['Temperature', info.ambient === undefined || info.ambient === null ? '' : `${info.ambient} degC`], ['Recorded', new Date(info.startedAtUs / 1000).toISOString().replace('T', ' ').slice(0, 16).concat(' UTC')],
  ];
  const decisive = decisiveTakes(takes, proof);
  return {
    title: info.title === '' ? `Harness diagnosis ${info.id}` : info.title,
    headline: headlineOf(input),
    notice: input.meters.some((meter) => meter.simulated) ? 'SIMULATED METER: nothing here was measured on a real vehicle.' : '',
    facts: facts.filter(([, value]) => value !== ''),
    meters: input.meters.map((meter) => meterWords(meter, input.papers.find((own) => own.meter === meter.index))),
    rows: [...takes].sort((left, right) => left.start - right.start).map((take) => rowOf(take, input.meters)),
    traces: input.traces.filter((trace) => decisive.includes(trace.take)).flatMap((trace) => {
      const take = takes.find((own) => own.id === trace.take);
      return take === undefined ? [] : [{ ...trace, caption: `${checkWords(take.check)}: ${take.verdict}${take.judgement.dropouts.length > 0 ? `, ${take.judgement.dropouts.length} dropouts` : ''}`, unit: take.judgement.unit, limits: take.check.limits, dropouts: take.judgement.dropouts }];
    }),
    finding: best === undefined ? [] : [
      `${chanceWords(best.chance)}: ${best.words}`,
      ...(located?.faults.slice(1, 3).filter((fault) => fault.chance >= 0.01).map((fault) => `Otherwise ${chanceWords(fault.chance)}: ${fault.words}`) ?? []),
      ...(located?.contradictions.map((own) => own.words) ?? []),
    ],
    repair: repair === null ? [] : [`${repair.text}${repair.place === '' || chart === null ? '' : ` (at ${placeWords(chart, repair.place)})`}`, ...repair.photos.map((photo) => `Picture: ${photo}`)],
    proof: {
      words: proof.words,
      rows: proof.rows.map((row) => [checkWords(row.check), takeWords(row.before), row.after === null ? 'not repeated yet' : takeWords(row.after), [row.state === 'not-yet' ? 'not yet' : row.state, ...comparisonWords(row.comparison), ...row.missing].join('. ')]),
    },
    cautions: input.cautions,
    footer: [`Recording ${info.id}, hash ${input.fileHash}`, `Printed ${input.printedAt} by Loomtrace ${input.version}`],
  };
}

function headlineOf({ located, proof, repair, takes }: ReportInput): string {
  const best = located?.faults[0];
  const found = best === undefined || best.kind === 'none' ? null : `${best.brief} (${chanceWords(best.chance)})`;
  if (proof.state === 'proved') return `Repaired and proved. ${found === null ? (repair?.text ?? '') : `Found: ${found}.`}`.trim();
  if (proof.state === 'failed') return `Not repaired: the fault is still there.${found === null ? '' : ` Found: ${found}.`}`;
  if (repair !== null) return `Repaired, not yet proved.${found === null ? '' : ` Found: ${found}.`}`;
  if (found !== null && located?.isFound === true) return `Found: ${found}. Not repaired yet.`;
  const bad = takes.filter((take) => take.verdict === 'fail' || take.verdict === 'intermittent').length;
  return bad > 0 ? `${bad} of ${takes.length} takes failed or dropped out; the place is not found yet.` : takes.length === 0 ? 'Nothing was measured yet.' : `No fault shown in ${takes.length} takes.`;
}

/** Takes that the proof rests on; without a proof, those that failed. */
function decisiveTakes(takes: readonly TakeSummary[], proof: Proof): number[] {
  const ids = proof.rows.flatMap((row) => [row.before.id, ...(row.after === null ? [] : [row.after.id])]);
  return ids.length > 0 ? ids : takes.filter((take) => take.verdict === 'fail' || take.verdict === 'intermittent').map((take) => take.id).slice(0, 4);
}

function rowOf(take: TakeSummary, meters: readonly MeterRecord[]): ReportRow {
  const { judgement, check } = take;
  return {
    take: take.id, check: checkWords(check), watching: take.watching, condition: check.condition,
    reading: readingWords(take), limits: limitsWords(check.limits.low, check.limits.high, judgement.unit), basis: check.limitsBasis, verdict: take.verdict, reason: judgement.reasons[0] ?? '',
    meter: meters.find((meter) => meter.index === take.meter)?.label ?? '', dropouts: judgement.dropouts.length,
    shortest: judgement.shortestVisibleDropout === null ? '' : `${figure(judgement.shortestVisibleDropout * 1000)} ms`,
  };
}

function readingWords({ judgement }: TakeSummary): string {
  const last = judgement.steady[judgement.steady.length - 1];
  if (judgement.levelOverRange) return 'over-range';
  const value = last?.value ?? judgement.level;
  return value === null || value === undefined ? 'no steady reading' : `${figure(value)} ${judgement.unit}`;
}

function takeWords(take: TakeSummary): string {
  const dropouts = take.judgement.dropouts.length;
  return `${readingWords(take)}, ${dropouts === 0 ? 'no dropout' : dropouts === 1 ? '1 dropout' : `${dropouts} dropouts`} in ${figure(take.judgement.elapsed)} s (${take.watching}): ${take.verdict}`;
}

function comparisonWords(comparison: Proof['rows'][number]['comparison']): string[] {
  if (comparison === null) return [];
  const { before, after, per, p } = comparison;
  const unit = per === 'flex' ? 'flexes' : 's';
  return [`${before.dropouts} dropouts in ${figure(before.exposure)} ${unit} before, ${after.dropouts} in ${figure(after.exposure)} ${unit} after: p = ${p.toPrecision(2)}`];
}

function limitsWords(low: number | null, high: number | null, unit: string): string {
  if (low !== null && high !== null) return `${figure(low)} to ${figure(high)} ${unit}`;
  return low !== null ? `at least ${figure(low)} ${unit}` : high !== null ? `at most ${figure(high)} ${unit}` : 'none';
}

function meterWords(meter: MeterRecord, papers: MeterPapers | undefined): string {
  const accuracy = accuracyWords(meter);
  const parts = [meter.label, ...(papers?.serialNumber ? [`number ${papers.serialNumber}`] : []), accuracy, papers?.calibrated ? `calibrated ${papers.calibrated}` : 'calibration date not given', ...(meter.leadOhms === null ? [] : [`leads ${figure(meter.leadOhms)} ohm, taken off`]), ...(meter.simulated ? ['SIMULATED'] : [])];
  return parts.join(', ');
}

function accuracyWords({ accuracy, ranges = [] }: MeterRecord): string {
  const bound = ({ fraction, counts }: Accuracy): string => `+/-(${figure(fraction * 100)} % + ${figure(counts)} counts)`;
  const lines = ranges.map((line) => `${line.quantity}${line.coupling === null ? '' : ` ${line.coupling}`}${line.upTo === null ? '' : ` up to ${figure(line.upTo)} ${UNITS[line.quantity]}`} ${bound(line)}`);
  const elsewhere = accuracy === null ? [] : [`${lines.length === 0 ? '' : 'else '}${bound(accuracy)}${accuracy.isAssumed === true ? ' (assumed)' : ''}`];
  return lines.length + elsewhere.length === 0 ? 'accuracy not known' : [...lines, ...elsewhere].join('; ');
}

function placeWords(chart: Chart, place: string): string {
  return chart.spans.some((span: ChartSpan) => span.id === place) || chart.components.some((component) => component.id === place) ? partWords(chart, place) : place;
}
