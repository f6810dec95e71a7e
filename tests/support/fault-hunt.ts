/**
 * Searching hidden faults in random harnesses: the real circuit differs from its chart, the readings are
 * those of a hand-held meter. What is measured is whether the right place is named, how honest the chance
 * given for it is, and the minutes that it took.
 */
import type { Circuit, CircuitPart, Fault } from '../../server/diagnosis/circuit/index.ts';
import { AS_FOUND, blownFuses, solveCircuit } from '../../server/diagnosis/circuit/index.ts';
import type { Bench, Candidate, NextChecks, Standing, Suspect, Symptom } from '../../server/diagnosis/locate/index.ts';
import { FAULT_OHMS, FaultSolver, Locator, SURE, costOf, nextChecks, placeOf } from '../../server/diagnosis/locate/index.ts';
import { benchFor } from '../../server/session/candidates.ts';
import type { Chart } from '../../server/session/chart.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { HAND_HELD, countAt } from '../../server/session/meter-uncertainty.ts';
import { suspectsFor } from '../../server/session/suspects.ts';
import type { Random } from '../signals/random.ts';
import { randomChart } from './random-chart.ts';

/** A harness as it is, with what is wrong. */
export interface Case {
  readonly chart: Chart;
  readonly circuitId: string;
  readonly real: Circuit;
  readonly suspect: Suspect;
  /** At rest; null for a fault that only shows when flexed. */
  readonly fault: Fault | null;
  /** When flexed, and the chance of it in one flex. */
  readonly flexed: Fault | null;
  readonly flexChance: number;
  readonly symptoms: readonly Symptom[];
  readonly hasChartError: boolean;
}

const MOST_CHECKS = 25;
const WORKS_ABOVE = 0.8;

/** A random harness with one fault that somebody would complain about. */
export function randomCase(random: Random): Case {
  for (;;) {
    const chart = randomChart(random, { circuits: [1, 2], loads: [1, 3], parallelGround: 0.2 });
    const circuitId = 'circuit 0';
    const { real, hasChartError } = realCircuit(random, chart);
    // Priors are not known exactly either.
    const suspects = suspectsFor(chart, circuitId).filter((suspect) => suspect.kind !== 'none').map((suspect) => ({ suspect, weight: suspect.weight * Math.exp(0.5 * random.gauss()) }));
    for (let trial = 0; trial < 4; trial++) {
      const suspect = pickWeighted(random, suspects);
      const { fault, flexed } = faultOf(random, suspect);
      const symptoms = symptomsOf(real, chart, circuitId, fault, flexed);
      if (symptoms.every((symptom) => symptom.works)) continue;
      return { chart, circuitId, real, suspect, fault, flexed, flexChance: random.logBetween(0.05, 1), symptoms, hasChartError };
    }
  }
}

/** Spans +/-10 %, joints from half to double, loads +/-10 %, battery +/-1.5 %; in one harness of ten one span is not as charted. */
export function realCircuit(random: Random, chart: Chart): { real: Circuit; hasChartError: boolean } {
  const nominal = circuitOf(chart);
  const spans = nominal.parts.filter((part) => part.kind === 'span').map((part) => part.id);
  const wrong = random.chance(0.1) ? random.pick(spans) : null;
  const parts = nominal.parts.map((part): CircuitPart => {
    if (part.kind === 'battery') return { ...part, volts: (part.volts ?? 0) * random.between(0.985, 1.015), ohms: part.ohms * random.logBetween(0.5, 2) };
    if (part.kind === 'load') {
      const factor = random.between(0.9, 1.1);
      return { ...part, ohms: part.ohms * factor, ...(part.coldOhms === undefined ? {} : { coldOhms: part.coldOhms * factor }) };
    }
    if (part.kind !== 'span') return { ...part, ohms: part.ohms * random.logBetween(0.5, 2) };
    const [from, to] = [(part.fromJointOhms ?? 0) * random.logBetween(0.5, 2), (part.toJointOhms ?? 0) * random.logBetween(0.5, 2)];
    const wire = (part.ohms - (part.fromJointOhms ?? 0) - (part.toJointOhms ?? 0)) * random.between(0.9, 1.1) * (part.id === wrong ? random.pick([0.4, 0.6, 1.6, 2.5]) : 1);
    return { ...part, fromJointOhms: from, toJointOhms: to, ohms: from + wire + to };
  });
  return { real: { ...nominal, parts }, hasChartError: wrong !== null };
}

