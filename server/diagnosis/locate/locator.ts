/** From readings to the chance of each fault. */
import type { Arrangement, Circuit, Fault } from '../circuit/index.ts';
import { AS_FOUND, batteryVolts } from '../circuit/index.ts';
import { FaultSolver } from './faulted.ts';
import type { Faulted } from './faulted.ts';
import type { LikelihoodSetup } from './likelihood.ts';
import { Evidence, logSum, logWorthless } from './likelihood.ts';
import type { Flexing, Observation, Probe, Symptom } from './probe.ts';
import { isSamePlace } from './probe.ts';
import type { Hypothesis, Suspect } from './suspects.ts';
import { hypothesesOf, placeOf } from './suspects.ts';
import type { Tolerance } from './tolerance.ts';
import { USUAL_TOLERANCE, partDeviations } from './tolerance.ts';

export interface LocatorSetup {
  readonly circuit: Circuit;
  readonly suspects: readonly Suspect[];
  readonly symptoms?: readonly Symptom[];
  readonly tolerance?: Tolerance;
  /** The circuit with nothing wrong, where `circuit` holds a fault already: what loads get when all is well. */
  readonly soundCircuit?: Circuit;
  /** Standard deviation of single parts, ohm, instead of the tolerance's. */
  readonly deviations?: ReadonlyMap<string, number>;
  /** Of this circuit, with what was solved before. */
  readonly solver?: FaultSolver;
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
/** Of a meter, where a take is only thought of, SI. */
const TYPICAL_UNCERTAINTY = 0.01;
/** How steeply the chance of being counted rises with the depth of a departure: 2 % at half the depth of interest, 98 % at twice. */
const VISIBLE_STEEPNESS = 6;
/** Hypotheses this far (natural logarithm) below the best are let go. */
const HOPELESS = 16;
/** Readings contradict each other from this chance on that one of them is worth nothing. */
const CONTRADICTORY = 0.5;
/** Of those, the ones to repeat have at least this chance of being it. */
const TO_REPEAT = 0.2;

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
  /** Prior and symptoms. */
  readonly logPrior: number;
  /** Logarithm of the chance of what the wiggle takes showed, if flexing never opens it, then for each of `FLEX_CHANCES`. */
  readonly flexWays: number[];
  readonly evidence: Evidence;
  logPosterior: number;
}

export class Locator {
  readonly circuit: Circuit;
  readonly suspects: readonly Suspect[];
  readonly observations: Observation[] = [];
  readonly solver: FaultSolver;
  readonly #deviations: Float64Array;
  readonly #tolerance: Tolerance;
  readonly #likelihood: LikelihoodSetup;
  readonly #blownStates = new WeakMap<Arrangement, Map<string, Arrangement>>();
  #living: Living[];
  #logEvidence = 0;

