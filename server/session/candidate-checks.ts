/** From what the search would measure next to a check that can be chosen: the offered one where it is the same, else one made for it. */
import { half, wholePoint } from '../diagnosis/circuit/index.ts';
import type { Watching } from '../diagnosis/judgement.ts';
import type { Candidate } from '../diagnosis/locate/index.ts';
import { isSamePlace } from '../diagnosis/locate/index.ts';
import type { Chart } from './chart.ts';
import type { CheckBench } from './check-bench.ts';
import { VOLTS, explainWay } from './check-bench.ts';
import { isSpan, stretches, wayBetween } from './chart-paths.ts';
import { PRACTICE, round } from './limits.ts';
import { voltsWords } from './path-words.ts';
import type { Check } from './session.ts';

/** A check, and how it is to be watched. */
export interface NextTake {
  readonly check: Check;
  readonly watching: Watching;
  /** Zone to be flexed, as the wiggle take names it; null for the whole harness, or in a spot take. */
  readonly zone: string | null;
}

/** @param offered  checks of the circuit, so that the same measurement keeps its name and limits */
export function nextTakeOf(bench: CheckBench, candidate: Candidate, offered: readonly Check[]): NextTake {
  const { probe, flexing } = candidate;
  const same = offered.find((check) => check.arrangement !== undefined && (check.quantity === 'voltage' || check.quantity === 'resistance')
    && isSamePlace(probe, { id: check.id, red: check.red, black: check.black, quantity: check.quantity, arrangement: check.arrangement, ...(check.lamp === true ? { lamp: true } : {}) }));
  const [part] = flexing?.parts ?? [];
  const span = bench.chart.spans.find((own) => own.id === part);
  return {
    check: same ?? (probe.quantity === 'voltage' ? voltsCheck(bench, candidate) : insulationCheck(bench, candidate)),
    watching: flexing === undefined ? 'spot' : 'wiggle',
    zone: part === undefined ? null : span === undefined || span.route === '' ? part : span.route,
  };
}

/** Volts of a point as found, against the battery's negative post; or the drop over one part. */
function voltsCheck(bench: CheckBench, { probe }: Candidate): Check {
  const { chart, battery, times, working } = bench;
  const common = { id: probe.id, red: probe.red, black: probe.black, condition: working, arrangement: probe.arrangement, instructions: [VOLTS, 'Everything stays plugged in and on: without current there is no drop to see.'] };
  const way = wayBetween(chart, probe.red, probe.black);
  const why = way === null ? 'as the circuit divides the battery' : explainWay(bench, way, probe.red, probe.black);
  const healthy = Math.abs(bench.volts(probe.red, probe.black));
  if (probe.black !== battery.to) {
    const isWire = way?.every(isSpan) !== false;
    const cap = (isWire ? PRACTICE.wire : PRACTICE.contact) * times;
    const high = round(Math.min(healthy + PRACTICE.joint, cap), 3);
    return bench.check({ ...common, kind: 'voltage-drop', limits: { low: null, high }, basis: `${why}; allowed ${voltsWords(high)} (common practice: model plus ${PRACTICE.joint} V, at most ${cap} V)`, why });
  }
  const isGrounded = stretches(chart).some((stretch) => stretch.includes(battery.to) && stretch.includes(probe.red));
  if (isGrounded) {
    const cap = PRACTICE.groundWhole * times;
    const high = round(Math.min(healthy + PRACTICE.groundAboveModel, cap), 2);
    return bench.check({ ...common, kind: 'ground', limits: { low: null, high }, basis: `${why}; allowed ${voltsWords(high)} (common practice: model plus ${PRACTICE.groundAboveModel} V, at most ${cap} V)`, why });
  }
  const supply = wayBetween(chart, battery.from, probe.red) ?? [];
  const fed = explainWay(bench, supply, battery.from, probe.red);
  return bench.check({
    ...common, kind: 'supply', limits: { low: round(battery.volts - PRACTICE.supplyDrop * times, 2), high: null },
    basis: `${fed}; common practice allows ${PRACTICE.supplyDrop * times} V below the battery now (${voltsWords(battery.volts)})`, why: fed,
  });
}

/** One stretch, or one half of it, against ground or supply: over-range when sound. */
function insulationCheck(bench: CheckBench, { probe }: Candidate): Check {
  const dead = bench.dead('fuse', 'contact');
  const apart = probe.arrangement.unplugged;
  const pulled = apart.length === 0 ? '' : `, ${apart.join(', ')} pulled apart`;
  return bench.check({
    id: probe.id, kind: probe.black === bench.battery.from ? 'short-to-supply' : 'short-to-ground', quantity: 'resistance', red: probe.red, black: probe.black,
    limits: { low: PRACTICE.insulation, high: null }, basis: 'common practice: at least 1 Mohm; 0.1 to 1 Mohm may be damp; over-range is the healthy reading',
    condition: `${dead.condition}${pulled}`, arrangement: probe.arrangement,
    instructions: [...dead.instructions, ...(apart.length === 0 ? [] : [`Pull ${apart.join(', ')} apart; the lead goes on ${nodeWords(bench, probe.red)}. Note the reseat when it goes together again.`])],
    why: 'sound insulation: over-range',
  });
}

/** A point, or one half of it: "C2/4 (the half towards S3)". */
export function nodeWords({ chart }: { readonly chart: Chart }, node: string): string {
  const point = wholePoint(node);
  if (point === node) return node;
  const isIn = node === half(point, 'in');
  const span = chart.spans.find((own) => (isIn ? own.to : own.from) === point);
  return span === undefined ? point : `${point} (the half towards ${isIn ? span.from : span.to})`;
}