function faultOf(random: Random, suspect: Suspect): { fault: Fault | null; flexed: Fault | null } {
  const open: Fault = { kind: 'open', at: suspect.at };
  if (suspect.kind === 'none') throw new Error('nothing is no fault');
  if (suspect.kind === 'open') return suspect.intermittent === true ? { fault: null, flexed: open } : { fault: open, flexed: null };
  const [low, high] = FAULT_OHMS[suspect.kind];
  const ohms = random.logBetween(low, high);
  if (suspect.kind === 'high-resistance') return { fault: { kind: suspect.kind, at: suspect.at, ohms }, flexed: random.chance(0.5) ? open : null };
  const short = { kind: suspect.kind, at: suspect.at, ohms, position: random.uniform() };
  return { fault: suspect.other === undefined ? short : { ...short, other: suspect.other, otherPosition: random.uniform() }, flexed: null };
}

function symptomsOf(real: Circuit, chart: Chart, circuitId: string, fault: Fault | null, flexed: Fault | null): Symptom[] {
  const own = chart.circuits.find((circuit) => circuit.id === circuitId);
  const loads = real.parts.filter((part) => part.kind === 'load' && own?.parts.includes(part.id) === true);
  const sound = solveCircuit(real, AS_FOUND);
  const working = (faults: readonly Fault[]): boolean[] => {
    const solved = solveCircuit(real, { removed: blownFuses(real, faults), unplugged: [] }, faults);
    return loads.map((load) => Math.abs(solved.current(load.id)) > 0 && Math.abs(solved.openVoltage(load.from, load.to)) > WORKS_ABOVE * Math.abs(sound.openVoltage(load.from, load.to)) && !faults.some((one) => one.kind === 'open' && one.at === load.id));
  };
  const atRest = working(fault === null ? [] : [fault]);
  const whenFlexed = flexed === null ? atRest : working([flexed]);
  return loads.map((load, order) => ({ load: load.id, works: (atRest[order] as boolean) && (whenFlexed[order] as boolean) }));
}

/** What the meter shows: limit of error evenly spread, rounded to the count. */
function measure(random: Random, candidate: Candidate, { real, fault, flexed, flexChance }: Case): { value: number; dropouts: number } {
  const { probe, flexing } = candidate;
  const read = (faults: readonly Fault[]): number => {
    const removed = [...new Set([...probe.arrangement.removed, ...blownFuses(real, faults)])];
    const solved = solveCircuit(real, { ...probe.arrangement, removed }, faults);
    return probe.quantity === 'voltage' ? solved.volts(probe.red, probe.black) : solved.ohms(probe.red, probe.black);
  };
  const truth = read(fault === null ? [] : [fault]);
  const accuracy = probe.quantity === 'voltage' ? HAND_HELD.volts : HAND_HELD.ohms;
  const count = countAt(HAND_HELD, probe.quantity, truth);
  const value = Number.isFinite(truth) ? Math.round((truth + random.between(-1, 1) * (accuracy.fraction * Math.abs(truth) + accuracy.counts * count)) / count) * count : Infinity;
  let dropouts = 0;
  if (flexing !== undefined && flexed !== null && (flexing.parts === undefined || flexing.parts.includes(flexed.at))) {
    const open = read([flexed]);
    const shows = Number.isFinite(truth) !== Number.isFinite(open) || Math.abs(open - truth) > Math.max(5 * count, 0.05 * Math.abs(truth));
    if (shows) for (let flex = 0; flex < flexing.flexes; flex++) dropouts += random.chance(flexChance) ? 1 : 0;
  }
  if (flexing !== undefined && random.chance(0.005)) dropouts += 1;
  return { value, dropouts };
}

export type Strategy = (locator: Locator, bench: Bench, standing: Standing, done: ReadonlySet<string>) => NextChecks;

export const byPlan: Strategy = (locator, bench, standing) => nextChecks(locator, bench, standing, 600);

