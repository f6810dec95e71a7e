/** Recall, false alarms and dating per kind of stream, and the curves of recall against false alarms. */
import { stderr } from 'node:process';
import { Detector } from '../../../server/diagnosis/detector.ts';
import type { JudgeSetup, SampleColumns } from '../../../server/diagnosis/index.ts';
import { drawStream, Random, SimulatedStream, STREAM_KINDS } from '../../signals/index.ts';
import type { StreamKind, StreamParameters, TrueDropout } from '../../signals/index.ts';
import { aheadOfOurs, OURS, pointOf, pool, sayCurve } from './curves.ts';
import type { Ahead, Curves, Point } from './curves.ts';
import { alarmsOver, CUSUM_THRESHOLDS, cusumAlarms, WAYS } from './textbook.ts';
import { answers, countFalse, isAsked } from './truth.ts';
import type { Alarm } from './truth.ts';

const STREAMS = 14;
const VISIBILITY = [2, 3, 4, 5, 6, 8, 10, 14, 20];
/** False alarms an hour that our detector is set to, for its curve; the product uses 0.01. */
const BUDGETS = [1e-6, 1e-4, 1e-3, 0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100, 300, 1000, 3000, 10_000];
const PRODUCT_BUDGET = 0.01;

/** Parts of the whole run: of its streams, and of those on which the textbook ways are tried too (that takes fifty times as long). */
export interface Parts { readonly streams: number; readonly compared: number }

export interface KindResult {
  visible: number; found: number; missed: object[]; falseAlarmsBeside: number; cleanHours: number; cleanFalseAlarms: number; falseExamples: object[];
  startErrors: number[]; bins: { asked: number; found: number }[]; curves: Curves;
}

function setupOf(p: StreamParameters): JudgeSetup {
  return {
    kind: p.check, watching: 'wiggle', limits: { low: null, high: null }, interval: p.interval, aperture: p.aperture, accuracy: null, leadOhms: null,
    depth: null, shiftAfter: null, missingCondition: null, claim: null,
  };
}

interface Run { readonly alarms: Alarm[]; readonly thresholds: Map<TrueDropout, { threshold: number; noise: number }> }

/** Pushes a stream through the detector, and notes the threshold in force before each dropout. */
function run(stream: SimulatedStream, samples: SampleColumns, budget: number): Run {
  const detector = new Detector(setupOf(stream.parameters), budget);
  const thresholds: Run['thresholds'] = new Map();
  let at = 0;
  for (const truth of stream.dropouts) {
    if (truth.touched === 0) continue;
    let i = at;
    while (i < samples.length && (samples.time[i] as number) < truth.firstTouched - 1e-7) i++;
    detector.push(samples, at, i);
    at = i;
    thresholds.set(truth, { threshold: detector.threshold, noise: detector.noise.deviation });
  }
  detector.push(samples, at);
  // What is listed must pass the threshold learned by the end, too.
  for (const [truth, { threshold, noise }] of thresholds) thresholds.set(truth, { threshold: Math.max(threshold, detector.events.leastListed(truth.seen, noise)), noise });
  return { alarms: detector.dropouts().map(({ start, end }) => ({ start, end })), thresholds };
}

function score(point: Point, alarms: readonly Alarm[], asked: readonly TrueDropout[], stream: SimulatedStream, hours: number): void {
  for (const truth of asked) point.found.push(alarms.some((alarm) => answers(alarm, truth, stream)));
  point.falseAlarms += countFalse(alarms, stream);
  point.hours += hours;
}

/** @param random  of this kind, from `kindsOf` */
export function measureKind(kind: StreamKind, random: Random, parts: Parts): KindResult {
  const result: KindResult = {
    visible: 0, found: 0, missed: [], falseAlarmsBeside: 0, cleanHours: 0, cleanFalseAlarms: 0, falseExamples: [], startErrors: [],
    bins: VISIBILITY.map(() => ({ asked: 0, found: 0 })), curves: new Map(),
  };
  for (let k = 0; k < Math.max(2, STREAMS * parts.streams); k++) {
    const isClean = k % 2 === 1;
    const p = drawStream(kind, random, isClean);
    const stream = new SimulatedStream(p, random.integer(1, 2 ** 31));
    const most = isClean ? 2_500_000 : 700_000;
    const samples = stream.next(Math.ceil(Math.min(most, (isClean ? 4 * 3600 : 3600) / p.interval)));
    const hours = stream.clock / 3600;
    const { alarms, thresholds } = run(stream, samples, PRODUCT_BUDGET);
    if (isClean) {
      result.cleanHours += hours;
      result.cleanFalseAlarms += countFalse(alarms, stream);
      for (const alarm of alarms.slice(0, 2)) result.falseExamples.push({ alarm, interval: p.interval, noise: p.noise, shape: p.noiseShape, correlation: p.correlation, seed: stream.seed });
    } else scoreFound(result, stream, alarms, thresholds);
    if (k >= STREAMS * parts.compared) continue;

    const asked = stream.dropouts.filter((truth) => {
      const known = thresholds.get(truth);
      return known !== undefined && isAsked(truth, stream, known.noise) && (p.levelOverRange || Math.abs(truth.seen) >= 2 * known.noise);
    });
    for (const budget of BUDGETS) score(pointOf(result.curves, OURS, budget), budget === PRODUCT_BUDGET ? alarms : run(stream, samples, budget).alarms, asked, stream, hours);
    if (p.levelOverRange) continue;
    for (const way of WAYS) {
      const statistic = way.statistic(samples, p);
      for (const threshold of way.thresholds) score(pointOf(result.curves, way.name, threshold), alarmsOver(statistic, samples, p, threshold), asked, stream, hours);
    }
    for (const threshold of CUSUM_THRESHOLDS) score(pointOf(result.curves, 'tabular CUSUM', threshold), cusumAlarms(samples, p, threshold), asked, stream, hours);
  }
  return result;
}

