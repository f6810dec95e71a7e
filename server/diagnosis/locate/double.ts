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
import { FAULT_OHMS, suspectKey } from './suspects.ts';

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
  /** What the readings say of the other fault, with the likeliest first one in the circuit. */
  readonly given: { readonly first: SizedSuspect; readonly locator: Locator } | null;
}

/** Harnesses with two faults for each that has one (common practice, no source). */
const TWO_FOR_ONE = 0.05;
/** First faults that are tried, and of these the ones whose size is worked out with the second in place. */
const MOST_TRIED = 6;
const MOST_FIRST = 3;
/** How far a first fault's size may be off its estimate, part of it. */
const FREEDOM = 0.4;
/** Stands for an open in a circuit that keeps its parts, ohm: so far above a meter's own 10 Mohm that nothing comes through to a wire that hangs in the air behind it. */
const OPEN_OHMS = 1e12;
const ROUNDS = 3;
/** Second faults with less chance than this beside their first are not listed. */
const WORTH_LISTING = 0.01;

/** @param single  the locator that has seen the readings and takes one fault */
export function doubleFaults(setup: LocatorSetup, single: Locator): DoubleFaults {
  const firsts = firstFaults({ ...setup, solver: single.solver }, single);
  const total = setup.suspects.reduce((sum, suspect) => sum + suspect.weight, 0);
  const logOf = ({ first, locator }: Pairing): number => Math.log((TWO_FOR_ONE * first.suspect.weight) / total) + logShare(first) + locator.logEvidence;
  const tried = firsts.map((first) => pairWith(setup, first, single.observations)).sort((left, right) => logOf(right) - logOf(left));
  const found = tried.map((pairing, rank) => (rank < MOST_FIRST ? refined(setup, pairing, single.observations) : pairing));
  const one = single.logEvidence;
  const logs = found.map(logOf);
  const all = logSum([one, ...logs]);
  const chances = logs.map((log) => Math.exp(log - all));
  const pairs = found.flatMap(({ first, locator }, order) => secondsOf(locator).map(({ sized, chance }): DoubleFault => ({ faults: [first, sized], chance: chance * (chances[order] as number) })));
  const likeliest = found[chances.indexOf(Math.max(...chances))];
  return {
    chance: 1 - Math.exp(one - all), pairs: joined(pairs).sort((left, right) => right.chance - left.chance),
    given: likeliest === undefined ? null : { first: likeliest.first, locator: likeliest.locator },
  };
}

interface Second {
  readonly sized: SizedSuspect;
  /** Given the first. */
  readonly chance: number;
}

interface Pairing {
  readonly first: SizedSuspect;
  /** With the first in the circuit: what the second is. */
  readonly locator: Locator;
}

/**
 * What one of the readings points to by itself, or those that go together do: at most one for each part, the surest first. All together may
 * point nowhere, since each fault contradicts what the other one explains.
 */
function firstFaults(setup: LocatorSetup, single: Locator): SizedSuspect[] {
  const misfits = new Set(single.misfits());
  const going = single.observations.filter((_, order) => !misfits.has(order));
  const suspects = setup.suspects.filter(isSeries);
  const views = [...single.observations.map((own) => [own]), going].filter((view) => view.length > 0);
  const seen = views.map((view) => seenWith({ ...setup, suspects }, view).chances());
  const byPart = new Map<string, { suspect: Suspect; chance: number; view: readonly Observation[] }>();
  suspects.forEach((suspect, order) => {
    const chances = seen.map((own) => own[order] as number);
    const chance = Math.max(...chances);
    if (chance > (byPart.get(suspect.at)?.chance ?? 0)) byPart.set(suspect.at, { suspect, chance, view: views[chances.indexOf(chance)] ?? [] });
  });
  return [...byPart.values()]
    .sort((left, right) => right.chance - left.chance)
    .slice(0, MOST_TRIED)
    .map(({ suspect, view }) => ({ suspect, size: sizeOf(setup, suspect, view) }));
}

function pairWith(setup: LocatorSetup, first: SizedSuspect, observations: readonly Observation[]): Pairing {
  const others = setup.suspects.filter(({ kind, at, other }) => kind !== 'none' && at !== first.suspect.at && other !== first.suspect.at);
  return { first, locator: beside(setup, first, others, observations) };
}

/** Each is sized again with the other in place. An open has no size that the other could change. */
function refined(setup: LocatorSetup, pairing: Pairing, observations: readonly Observation[]): Pairing {
  let { first } = pairing;
  if (first.size === null) return pairing;
  let second = secondsOf(pairing.locator)[0] as Second;
  for (let round = 0; round < ROUNDS && isSeries(second.sized.suspect); round++) {
    first = { ...first, size: sizeOf({ ...setup, ...withFault(setup, second.sized), soundCircuit: setup.circuit }, first.suspect, observations) };
    second = secondsOf(beside(setup, first, [second.sized.suspect], observations))[0] as Second;
  }
  return pairWith(setup, first, observations);
}

/** Logarithm of the share of a fault's possible sizes that its estimate stands for. */
function logShare({ size }: SizedSuspect): number {
  const [low, high] = FAULT_OHMS['high-resistance'];
  return size === null ? 0 : Math.log((FREEDOM * Math.sqrt(2 * Math.PI)) / Math.log(high / low));
}

/** The usual work on a second fault, with the first in the circuit. */
function beside(setup: LocatorSetup, first: SizedSuspect, suspects: readonly Suspect[], observations: readonly Observation[]): Locator {
  return seenWith({ ...setup, ...withFault(setup, first), soundCircuit: setup.circuit, suspects }, observations);
}

function secondsOf(locator: Locator): Second[] {
  return locator.chances()
    .map((chance, order) => ({ chance, order }))
    .sort((left, right) => right.chance - left.chance)
    .filter(({ chance }, rank) => rank === 0 || chance >= WORTH_LISTING)
    .map(({ chance, order }) => ({ chance, sized: { suspect: locator.suspects[order] as Suspect, size: locator.size(order) } }));
}

/** What the readings say of the size of a fault, taken as the only one besides what is in the circuit. */
function sizeOf(setup: LocatorSetup, suspect: Suspect, observations: readonly Observation[]): SizedSuspect['size'] {
  return suspect.kind === 'open' ? null : seenWith({ ...setup, suspects: [suspect] }, observations).size(0);
}

function seenWith(setup: LocatorSetup, observations: readonly Observation[]): Locator {
  const locator = new Locator(setup);
  locator.observeAll(observations);
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
    const key = pair.faults.map(({ suspect }) => suspectKey(suspect)).sort().join(' | ');
    const known = byPair.get(key);
    byPair.set(key, known === undefined ? pair : { faults: known.chance >= pair.chance ? known.faults : pair.faults, chance: known.chance + pair.chance });
  }
  return [...byPair.values()];
}
