/** What is to be shown of a case: the likeliest faults, the next checks with their reason, contradictions, two faults at once, the place along the wire. */
import { wholePoint } from '../diagnosis/circuit/index.ts';
import type { Bench, Candidate, DoubleFault, LocatorSetup, Outlook, SizedSuspect, Standing, Suspect } from '../diagnosis/locate/index.ts';
import { costOf, doubleFaults, isSamePlace, Locator, nextChecks, outlooks, SURE, suspectKey } from '../diagnosis/locate/index.ts';
import { joinWords } from '../diagnosis/wording.ts';
import type { NextTake } from './candidate-checks.ts';
import { nodeWords, nextTakeOf } from './candidate-checks.ts';
import { benchFor } from './candidates.ts';
import type { DistanceFound, SpanVolts } from './case-distance.ts';
import { findDistance } from './case-distance.ts';
import { circuitOf } from './chart-circuit.ts';
import { checkBenchOf } from './check-bench.ts';
import { checksFor } from './checks.ts';
import { chanceWords, placeWords, suspectBrief, suspectWords } from './fault-words.ts';
import type { CaseReading, LocateCase } from './locate-case.ts';
import { observationOf, probesById, readingName } from './locate-case.ts';
import { countAt } from './meter-uncertainty.ts';
import { figure, ohmsWords } from './path-words.ts';
import { suspectsFor } from './suspects.ts';

export interface LocatedFault {
  readonly kind: Suspect['kind'];
  /** Span or component; empty for `none`. */
  readonly at: string;
  readonly other?: string;
  readonly intermittent: boolean;
  readonly chance: number;
  /** Size, ohm, with its range; null where it has none. */
  readonly ohms: { readonly estimate: number; readonly low: number; readonly high: number } | null;
  readonly words: string;
  /** In a few words. */
  readonly brief: string;
}

export interface NextCheck {
  readonly check: string;
  readonly leads: { readonly red: string; readonly black: string };
  readonly minutes: number;
  /** What to do, in words. */
  readonly words: string;
  /** What its readings would point to. */
  readonly why: string;
  /** The check to choose, and how to watch it. */
  readonly take: NextTake;
  /** Parts between its leads, or those that are flexed. */
  readonly candidate: Candidate;
}

export interface Located {
  readonly faults: readonly LocatedFault[];
  readonly next: readonly NextCheck[];
  /** The fault is found surely enough to open the harness there. */
  readonly isFound: boolean;
  /** Minutes that the search is expected to take from here. */
  readonly expectedMinutes: number;
  /** `isUrgent`: to be repeated before anything else is made of the readings. */
  readonly contradictions: readonly { readonly reading: number; readonly check: string; readonly chance: number; readonly isUrgent: boolean; readonly words: string }[];
  /** Two faults explain the readings better than any single one; null when one is enough. `faults`: the chance of each to be one of the two. */
  readonly double: { readonly chance: number; readonly faults: readonly LocatedFault[]; readonly words: string } | null;
  /** Null when nothing was read for it. */
  readonly distance: DistanceFound | null;
}

/** Two faults are spoken of from this chance on. */
const TWO_LIKELY = 0.5;
/** Of two faults, just these are the ones from this share of their chance on; below, that others might be is said. */
const CLEAR = 0.9;
/** Of those that may be one of two, the ones with less chance are not listed. */
const WORTH_NAMING = 0.02;
/** Readings of the next check whose meaning is said. */
const MOST_OUTLOOKS = 3;
const WORTH_SAYING = 0.02;

/**
 * Locates the fault of a case.
 * @param most  next checks to give, the best first
 */
