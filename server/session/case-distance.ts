/**
 * The place along a wire, from what was read at its ends: which readings it takes, their uncertainty with the meter at hand, the result in
 * words. The formulas are in diagnosis/distance.
 */
import { z } from 'zod';
import { partDeviations, USUAL_TOLERANCE } from '../diagnosis/locate/index.ts';
import type { Distance, Measured, PartialResistance } from '../diagnosis/distance/index.ts';
import { distanceByCurrent, distanceFromBothEnds, distanceWords, partialResistances } from '../diagnosis/distance/index.ts';
import { tidy } from '../diagnosis/wording.ts';
import type { Chart, ChartSpan } from './chart.ts';
import { circuitOf } from './chart-circuit.ts';
import type { ChartProblem } from './chart-validation.ts';
import { show } from './chart-validation.ts';
import { ohmsWords } from './path-words.ts';

/** A figure as a display showed it. */
export interface ShownFigure {
  /** SI. */
  readonly value: number;
  /** What the last digit of the display stands for, SI. */
  readonly count: number;
}

export type DistanceReadings =
  /** Short to ground: ohms to ground from each end of the span, and end to end; leads nulled, all in one range. */
  | { readonly method: 'both-ends'; readonly span: string; readonly fromFirst: ShownFigure; readonly fromSecond: ShownFigure; readonly endToEnd: ShownFigure | null }
  /** Short to ground: a limited current of about 1 A into the first end, volts to ground at both; and volts end to end with the same current through the whole wire. */
  | { readonly method: 'current'; readonly span: string; readonly amps: ShownFigure; readonly atFirst: ShownFigure; readonly atSecond: ShownFigure; readonly endToEndVolts: ShownFigure | null }
  /** Partial resistance: the drop along each span and the current that flows in them; drops left out: those that were read in the case. */
  | { readonly method: 'drops'; readonly amps: ShownFigure; readonly drops?: readonly SpanVolts[] };

export interface SpanVolts { readonly span: string; readonly volts: ShownFigure }

export interface DistanceFound {
  readonly method: DistanceReadings['method'];
  /** The span that it is in; null when no span has too much resistance. */
  readonly span: string | null;
  /** From the beginning of the span, m, with a range of two standard uncertainties; null by `drops`, which name the span only. */
  readonly place: Distance | null;
  /** By `drops`: each span, the worst first. */
  readonly excess: readonly PartialResistance[];
  /** "1.2 m +/- 0.9 m: with a 10 milliohm meter +/- 0.3 m, from C1/3 towards C2/1." */
  readonly words: string;
  /** Why it should not be trusted; empty when nothing speaks against it. */
  readonly doubts: readonly string[];
  /** How the uncertainty was reckoned. */
  readonly basis: string;
}

/** Finer than this a meter must be that is worth sending for, ohm. */
const FINER_COUNT = 0.01;
/** Of a current reading (common practice for hand-held meters and limited supplies, no source). */
const AMPS_FRACTION = 0.01;

const shown = z.object({ value: z.number().min(-1e6).max(1e9), count: z.number().gt(0).max(1e6) });
const id = z.string().max(200);
export const distanceShape = z.discriminatedUnion('method', [
  z.object({ method: z.literal('both-ends'), span: id, fromFirst: shown, fromSecond: shown, endToEnd: shown.nullable() }),
  z.object({ method: z.literal('current'), span: id, amps: shown, atFirst: shown, atSecond: shown, endToEndVolts: shown.nullable() }),
  z.object({ method: z.literal('drops'), amps: shown, drops: z.array(z.object({ span: id, volts: shown })).min(1).max(200).optional() }),
]);

/** What makes the readings unusable, with the path of each; empty when nothing does. */
export function distanceProblems(chart: Chart, readings: DistanceReadings): ChartProblem[] {
  const problems: ChartProblem[] = [];
  const say = (path: string, expected: string, got: unknown): void => void problems.push({ path: `distance.${path}`, expected, got: show(got) });
  const has = (span: string): boolean => chart.spans.some((own) => own.id === span);
  const above = (path: string, own: ShownFigure | null): void => {
    if (own !== null && !(own.value > 0)) say(path, 'a reading above 0', own.value);
  };
  if (readings.method === 'drops') {
    above('amps', readings.amps);
    readings.drops?.forEach(({ span }, order) => {
      if (!has(span)) say(`drops[${order}].span`, 'the id of a span', span);
    });
    return problems;
  }
  if (!has(readings.span)) say('span', 'the id of a span', readings.span);
  if (readings.method === 'both-ends') above('endToEnd', readings.endToEnd);
  else {
    above('amps', readings.amps);
    above('endToEndVolts', readings.endToEndVolts);
  }
  return problems;
}

/**
 * @param temperature  of the conductors, degC
 * @param read  drops read as found in the case
 * @throws {RangeError} for readings that `distanceProblems` objects to
 */
export function findDistance(chart: Chart, temperature: number, readings: DistanceReadings, read: readonly SpanVolts[] = []): DistanceFound {
  switch (readings.method) {
    case 'both-ends': return byOhms(chart, temperature, readings);
    case 'current': return byCurrent(chart, temperature, readings);
    case 'drops': return byDrops(chart, temperature, readings.amps, readings.drops ?? read);
  }
}

