/** From readings to the chance of each fault. */
import type { Arrangement, Circuit, Fault } from '../circuit/index.ts';
import { AS_FOUND, batteryVolts } from '../circuit/index.ts';
import { FaultSolver } from './faulted.ts';
import type { Faulted } from './faulted.ts';
import type { LikelihoodSetup } from './likelihood.ts';
import { Evidence, logSum } from './likelihood.ts';
import type { Flexing, Observation, Probe, Symptom } from './probe.ts';
import type { Hypothesis, Suspect } from './suspects.ts';
import { hypothesesOf, placeOf } from './suspects.ts';
import type { Tolerance } from './tolerance.ts';
import { USUAL_TOLERANCE, partDeviations } from './tolerance.ts';

export interface LocatorSetup {
  readonly circuit: Circuit;
  readonly suspects: readonly Suspect[];
  readonly symptoms?: readonly Symptom[];
  readonly tolerance?: Tolerance;
}

/** A reading that does not go with the others. */
export interface Contradiction {
  /** Number of the observation. */
  readonly observation: number;
  /** Chance that this reading is worth nothing. */
  readonly chance: number;
}

/** Chance that flexing once opens a contact that opens when flexed: every decade equally likely. */
const FLEX_CHANCES = [0.03, 0.1, 0.3, 0.8];
/** A dropout seen where the fault can't show: a lead slipped, a neighbour moved. */
const STRAY_DROPOUT = 0.01;
const STRAY_DROPOUT_NEIGHBOUR = 0.03;
/** A load is taken to work above about this part of its sound voltage, give or take. */
const WORKS_ABOVE = { share: 0.8, width: 0.07 };
/** Hypotheses this far (natural logarithm) below the best are let go. */
const HOPELESS = 16;
/** Chance from which a reading is called contradictory. */
const CONTRADICTORY = 0.5;

/** What one hypothesis expects at each of several probes. */
export interface Expected {
  readonly suspect: number;
  readonly chance: number;
  readonly at: readonly {
    /** SI; Infinity for over-range. */
    readonly value: number;
    /** Standard deviation without the meter's own. */
    readonly deviation: number;
    /** Chance that a wiggle take shows dropouts. */
    readonly dropouts?: number;
  }[];
}

/** One hypothesis in one state of the circuit: as it is, with a fault a little bigger, and flexed. */
class Solved {
  readonly #solver: FaultSolver;
  readonly #arrangement: Arrangement;
  readonly #hypothesis: Hypothesis;
  #atRest: Faulted | undefined;
  #bigger: Faulted | null | undefined;
  #flexed: Faulted | null | undefined;

  constructor(solver: FaultSolver, arrangement: Arrangement, hypothesis: Hypothesis) {
    this.#solver = solver;
    this.#arrangement = arrangement;
    this.#hypothesis = hypothesis;
  }

  get atRest(): Faulted {
    return this.#atRest ??= this.#solver.solve(this.#arrangement, this.#hypothesis.fault);
  }

  get bigger(): Faulted | null {
    const { fault, spread } = this.#hypothesis;
    if (this.#bigger === undefined) {
      this.#bigger = spread > 0 && fault?.ohms !== undefined ? this.#solver.solve(this.#arrangement, { ...fault, ohms: fault.ohms * Math.exp(BIGGER * spread) }) : null;
    }
    return this.#bigger;
  }

  get flexed(): Faulted | null {
    const { flexed } = this.#hypothesis;
    if (this.#flexed === undefined) this.#flexed = flexed === null ? null : this.#solver.solve(this.#arrangement, flexed);
    return this.#flexed;
  }

  /** Over-range for certain: where a dead circuit reads over-range, no bad joint or break brings it below (resistance is monotone). */
  isOverRange(probe: Probe): boolean {
    const { fault } = this.#hypothesis;
    const raisesOnly = fault === null || fault.kind === 'open' || fault.kind === 'high-resistance';
    return raisesOnly && probe.quantity === 'resistance' && this.#solver.isDead(this.#arrangement) && this.#solver.solve(this.#arrangement, null).reading(probe) === Infinity;
  }
}

/** How much bigger, part of the range of its size. */
const BIGGER = 0.5;

interface Living {
  readonly hypothesis: Hypothesis;
  /** Fuses that it blows. */
  readonly blown: readonly string[];
  /** Symptoms and flexing. */
  logOther: number;
  readonly evidence: Evidence;
  logPosterior: number;
}

export class Locator {
  readonly circuit: Circuit;
  readonly suspects: readonly Suspect[];
  readonly observations: Observation[] = [];
  readonly #solver: FaultSolver;
  readonly #deviations: Float64Array;
  readonly #tolerance: Tolerance;
  readonly #likelihood: LikelihoodSetup;
  readonly #blownStates = new WeakMap<Arrangement, Map<string, Arrangement>>();
  #living: Living[];