export function locateCase(own: LocateCase, most = 3): Located {
  const { chart, circuit } = own;
  const known = probesById(own);
  const setup: LocatorSetup = { circuit: circuitOf(chart, own.temperature), suspects: suspectsFor(chart, circuit), symptoms: own.symptoms };
  const locator = new Locator(setup);
  for (const reading of own.readings) locator.observe(observationOf(own, reading, known));
  const contradictions = locator.contradictions();
  const two = contradictions.length > 0 ? doubleFaults(setup, locator) : null;
  // The best of pairs that explain nothing is no answer.
  const pair = two?.given?.locator.isExplained === true && two.chance >= TWO_LIKELY ? two.pairs[0] ?? null : null;
  // With two, what tells more of the other once one is taken as known.
  const asking = pair === null ? locator : two?.given?.locator ?? locator;

  const inDoubt = pair === null ? contradictions : asking.contradictions();
  // Made again they came out the same: making them once more tells nothing.
  const isUnexplained = inDoubt.length > 0 && inDoubt.every(({ observation }) => (own.readings[observation]?.repeats ?? 0) > 0);
  const bench = benchFor(chart, circuit, own.meter);
  const standing = standingOf(own, locator);
  const plan = pair !== null && pair.chance >= SURE ? { isFound: true, expectedMinutes: 0, next: [] } : planned(asking, bench, standing, most);
  const next = pair !== null && pair.chance < SURE && plan.next.length === 0 ? atBoth(pair.faults, locator, bench) : plan.next;
  const work = checkBenchOf(chart, circuit, own.temperature);
  const offered = checksFor(chart, circuit, { temperature: own.temperature });
  const faultOf = (suspect: Suspect, size: SizedSuspect['size'], chance: number): LocatedFault => ({
    kind: suspect.kind, at: suspect.at, ...(suspect.other === undefined ? {} : { other: suspect.other }), intermittent: suspect.intermittent === true, chance,
    ohms: size === null ? null : { estimate: size.ohms, low: size.low, high: size.high }, words: suspectWords(chart, suspect, size), brief: suspectBrief(suspect, size),
  });
  const both = pair?.faults.map(({ suspect, size }) => suspectBrief(suspect, size)) ?? [];
  return {
    faults: locator.chances()
      .map((chance, order) => faultOf(locator.suspects[order] as Suspect, locator.size(order), chance))
      .filter((fault) => fault.chance >= 0.001)
      .sort((left, right) => right.chance - left.chance),
    isFound: !isUnexplained && plan.isFound && (pair === null || pair.chance >= SURE), expectedMinutes: plan.expectedMinutes,
    next: next.map((candidate) => ({
      check: candidate.probe.id, leads: { red: candidate.probe.red, black: candidate.probe.black }, minutes: costOf(candidate, bench, standing),
      words: candidateWords(candidate, own, standing.openPanels), why: whyWords(outlooks(asking, bench, candidate), candidate), take: nextTakeOf(work, candidate, offered), candidate,
    })),
    contradictions: [
      ...inDoubt.map((doubt) => ({ ...doubt, isUrgent: true, say: isUnexplained ? unexplainedWords : pair === null ? againstOneWords : againstTwoWords })),
      ...(pair === null ? [] : contradictions.map((doubt) => ({ ...doubt, isUrgent: false, say: withOneWords }))),
    ].filter(({ observation }, order, all) => all.findIndex((other) => other.observation === observation) === order).map(({ observation, chance, isUrgent, say }) => {
      const check = readingName(own.readings[observation] as CaseReading);
      return { reading: observation, check, chance, isUrgent, words: say(check) };
    }),
    double: pair === null || two === null || isUnexplained ? null : {
      chance: two.chance,
      faults: eachOf(two.pairs).map(({ suspect, size, chance }) => faultOf(suspect, size, chance)),
      words: `No single fault explains these readings. Two together do, with a chance of ${chanceWords(two.chance)}: ${pair.chance < CLEAR * two.chance ? `most likely (${chanceWords(pair.chance)}) ` : ''}${joinWords(both)}. Repair one, then check again.`,
    },
    distance: own.distance === undefined ? null : findDistance(chart, own.temperature, own.distance, dropsRead(own, locator)),
  };
}

const againstOneWords = (check: string): string => `The reading at "${check}" does not go with the others: repeat it before anything else.`;
const againstTwoWords = (check: string): string => `The reading at "${check}" goes with no two faults either: repeat it before anything else.`;
const withOneWords = (check: string): string => `With a single fault the reading at "${check}" would be wrong: repeat it to be sure.`;
const unexplainedWords = (check: string): string =>
  `Neither one fault nor two explain these readings: the one at "${check}" goes with none, and came out the same when it was repeated. Compare the chart with the harness, and the leads, switches and plugs of each check with what it asks for.`;

/** Each fault that is one of a pair, with the chance that it is: the likeliest first. */
function eachOf(pairs: readonly DoubleFault[]): (SizedSuspect & { readonly chance: number })[] {
  const found = new Map<string, SizedSuspect & { chance: number }>();
  for (const { faults, chance } of pairs) {
    for (const { suspect, size } of faults) {
      const key = suspectKey(suspect);
      const known = found.get(key);
      if (known === undefined) found.set(key, { suspect, size, chance });
      else known.chance += chance;
    }
  }
  return [...found.values()].filter(({ chance }) => chance >= WORTH_NAMING).sort((left, right) => right.chance - left.chance);
}