function byOhms(chart: Chart, temperature: number, { span: name, fromFirst, fromSecond, endToEnd }: Extract<DistanceReadings, { method: 'both-ends' }>): DistanceFound {
  const span = spanOf(chart, name);
  // One meter in one range with nulled leads: its gain and zero are the same in all three and cancel; what stays is the last digit.
  const at = (count: (own: ShownFigure) => number): Distance => {
    const read = (own: ShownFigure): Measured => ({ value: own.value, uncertainty: rounding(count(own)) });
    const whole = endToEnd === null ? charted(chart, span, temperature) : read(endToEnd);
    return distanceFromBothEnds({ length: span.length, endToEnd: whole, fromFirst: read(fromFirst), fromSecond: read(fromSecond) });
  };
  const place = at((own) => own.count);
  const isCoarse = Math.max(fromFirst.count, fromSecond.count, endToEnd?.count ?? 0) > FINER_COUNT;
  const finer = isCoarse ? { name: 'a 10 milliohm meter', distance: at((own) => Math.min(own.count, FINER_COUNT)) } : undefined;
  return {
    method: 'both-ends', span: name, place, excess: [], words: `${distanceWords(place, finer)}, from ${span.from} towards ${span.to}.`,
    doubts: [...place.doubts, ...(endToEnd === null ? [CHARTED] : [])],
    basis: 'Two standard uncertainties: the last digit of the display, taken as evenly spread (GUM F.2.2.1). One meter, one range, leads nulled: its other errors are the same in all readings and cancel.',
  };
}

function byCurrent(chart: Chart, temperature: number, { span: name, amps, atFirst, atSecond, endToEndVolts }: Extract<DistanceReadings, { method: 'current' }>): DistanceFound {
  const span = spanOf(chart, name);
  const read = (own: ShownFigure): Measured => ({ value: own.value, uncertainty: rounding(own.count) });
  const current = Math.hypot(AMPS_FRACTION * amps.value, rounding(amps.count));
  // With the same current through the whole wire its size cancels.
  const endToEnd = endToEndVolts === null ? charted(chart, span, temperature) : { value: endToEndVolts.value / amps.value, uncertainty: rounding(endToEndVolts.count) / amps.value };
  const place = distanceByCurrent({ length: span.length, endToEnd, current: { value: amps.value, uncertainty: endToEndVolts === null ? current : 0 }, atFirst: read(atFirst), atSecond: read(atSecond) });
  return {
    method: 'current', span: name, place, excess: [], words: `${distanceWords(place)}, from ${span.from} towards ${span.to}.`,
    doubts: [...place.doubts, ...(endToEndVolts === null ? [CHARTED] : [])],
    basis: `Two standard uncertainties: the last digit of each voltage, taken as evenly spread (GUM F.2.2.1)${endToEndVolts === null ? `, and ${tidy(100 * AMPS_FRACTION)} % of the current` : '; the current is the same in all readings and cancels'}.`,
  };
}

function byDrops(chart: Chart, temperature: number, amps: ShownFigure, drops: readonly SpanVolts[]): DistanceFound {
  const circuit = circuitOf(chart, temperature);
  const deviations = partDeviations(circuit, USUAL_TOLERANCE);
  const current = { value: amps.value, uncertainty: Math.hypot(AMPS_FRACTION * amps.value, rounding(amps.count)) };
  const excess = partialResistances(drops.map(({ span, volts }) => {
    const order = circuit.parts.findIndex((part) => part.id === span);
    return {
      at: span, current, drop: { value: Math.abs(volts.value), uncertainty: rounding(volts.count) },
      healthy: { value: circuit.parts[order]?.ohms ?? 0, uncertainty: deviations[order] ?? 0 },
    };
  }));
  const [worst] = excess;
  const isFound = worst?.isBad === true;
  return {
    method: 'drops', span: isFound ? worst.at : null, place: null, excess, doubts: [],
    words: isFound ? `${worst.at} has ${ohmsWords(worst.excess)} too much (+/- ${ohmsWords(2 * worst.uncertainty)}). Where along it, a reading inside the span must tell: look at its joints first.` : drops.length === 0 ? 'Read the drop along a span first, everything on: the check "Voltage drop" from its one end to the other.' : 'No span read so far has more resistance than it should.',
    basis: `Two standard uncertainties: last digits, ${tidy(100 * AMPS_FRACTION)} % of the current, and wires as charted within ${tidy(100 * USUAL_TOLERANCE.wire)} % (common practice, no source).`,
  };
}

const CHARTED = 'the resistance of a metre is that of the chart, not measured: measure the wire from end to end';

/** The wire as charted, with how far wires are from their charts. */
function charted(chart: Chart, span: ChartSpan, temperature: number): Measured {
  const circuit = circuitOf(chart, temperature);
  const order = circuit.parts.findIndex((part) => part.id === span.id);
  return { value: circuit.parts[order]?.ohms ?? 0, uncertainty: partDeviations(circuit, USUAL_TOLERANCE)[order] ?? 0 };
}

function rounding(count: number): number {
  return count / Math.sqrt(12);
}

function spanOf(chart: Chart, name: string): ChartSpan {
  const span = chart.spans.find((own) => own.id === name);
  if (span === undefined) throw new RangeError(`no span "${name}"`);
  return span;
}