/** The check that halves the number of suspected places, whatever it costs. */
export const byHalves: Strategy = (locator, bench, standing, done) => {
  const isFound = (locator.places()[0]?.chance ?? 0) >= SURE;
  const probes = bench.candidates.map(({ probe, flexing }) => (flexing === undefined ? probe : { ...probe, flexing }));
  const expected = isFound ? [] : locator.expectations(probes, 80);
  let best: Candidate | null = null;
  let least = 0;
  bench.candidates.forEach((candidate, order) => {
    if (done.has(candidate.probe.id)) return;
    // Share of the chance on each side of the best cut of the expected readings.
    const values = expected.map((own) => ({ chance: own.chance, at: own.at[order] })).sort((a, b) => (a.at?.value ?? 0) - (b.at?.value ?? 0) || (a.at?.dropouts ?? 0) - (b.at?.dropouts ?? 0));
    let below = 0;
    for (let cut = 1; cut < values.length; cut++) {
      const [left, right] = [values[cut - 1], values[cut]];
      below += left?.chance ?? 0;
      const [a, b] = [left?.at, right?.at];
      if (a === undefined || b === undefined) continue;
      const apart = Number.isFinite(a.value) !== Number.isFinite(b.value) || Math.abs((b.value || 0) - (a.value || 0)) > 2 * (a.deviation + b.deviation) + 4 * bench.uncertainty(candidate.probe.quantity, a.value) || (b.dropouts ?? 0) - (a.dropouts ?? 0) > 0.5;
      const balance = Math.min(below, 1 - below);
      if (apart && balance > least) [least, best] = [balance, candidate];
    }
  });
  return resultOf(isFound, best, bench, standing);
};

/** Along the circuit from the battery on, part by part; then flexing part by part; then insulation. */
export const oneByOne: Strategy = (locator, bench, standing, done) => {
  const isFound = (locator.places()[0]?.chance ?? 0) >= SURE;
  const rank = (candidate: Candidate): number => ['drop', 'wiggle', 'insulation', 'ohms', 'volts'].findIndex((word) => candidate.probe.id.startsWith(word));
  const next = bench.candidates.filter((candidate) => !done.has(candidate.probe.id)).sort((left, right) => rank(left) - rank(right))[0] ?? null;
  return resultOf(isFound, isFound ? null : next, bench, standing);
};

function resultOf(isFound: boolean, candidate: Candidate | null, bench: Bench, standing: Standing): NextChecks {
  return { isFound, next: candidate === null ? [] : [{ candidate, minutes: costOf(candidate, bench, standing) }], expectedMinutes: 0, isOptimal: false };
}

export interface Hunt {
  readonly stopped: boolean;
  readonly checks: number;
  readonly minutes: number;
  readonly place: string;
  readonly chance: number;
  /** The very place. */
  readonly isExact: boolean;
  /** The place, or one that no check tells from it. */
  readonly isRight: boolean;
  /** After each reading: chance given to the leading place, and whether the fault is just there. */
  readonly steps: readonly { readonly chance: number; readonly isRight: boolean }[];
  readonly log: readonly string[];
}

export function hunt(random: Random, own: Case, strategy: Strategy = byPlan, most = MOST_CHECKS): Hunt {
  const bench = benchFor(own.chart, own.circuitId);
  const locator = new Locator({ circuit: circuitOf(own.chart), suspects: suspectsFor(own.chart, own.circuitId), symptoms: own.symptoms });
  const truth = placeOf(own.suspect);
  const alike = new Map<string, boolean>([[truth, true]]);
  const isRight = (place: string): boolean => {
    let known = alike.get(place);
    if (known === undefined) alike.set(place, known = !canBeToldApart(own, bench, place));
    return known;
  };
  let standing: Standing = { openPanels: [], state: 'as found' };
  let minutes = 0;
  const steps: { chance: number; isRight: boolean }[] = [];
  const log: string[] = [];
  const done = new Set<string>();
  let stopped = false;
  let checks = 0;
  for (; checks < most; checks++) {
    const { next } = strategy(locator, bench, standing, done);
    const first = next[0];
    if (first === undefined) {
      stopped = true;
      break;
    }
    const { candidate } = first;
    minutes += first.minutes;
    standing = { openPanels: [...new Set([...standing.openPanels, ...candidate.panels])], state: candidate.state };
    done.add(candidate.probe.id);
    const { value, dropouts } = measure(random, candidate, own);
    locator.observe({
      probe: candidate.probe, value, uncertainty: bench.uncertainty(candidate.probe.quantity, value), ...(candidate.flexing === undefined ? {} : { flexing: { ...candidate.flexing, dropouts } }),
    });
    const [top] = locator.places();
    log.push(`${candidate.probe.id}: ${value} ${dropouts} -> ${top?.at} ${top?.chance.toFixed(3)}`);
    steps.push({ chance: top?.chance ?? 0, isRight: top?.at === truth });
  }
  const [top] = locator.places();
  const place = top?.at ?? '';
  return { stopped, checks, minutes, place, chance: top?.chance ?? 0, isExact: place === truth, isRight: isRight(place), steps, log };
}