function scoreFound(result: KindResult, stream: SimulatedStream, alarms: readonly Alarm[], thresholds: Run['thresholds']): void {
  const p = stream.parameters;
  result.falseAlarmsBeside += countFalse(alarms, stream);
  for (const truth of stream.dropouts) {
    const known = thresholds.get(truth);
    if (known === undefined || !isAsked(truth, stream, known.noise)) continue;
    const alarm = alarms.find((one) => answers(one, truth, stream));
    const size = Math.abs(truth.seen);
    const visibility = size / known.noise;
    for (let b = 0; b < VISIBILITY.length; b++) {
      const low = VISIBILITY[b] as number;
      const high = VISIBILITY[b + 1] ?? Infinity;
      const bin = result.bins[b] as { asked: number; found: number };
      if (visibility >= low && visibility < high) {
        bin.asked++;
        if (alarm !== undefined) bin.found++;
      }
    }
    if (!p.levelOverRange && !(size > known.threshold + 3 * known.noise)) continue;
    result.visible++;
    if (alarm === undefined) {
      if (result.missed.length < 5) result.missed.push({ seed: stream.seed, at: truth.start, length: truth.end - truth.start, seen: truth.seen, touched: truth.touched, ...known, interval: p.interval });
      continue;
    }
    result.found++;
    result.startErrors.push(Math.abs(alarm.start - truth.start) / p.interval);
  }
}

/** Each kind with its own random numbers, whichever kinds are run. */
export function kindsOf(seed: number): { readonly kind: StreamKind; readonly random: Random }[] {
  const root = new Random(seed);
  return STREAM_KINDS.map((kind) => ({ kind, random: root.fork() }));
}

export function measureDetection(seed: number, parts: Parts): object {
  return detectionOf(kindsOf(seed).map(({ kind, random }) => {
    const result = measureKind(kind, random, parts);
    stderr.write(`  ${kind}: ${result.found}/${result.visible} visible, ${result.cleanFalseAlarms} false in ${round(result.cleanHours)} clean hours, ${result.falseAlarmsBeside} beside\n`);
    return { kind, result };
  }));
}

export function detectionOf(results: readonly { readonly kind: StreamKind; readonly result: KindResult }[]): object {
  const kinds: Record<string, object> = {};
  const totals = { visible: 0, found: 0, cleanHours: 0, cleanFalseAlarms: 0, falseAlarmsBeside: 0 };
  const startErrors: number[] = [];
  const pooled: Curves = new Map();
  const ahead: Ahead[] = [];
  for (const { kind, result } of results) {
    for (const key of Object.keys(totals) as (keyof typeof totals)[]) totals[key] += result[key];
    startErrors.push(...result.startErrors);
    ahead.push(...aheadOfOurs(kind, result.curves));
    pool(pooled, result.curves);
    kinds[kind] = {
      visible: result.visible, found: result.found, missed: result.missed, falseAlarmsBeside: result.falseAlarmsBeside,
      cleanHours: round(result.cleanHours), cleanFalseAlarms: result.cleanFalseAlarms, falseExamples: result.falseExamples.slice(0, 3),
      startErrorMedianIntervals: round(median(result.startErrors)),
      recallByVisibility: Object.fromEntries(result.bins.map((bin, b) => [`${VISIBILITY[b]}+`, bin.asked === 0 ? null : `${bin.found}/${bin.asked}`])),
      curves: [...result.curves.values()].map(sayCurve),
    };
  }
  ahead.push(...aheadOfOurs('all kinds together', pooled));
  const compared = (results.length + 1) * (WAYS.reduce((n, way) => n + way.thresholds.length, 0) + CUSUM_THRESHOLDS.length);
  return {
    ...totals, recall: totals.found / totals.visible, falseAlarmsPerCleanHour: totals.cleanFalseAlarms / totals.cleanHours,
    startErrorMedianIntervals: round(median(startErrors)),
    ...(pooled.size > 0 ? {
      // Settings of the textbook ways, the same for every kind and fixed before the run: `thresholds` and `CUSUM_THRESHOLDS` of textbook.ts.
      textbookPoints: compared, dominated: ahead.filter(({ p }) => p < 0.05 / compared), aheadWithoutBeingSure: ahead.filter(({ p }) => p >= 0.05 / compared), pooled: [...pooled.values()].map(sayCurve),
    } : {}),
    kinds,
  };
}

function median(values: readonly number[]): number {
  return values.length === 0 ? Number.NaN : ([...values].sort((a, b) => a - b)[values.length >> 1] as number);
}
function round(value: number): number { return Number(value.toPrecision(4)); }