/** Volts along whole spans with nothing taken out. */
function dropsRead({ chart, meter }: LocateCase, { observations }: Locator): SpanVolts[] {
  return observations.flatMap(({ probe, value }) => {
    const span = chart.spans.find(({ from, to }) => (from === probe.red && to === probe.black) || (from === probe.black && to === probe.red));
    const isAsFound = probe.quantity === 'voltage' && probe.arrangement.removed.length === 0 && probe.arrangement.unplugged.length === 0;
    return span === undefined || !isAsFound ? [] : [{ span: span.id, volts: { value, count: countAt(meter, 'voltage', value) } }];
  });
}

/** What was read behind a panel has it off. */
function standingOf(own: LocateCase, locator: Locator): Standing {
  const touched = new Set(locator.observations.flatMap(({ probe }) => [wholePoint(probe.red), wholePoint(probe.black)]));
  return { openPanels: [...new Set([...own.openPanels, ...own.chart.points.flatMap((point) => (point.panel !== undefined && touched.has(point.id) ? [point.panel] : []))])], state: own.state };
}

function planned(locator: Locator, bench: Bench, standing: Standing, most: number): { isFound: boolean; expectedMinutes: number; next: readonly Candidate[] } {
  const first = nextChecks(locator, bench, standing);
  const next = first.next.map(({ candidate }) => candidate);
  // The next best: what would be best without the best, and without what would read the same.
  while (next.length > 0 && next.length < most) {
    const left = bench.candidates.filter((candidate) => !next.some((taken) => isSamePlace(taken.probe, candidate.probe) && (taken.flexing === undefined) === (candidate.flexing === undefined)));
    const more = nextChecks(locator, { ...bench, candidates: left }, standing, 500).next;
    if (more.length === 0) break;
    next.push(...more.map(({ candidate }) => candidate));
  }
  return { isFound: first.isFound, expectedMinutes: first.expectedMinutes, next };
}

/** What has not been read yet across either of two faults. */
function atBoth(faults: readonly SizedSuspect[], locator: Locator, bench: Bench): Candidate[] {
  return faults.flatMap(({ suspect }) => bench.candidates.filter(({ probe }) => probe.id === `drop ${suspect.at}` && !locator.observations.some((own) => isSamePlace(own.probe, probe))));
}

function candidateWords(candidate: Candidate, own: LocateCase, openPanels: readonly string[]): string {
  const { probe, flexing, state, panels } = candidate;
  const working = own.chart.circuits.find((circuit) => circuit.id === own.circuit)?.working ?? '';
  const toOpen = panels.filter((panel) => !openPanels.includes(panel));
  const steps = [
    ...(toOpen.length > 0 ? [`take off: ${toOpen.join(', ')}`] : []),
    state === 'as found' ? `nothing unplugged, ${working === '' ? 'everything on' : working}` : state === 'dead' ? 'battery off, loads unplugged' : 'battery off, loads unplugged, fuses and relays out',
    ...(probe.arrangement.unplugged.length > 0 ? [`pull ${probe.arrangement.unplugged.join(', ')} apart`] : []),
    `meter on ${probe.quantity === 'voltage' ? 'DC volts' : 'ohms'}, red on ${nodeWords(own, probe.red)}, black on ${nodeWords(own, probe.black)}`,
    ...(flexing === undefined ? [] : [`flex ${flexing.parts === undefined ? 'the whole harness' : flexing.parts.join(', ')} ${flexing.flexes} times and watch`]),
  ];
  const sentence = steps.join('; ');
  return `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`;
}

/** "About 1.75 V points to S3 to C2/4 (41 %); about 0.04 V to C1/6 to G2 or G2 to B- (38 %)." */
function whyWords(outlook: readonly Outlook[], { probe }: Candidate): string {
  const parts = outlook.filter(({ chance }, order) => order === 0 || chance >= WORTH_SAYING).slice(0, MOST_OUTLOOKS).map(({ low, high, dropouts, chance, places }, order) => {
    const reading = `${rangeWords(low, high, probe.quantity)}${dropouts === null ? '' : dropouts ? ' with dropouts' : ' without a dropout'}`;
    const where = places.length === 0 ? 'a sound circuit' : placeWords(places.map(({ at }) => at));
    return `${reading}${order === 0 ? ' points' : ''} to ${where} (${chanceWords(chance)})`;
  });
  const sentence = parts.join('; ');
  return sentence === '' ? '' : `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`;
}

function rangeWords(low: number, high: number, quantity: 'voltage' | 'resistance'): string {
  if (low === Infinity) return 'over-range';
  const words = (value: number): string => (quantity === 'resistance' ? ohmsWords(Math.max(0, value)) : `${figure(Number(value.toFixed(Math.abs(value) < 0.1 ? 3 : 2)))} V`);
  return words(low) === words(high) ? `about ${words(low)}` : high === Infinity ? `above ${words(low)}` : `${words(low)} to ${words(high)}`;
}
