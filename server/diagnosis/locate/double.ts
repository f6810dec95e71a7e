/**
 * Two faults at once. The locator takes one fault; where readings contradict each other under every single one, two together may explain
 * them: a bad joint or break, and anything else in another part. The first is put into the circuit at the size that the readings give it,
 * free to move by a share of that; the rest is the locator's usual work on that circuit. Two intermittent faults, and two shorts, are not
 * looked for.
 */
import type { Circuit, CircuitPart } from '../circuit/index.ts';
import { logSum } from './likelihood.ts';
import type { LocatorSetup } from './locator.ts';
import { Locator } from './locator.ts';
import type { Observation } from './probe.ts';
import type { Suspect } from './suspects.ts';
import { FAULT_OHMS } from './suspects.ts';

export interface DoubleFault {
  readonly faults: readonly [SizedSuspect, SizedSuspect];
  /** Chance of just these two, all single faults and other pairs considered. */
  readonly chance: number;
}

export interface SizedSuspect {
  readonly suspect: Suspect;
  readonly size: { readonly ohms: number; readonly low: number; readonly high: number } | null;
}

export interface DoubleFaults {
  /** Chance that there are two faults, not one. */
  readonly chance: number;
  /** The likeliest first. */
  readonly pairs: readonly DoubleFault[];
}

/** Harnesses with two faults for each that has one (common practice, no source). */
const TWO_FOR_ONE = 0.05;
/** First faults that are tried. */
const MOST_FIRST = 3;
/** Doubted readings that a first fault is looked for in, one by one. */
const MOST_DOUBTED = 5;
/** How far a first fault's size may be off its estimate, part of it. */
const FREEDOM = 0.4;
/** Stands for an open in a circuit that keeps its parts, ohm: so far above a meter's own 10 Mohm that nothing comes through to a wire that hangs in the air behind it. */
const OPEN_OHMS = 1e12;
const ROUNDS = 3;

/** @param single  the locator that has seen the readings and takes one fault */
export function doubleFaults(setup: LocatorSetup, single: Locator): DoubleFaults {
  const doubted = new Set(single.contradictions().map(({ observation }) => observation));
  const going = single.observations.filter((_, order) => !doubted.has(order));
  // A first fault is what the readings that go together point to, or what a doubted one points to by itself.
  const series = setup.suspects.filter(isSeries);
  const views = [going, ...[...doubted].slice(0, MOST_DOUBTED).map((order) => [single.observations[order] as Observation])].filter((view) => view.length > 0);
  const seen = views.map((view) => seenWith({ ...setup, suspects: series }, view).chances());
  const firsts = series
    .map((suspect, order) => {
      const weights = seen.map((chances) => chances[order] as number);
      const weight = Math.max(...weights);
      return { suspect, weight, view: views[weights.indexOf(weight)] ?? [] };
    })
    .sort((left, right) => right.weight - left.weight)
    .slice(0, MOST_FIRST);
  const total = setup.suspects.reduce((sum, suspect) => sum + suspect.weight, 0);
  const found = firsts.map(({ suspect, view }) => ({ ...pairWith(setup, suspect, view, single.observations), logPrior: Math.log(suspect.weight / total) }));
  const one = single.logEvidence;
  const logs = found.map(({ logEvidence, logPrior, logShare }) => Math.log(TWO_FOR_ONE) + logPrior + logShare + logEvidence);
  const all = logSum([one, ...logs]);
  const pairs = found.map(({ faults, chance }, order) => ({ faults, chance: chance * Math.exp((logs[order] as number) - all) }));
  return { chance: 1 - Math.exp(one - all), pairs: joined(pairs).sort((left, right) => right.chance - left.chance) };
}

interface Pairing {
  readonly faults: readonly [SizedSuspect, SizedSuspect];
  /** Of the second, given the first. */
  readonly chance: number;
  readonly logEvidence: number;
  /** Logarithm of the share of the first's possible sizes that its estimate stands for. */
  readonly logShare: number;
}

/** @param view  readings that point to the first, for its size to begin with */
function pairWith(setup: LocatorSetup, first: Suspect, view: readonly Observation[], observations: readonly Observation[]): Pairing {
  const others = setup.suspects.filter((suspect) => suspect.kind !== 'none' && suspect.at !== first.at && suspect.other !== first.at);
  let size = sizeOf(setup, first, view);
  let second = best(setup, first, size, others, observations);
  for (let round = 0; round < ROUNDS && isSeries(second.sized.suspect); round++) {
    // Each is sized again with the other in place.
    const { circuit, deviations } = withFault(setup, second.sized);
    size = sizeOf({ ...setup, circuit, deviations, soundCircuit: setup.circuit }, first, observations);
    second = best(setup, first, size, [second.sized.suspect], observations);
  }
  const whole = best(setup, first, size, others, observations);
  const [low, high] = FAULT_OHMS['high-resistance'];
  const logShare = first.kind === 'open' ? 0 : Math.log((FREEDOM * Math.sqrt(2 * Math.PI)) / Math.log(high / low));
  return { faults: [{ suspect: first, size }, whole.sized], chance: whole.chance, logEvidence: whole.logEvidence, logShare };
}

/** The likeliest second fault, with the first in the circuit. */
function best(setup: LocatorSetup, first: Suspect, size: SizedSuspect['size'], suspects: readonly Suspect[], observations: readonly Observation[]): { sized: SizedSuspect; chance: number; logEvidence: number } {
  const { circuit, deviations } = withFault(setup, { suspect: first, size });
  const locator = seenWith({ ...setup, circuit, deviations, soundCircuit: setup.circuit, suspects }, observations);
  const chances = locator.chances();
  const order = chances.indexOf(Math.max(...chances));
  return { sized: { suspect: suspects[order] as Suspect, size: locator.size(order) }, chance: chances[order] as number, logEvidence: locator.logEvidence };
}

/** What the readings say of the size of a fault, taken as the only one besides what is in the circuit. */
function sizeOf(setup: LocatorSetup, suspect: Suspect, observations: readonly Observation[]): SizedSuspect['size'] {
  return suspect.kind === 'open' ? null : seenWith({ ...setup, suspects: [suspect] }, observations).size(0);
}

function seenWith(setup: LocatorSetup, observations: readonly Observation[]): Locator {
  const locator = new Locator(setup);
  for (const observation of observations) locator.observe(observation);
  return locator;
}

function withFault({ circuit }: LocatorSetup, { suspect, size }: SizedSuspect): { circuit: Circuit; deviations: ReadonlyMap<string, number> } {
  const more = size === null ? OPEN_OHMS : size.ohms;
  const parts = circuit.parts.map((part): CircuitPart => (part.id === suspect.at ? { ...part, ohms: part.ohms + more } : part));
  return { circuit: { ...circuit, parts }, deviations: new Map([[suspect.at, size === null ? 0 : FREEDOM * size.ohms]]) };
}

function isSeries(suspect: Suspect): boolean {
  return (suspect.kind === 'open' || suspect.kind === 'high-resistance') && suspect.intermittent !== true;
}

/** The same two, whichever was taken first. */
function joined(pairs: readonly DoubleFault[]): DoubleFault[] {
  const byPair = new Map<string, DoubleFault>();
  for (const pair of pairs) {
    const key = pair.faults.map(({ suspect }) => `${suspect.kind} ${suspect.at} ${suspect.other ?? ''} ${suspect.intermittent === true}`).sort().join(' | ');
    const known = byPair.get(key);
    byPair.set(key, known === undefined ? pair : { faults: known.chance >= pair.chance ? known.faults : pair.faults, chance: known.chance + pair.chance });
  }
  return [...byPair.values()];
}