  constructor(setup: LocatorSetup) {
    this.circuit = setup.circuit;
    this.suspects = setup.suspects;
    this.#tolerance = setup.tolerance ?? USUAL_TOLERANCE;
    this.solver = setup.solver ?? new FaultSolver(setup.circuit);
    this.#deviations = partDeviations(setup.circuit, this.#tolerance);
    for (const [part, deviation] of setup.deviations ?? []) this.#deviations[this.solver.order(part)] = deviation;
    // By what the chart says of a span, not by a fault that is in it already; what is taken as certain (an open) can't be charted wrongly.
    const spans = (setup.soundCircuit ?? setup.circuit).parts.flatMap((part, order) => {
      const deviation = this.#deviations[order] as number;
      return part.kind === 'span' && deviation > 0 ? [{ part: order, deviations: (this.#tolerance.chartErrorSize * part.ohms) / deviation }] : [];
    });
    this.#likelihood = { slip: this.#tolerance.slip, fullVolts: 1.2 * Math.max(1, batteryVolts(setup.circuit)), chartError: spans.length === 0 ? 0 : this.#tolerance.chartError, chartErrorDeviations: spans };
    const sound = (setup.soundCircuit === undefined ? this.solver : new FaultSolver(setup.soundCircuit)).solve(AS_FOUND, null);
    this.#living = hypothesesOf(setup.suspects).map((hypothesis) => {
      const blown = this.solver.blown(hypothesis.fault);
      const logPrior = Math.log(hypothesis.prior) + this.#symptoms(setup.symptoms ?? [], hypothesis, blown, sound);
      const share = hypothesis.flexed === null ? 0 : hypothesis.flexChance;
      const flexWays = [Math.log(1 - share), ...FLEX_CHANCES.map(() => Math.log(share / FLEX_CHANCES.length))];
      return { hypothesis, blown, logPrior, flexWays, evidence: new Evidence(this.#likelihood), logPosterior: logPrior };
    });
    this.#settle();
  }

  /**
   * Takes a reading into account. A second one at the same place that agrees with the first tells
   * nothing new of the level, since the meter errs alike both times; what was seen while flexing counts each time.
   */
  observe(observation: Observation): void {
    this.#take(observation);
    this.#weigh();
  }

  /** The same for many at once, sooner done: what is hopeless is let go after the first, the second, the fourth of them and so on. */
  observeAll(observations: readonly Observation[]): void {
    observations.forEach((observation, order) => {
      this.#take(observation);
      const count = order + 1;
      if (count === observations.length || (count & (count - 1)) === 0) this.#weigh();
    });
  }

  #take(observation: Observation): void {
    const { value, uncertainty, probe } = observation;
    const isRepeat = this.observations.some((own) => isSamePlace(own.probe, probe) && (own.value === value || Math.abs(own.value - value) < 4 * uncertainty));
    this.observations.push(observation);
    const reading = { value, uncertainty, quantity: probe.quantity, repeats: observation.repeats ?? 0 };
    for (const living of this.#living) {
      const at = this.#solveAll(probe.arrangement, living);
      if (isRepeat) living.evidence.skip();
      else {
        const moves = new Float64Array(this.#deviations.length + 2);
        living.evidence.add(reading, { value: this.#expect(probe, at, moves), moves });
      }
      if (observation.flexing !== undefined) {
        const seen = observation.flexing.dropouts > 0;
        this.#silences(probe, observation.flexing, living, at, uncertainty).forEach((none, way) => { living.flexWays[way] = (living.flexWays[way] as number) + Math.log(seen ? 1 - none : none); });
      }
    }
  }

  #weigh(): void {
    for (const living of this.#living) living.logPosterior = living.logPrior + logSum(living.flexWays) + living.evidence.logLikelihood;
    this.#settle();
  }

  /** Logarithm of the likelihood of all readings and symptoms, whichever suspect it is: compares one set of suspects with another. */
  get logEvidence(): number {
    return this.#logEvidence;
  }

  /** Whether the suspects explain the readings better than that every one of them is worth nothing. */
  get isExplained(): boolean {
    const { slip } = this.#likelihood;
    const figures = this.observations.filter(({ value }) => Number.isFinite(value));
    return this.#logEvidence > figures.reduce((sum, { value, probe }) => sum + Math.log(slip) + logWorthless({ value, quantity: probe.quantity }, this.#likelihood), 0);
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

  /** The most likely size of a suspect's fault, ohm, with a range of two standard deviations; null when it has none or is ruled out. */
  size(suspect: number): { ohms: number; low: number; high: number } | null {
    let weight = 0;
    let sum = 0;
    let squares = 0;
    for (const { hypothesis, logPosterior, evidence } of this.#living) {
      if (hypothesis.suspect !== suspect || hypothesis.fault?.ohms === undefined) continue;
      const own = Math.exp(logPosterior);
      const { mean, variance } = evidence.ofMove(this.#deviations.length + 1);
      const log = Math.log(hypothesis.fault.ohms) + hypothesis.spread * mean;
      weight += own;
      sum += own * log;
      squares += own * (log * log + hypothesis.spread ** 2 * variance);
    }
    if (weight === 0) return null;
    const mean = sum / weight;
    const deviation = Math.sqrt(Math.max(0, squares / weight - mean * mean));
    return { ohms: Math.exp(mean), low: Math.exp(mean - 2 * deviation), high: Math.exp(mean + 2 * deviation) };
  }

  /** Where the readings contradict each other: those that may be worth nothing, the likeliest first, to be repeated. */
  contradictions(): Contradiction[] {
    const doubts = this.#perReading((evidence, order) => evidence.slipChance(order));
    if (doubts.reduce((sum, { chance }) => sum + chance, 0) < CONTRADICTORY) return [];
    return doubts.filter(({ chance }, rank) => rank === 0 || chance >= TO_REPEAT);
  }

  /** Readings without which the others go together better, the worst first: numbers of observations. */
  misfits(): number[] {
    return this.#perReading((evidence, order) => evidence.misfit(order)).filter(({ chance }) => chance >= CONTRADICTORY).map(({ observation }) => observation);
  }

  /** Over all living hypotheses by their chance, the largest first. */
  #perReading(value: (evidence: Evidence, order: number) => number): Contradiction[] {
    return this.observations
      .map((_, observation) => ({ observation, chance: this.#living.reduce((sum, { logPosterior, evidence }) => sum + Math.exp(logPosterior) * value(evidence, observation), 0) }))
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
        return probe.flexing === undefined ? next : { ...next, dropouts: this.#dropoutChance(probe, probe.flexing, living, own) };
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
    return new Solved(this.solver, own, living.hypothesis);
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

  /** Chance that a wiggle take shows no dropout, for each way that flexing may act. */
  #silences(probe: Probe, flexing: Flexing, living: Living, solved: Solved, uncertainty: number): number[] {
    const { flexed } = living.hypothesis;
    const reaches = flexed !== null && (flexing.parts === undefined || flexing.parts.includes(flexed.at));
    const quiet = 1 - (flexed !== null && !reaches ? STRAY_DROPOUT_NEIGHBOUR : STRAY_DROPOUT);
    let shows = 0;
    if (reaches && solved.flexed !== null) {
      const rest = solved.atRest.reading(probe);
      const open = solved.flexed.reading(probe);
      const isOver = Number.isFinite(rest) !== Number.isFinite(open);
      // Near the depth of interest the model can't tell whether the take counts it as a dropout.
      const depth = Math.abs(open - rest) / Math.max(5 * uncertainty, 0.05 * Math.abs(rest));
      shows = isOver ? 1 : Number.isFinite(depth) ? depth ** VISIBLE_STEEPNESS / (1 + depth ** VISIBLE_STEEPNESS) : 0;
    }
    return [quiet, ...FLEX_CHANCES.map((chance) => quiet * (1 - shows * (1 - (1 - chance) ** flexing.flexes)))];
  }

  #dropoutChance(probe: Probe, flexing: Flexing, living: Living, solved: Solved): number {
    const total = logSum(living.flexWays);
    return this.#silences(probe, flexing, living, solved, TYPICAL_UNCERTAINTY).reduce((sum, none, way) => sum + Math.exp((living.flexWays[way] as number) - total) * (1 - none), 0);
  }

  #symptoms(symptoms: readonly Symptom[], hypothesis: Hypothesis, blown: readonly string[], sound: Faulted): number {
    if (symptoms.length === 0) return 0;
    const shown = (fault: Fault | null): number => {
      const faulted = fault === null && blown.length === 0 ? sound : this.solver.solve({ removed: blown, unplugged: [] }, fault);
      return symptoms.reduce((sum, { load, works }) => {
        const order = this.solver.order(load);
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
    this.#logEvidence = total;
  }
}

function loadVolts(faulted: Faulted, order: number, circuit: Circuit): number {
  const part = circuit.parts[order];
  return part === undefined ? 0 : faulted.voltage(faulted.base.from[order] as number) - faulted.voltage(faulted.base.to[order] as number);
}