/**
 * Whether some check tells the fault as it is from every fault at another place: then that place is
 * wrong. Judged on the real circuit, with the meter's own uncertainty only.
 */
function canBeToldApart(own: Case, bench: Bench, place: string): boolean {
  const solver = new FaultSolver(own.real);
  const others = suspectsFor(own.chart, own.circuitId).filter((suspect) => placeOf(suspect) === place);
  if (own.flexed !== null) return true; // flexing one span at a time tells
  const truth = own.fault;
  const readings = (fault: Fault | null): number[] => {
    const blown = solver.blown(fault);
    return bench.candidates.filter((candidate) => candidate.flexing === undefined).map(({ probe }) => solver.solve({ ...probe.arrangement, removed: [...new Set([...probe.arrangement.removed, ...blown])] }, fault).reading(probe));
  };
  const spots = bench.candidates.filter((candidate) => candidate.flexing === undefined);
  const true_ = readings(truth);
  return others.every((suspect) => faultsLike(suspect, truth).every((other) => readings(other).some((value, order) => {
    const [a, b] = [true_[order] as number, value];
    if (!Number.isFinite(a) || !Number.isFinite(b)) return Number.isFinite(a) !== Number.isFinite(b);
    return Math.abs(a - b) > 3 * bench.uncertainty((spots[order] as Candidate).probe.quantity, a);
  })));
}

/** Faults of a suspect of about the size of another. */
function faultsLike(suspect: Suspect, like: Fault | null): (Fault | null)[] {
  if (suspect.kind === 'none' || (suspect.kind === 'open' && suspect.intermittent === true)) return [null];
  if (suspect.kind === 'open') return [{ kind: 'open', at: suspect.at }];
  const kind = suspect.kind;
  const [low, high] = FAULT_OHMS[kind];
  const sizes = [...Array.from({ length: 40 }, (_, order) => low * (high / low) ** (order / 39)), ...(like?.ohms === undefined ? [] : [0.9, 0.97, 1, 1.03, 1.1].map((factor) => factor * (like.ohms as number)))];
  return sizes.flatMap((ohms): Fault[] => (kind === 'high-resistance' ? [{ kind, at: suspect.at, ohms }]
    : [0.02, 0.5, 0.98].map((position) => ({ kind, at: suspect.at, ohms, position, ...(suspect.other === undefined ? {} : { other: suspect.other, otherPosition: position }) }))));
}

function pickWeighted(random: Random, items: readonly { suspect: Suspect; weight: number }[]): Suspect {
  let left = random.uniform() * items.reduce((sum, item) => sum + item.weight, 0);
  for (const { suspect, weight } of items) {
    left -= weight;
    if (left <= 0) return suspect;
  }
  return (items[items.length - 1] as { suspect: Suspect }).suspect;
}

/** A chance that was given, and whether it was so. */
export interface Told { readonly chance: number; readonly isRight: boolean; /** 1 when missing. */ readonly weight?: number }

/** Mean difference between the chance given and the share that was right, over ten equal bins of chance, weighted by their number. */
export function calibrationError(told: readonly Told[]): number {
  const bins = calibration(told);
  return bins.reduce((sum, { share, given, right }) => sum + share * Math.abs(given - right), 0);
}

/** By tenths of the chance given: share of all, mean chance given, share that was right. */
export function calibration(told: readonly Told[]): { readonly share: number; readonly given: number; readonly right: number; readonly cases: number }[] {
  const sum = (own: readonly Told[], value: (one: Told) => number): number => own.reduce((all, one) => all + (one.weight ?? 1) * value(one), 0);
  const whole = sum(told, () => 1);
  return Array.from({ length: 10 }, (_, bin) => told.filter(({ chance }) => Math.min(9, Math.floor(chance * 10)) === bin)).filter((own) => own.length > 0).map((own) => {
    const weight = sum(own, () => 1);
    return { share: weight / whole, given: sum(own, ({ chance }) => chance) / weight, right: sum(own, ({ isRight }) => Number(isRight)) / weight, cases: own.length };
  });
}