  constructor(setup: LocatorSetup) {
    this.circuit = setup.circuit;
    this.suspects = setup.suspects;
    this.#tolerance = setup.tolerance ?? USUAL_TOLERANCE;
    this.#solver = new FaultSolver(setup.circuit);
    this.#deviations = partDeviations(setup.circuit, this.#tolerance);
    const spans = setup.circuit.parts.flatMap((part, order) => (part.kind === 'span' ? [{ part: order, deviations: (this.#tolerance.chartErrorSize * part.ohms) / (this.#deviations[order] as number) }] : []));
    this.#likelihood = { slip: this.#tolerance.slip, fullVolts: 1.2 * Math.max(1, batteryVolts(setup.circuit)), chartError: spans.length === 0 ? 0 : this.#tolerance.chartError, chartErrorDeviations: spans };
    const sound = this.#solver.solve(AS_FOUND, null);
    this.#living = hypothesesOf(setup.suspects).map((hypothesis) => {
      const blown = this.#solver.blown(hypothesis.fault);
      const logOther = Math.log(hypothesis.prior) + this.#symptoms(setup.symptoms ?? [], hypothesis, blown, sound);
      return { hypothesis, blown, logOther, evidence: new Evidence(this.#likelihood), logPosterior: logOther };
    });
    this.#settle();
  }

  /** Takes a reading into account. */
  observe(observation: Observation): void {
    this.observations.push(observation);
    const { value, uncertainty, probe } = observation;
    const reading = { value, uncertainty, quantity: probe.quantity };
    for (const living of this.#living) {
      const at = this.#solveAll(probe.arrangement, living);
      const moves = new Float64Array(this.#deviations.length + 2);
      living.evidence.add(reading, { value: this.#expect(probe, at, moves), moves });
      if (observation.flexing !== undefined) living.logOther += this.#flexed(probe, observation.flexing, living, at, uncertainty);
      living.logPosterior = living.logOther + living.evidence.logLikelihood;
    }
    this.#settle();
  }

  /** Chance of each suspect, in their order; they add up to 1. */
  chances(): number[] {
    const chances = this.suspects.map(() => 0);
    for (const living of this.#living) chances[living.hypothesis.suspect] = (chances[living.hypothesis.suspect] as number) + Math.exp(living.logPosterior);
    return chances;
  }

  /** Chance that the fault is at each place (part id, or two for a short between), largest first. */
  places(): { at: string; chance: number }[] {
    const byPart = new Map<string, number>();
    this.chances().forEach((chance, order) => {
      const at = placeOf(this.suspects[order] as Suspect);
      byPart.set(at, (byPart.get(at) ?? 0) + chance);
    });
    return [...byPart].map(([at, chance]) => ({ at, chance })).sort((left, right) => right.chance - left.chance);
  }

  /** The most likely size of a suspect's fault, ohm, with its standard range; null when it has none or is ruled out. */
  size(suspect: number): { ohms: number; low: number; high: number } | null {
    let weight = 0;
    let sum = 0;
    let squares = 0;
    for (const { hypothesis, logPosterior } of this.#living) {
      if (hypothesis.suspect !== suspect || hypothesis.fault?.ohms === undefined) continue;
      const own = Math.exp(logPosterior);
      const log = Math.log(hypothesis.fault.ohms);
      weight += own;
      sum += own * log;
      squares += own * (log * log + hypothesis.spread ** 2);
    }
    if (weight === 0) return null;
    const mean = sum / weight;
    const deviation = Math.sqrt(Math.max(0, squares / weight - mean * mean));
    return { ohms: Math.exp(mean), low: Math.exp(mean - 2 * deviation), high: Math.exp(mean + 2 * deviation) };
  }

  /** Readings that do not go with the others, the worst first: the ones to repeat. */
  contradictions(): Contradiction[] {
    return this.observations
      .map((_, observation) => {
        let chance = 0;
        for (const { logPosterior, evidence } of this.#living) chance += Math.exp(logPosterior) * evidence.slipChance(observation);
        return { observation, chance };
      })
      .filter(({ chance }) => chance >= CONTRADICTORY)
      .sort((left, right) => right.chance - left.chance);
  }

  /** The living hypotheses with most of the chance, and what each expects at other probes, given the readings so far. */
  expectations(probes: readonly (Probe & { readonly flexing?: Flexing })[], most: number): Expected[] {
    const moves = new Float64Array(this.#deviations.length + 2);
    const leading = [...this.#living].sort((left, right) => right.logPosterior - left.logPosterior).slice(0, most);
    return leading.map((living) => {
      const solved = new Map<Arrangement, Solved>();
      const at = probes.map((probe) => {
        let own = solved.get(probe.arrangement);
        if (own === undefined) solved.set(probe.arrangement, own = this.#solveAll(probe.arrangement, living));
        const next = living.evidence.expectNext({ value: this.#expect(probe, own, moves), moves });
        return probe.flexing === undefined ? next : { ...next, dropouts: 1 - this.#silence(probe, probe.flexing, living, own, 0.01) };
      });
      return { suspect: living.hypothesis.suspect, chance: Math.exp(living.logPosterior), at };
    });
  }

  /** The state with the fuses out that the hypothesis blows: one object for each, so that its solutions are found again. */
  #solveAll(arrangement: Arrangement, living: Living): Solved {
    let own = arrangement;
    if (living.blown.length > 0) {
      const key = living.blown.join();
      let states = this.#blownStates.get(arrangement);
      if (states === undefined) this.#blownStates.set(arrangement, states = new Map());
      own = states.get(key) ?? { ...arrangement, removed: [...new Set([...arrangement.removed, ...living.blown])] };
      states.set(key, own);
    }
    return new Solved(this.#solver, own, living.hypothesis);
  }

  /** @param moves  filled with what the reading moves by; see `Expectation` */
  #expect(probe: Probe, solved: Solved, moves: Float64Array): number {
    moves.fill(0);
    if (solved.isOverRange(probe)) return Infinity;
    const value = solved.atRest.sensitivity(probe, moves);
    if (!Number.isFinite(value)) return value;
    const parts = this.#deviations.length;
    for (let part = 0; part < parts; part++) moves[part] = (moves[part] as number) * (this.#deviations[part] as number);
    if (probe.quantity === 'voltage') moves[parts] = value * this.#tolerance.volts;
    if (solved.bigger !== null) {
      const bigger = solved.bigger.reading(probe);
      if (Number.isFinite(bigger)) moves[parts + 1] = (bigger - value) / BIGGER;
    }
    return value;
  }

  #flexed(probe: Probe, flexing: Flexing, living: Living, solved: Solved, uncertainty: number): number {
    const none = this.#silence(probe, flexing, living, solved, uncertainty);
    return Math.log(Math.max(flexing.dropouts > 0 ? 1 - none : none, 1e-12));
  }

  /** Chance that a wiggle take shows no dropout. */
  #silence(probe: Probe, flexing: Flexing, living: Living, solved: Solved, uncertainty: number): number {
    const { flexed, flexChance } = living.hypothesis;
    const reaches = flexed !== null && (flexing.parts === undefined || flexing.parts.includes(flexed.at));
    const stray = flexed !== null && !reaches ? STRAY_DROPOUT_NEIGHBOUR : STRAY_DROPOUT;
    let none = 1 - stray;
    if (reaches && solved.flexed !== null) {
      const rest = solved.atRest.reading(probe);
      const open = solved.flexed.reading(probe);
      const shows = Number.isFinite(rest) !== Number.isFinite(open) || Math.abs(open - rest) > Math.max(5 * uncertainty, 0.05 * Math.abs(rest));
      if (shows) {
        const silent = FLEX_CHANCES.reduce((sum, chance) => sum + (1 - chance) ** flexing.flexes, 0) / FLEX_CHANCES.length;
        none *= 1 - flexChance * (1 - silent);
      }
    }
    return none;
  }

  #symptoms(symptoms: readonly Symptom[], hypothesis: Hypothesis, blown: readonly string[], sound: Faulted): number {
    if (symptoms.length === 0) return 0;
    const shown = (fault: Fault | null): number => {
      const faulted = fault === null && blown.length === 0 ? sound : this.#solver.solve({ removed: blown, unplugged: [] }, fault);
      return symptoms.reduce((sum, { load, works }) => {
        const order = this.#solver.order(load);
        const current = fault?.kind === 'open' && fault.at === load ? 0 : Math.abs(loadVolts(faulted, order, this.circuit));
        const share = current / Math.abs(loadVolts(sound, order, this.circuit));
        const chance = 0.005 + 0.99 / (1 + Math.exp(-(share - WORKS_ABOVE.share) / WORKS_ABOVE.width));
        return sum + Math.log(works ? chance : 1 - chance);
      }, 0);
    };
    const atRest = shown(hypothesis.fault);
    return hypothesis.flexed === null ? atRest : logSum([atRest + Math.log(1 - 0.7 * hypothesis.flexChance), shown(hypothesis.flexed) + Math.log(0.7 * hypothesis.flexChance)]);
  }

  /** Makes the posteriors add up to 1 and lets the hopeless go. */
  #settle(): void {
    const most = this.#living.reduce((best, living) => Math.max(best, living.logPosterior), -Infinity);
    this.#living = this.#living.filter((living) => living.logPosterior > most - HOPELESS);
    const total = logSum(this.#living.map((living) => living.logPosterior));
    for (const living of this.#living) living.logPosterior -= total;
  }
}

function loadVolts(faulted: Faulted, order: number, circuit: Circuit): number {
  const part = circuit.parts[order];
  return part === undefined ? 0 : faulted.voltage(faulted.base.from[order] as number) - faulted.voltage(faulted.base.to[order] as number);
}
