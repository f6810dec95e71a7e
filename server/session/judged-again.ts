/** A stored judgement beside the one that its samples give today: whether another version made it, and what differs. Pure. */
import { ALGORITHM_CHANGES } from '../diagnosis/algorithm.ts';
import type { Dropout, Gap, Judgement } from '../diagnosis/judgement.ts';
import { sayCount, sayTime, sayValue } from '../diagnosis/wording.ts';
import type { Quantity } from '../../drivers/reading.ts';

export interface JudgedAgain {
  /** Versions of the algorithm. */
  readonly before: string;
  readonly now: string;
  /** What the versions since then judge differently, as sentences. */
  readonly changes: readonly string[];
  /** What comes out differently for this take, as sentences, the verdict first; empty when nothing does. */
  readonly differences: readonly string[];
  readonly judgement: Judgement;
}

/** Events of the two that begin no further apart than this, and an interval, are the same one, s. */
const SAME_WITHIN = 0.05;
/** Events that are named one by one. */
const NAMED = 5;

/** @param stored  as the file has it @param judgement  of the same samples, by what judges today @param start  of the take, s: times are said from there */
export function judgedAgain(stored: Judgement, judgement: Judgement, start: number): JudgedAgain {
  const since = ALGORITHM_CHANGES.findIndex(({ version }) => version === stored.algorithm);
  return {
    before: stored.algorithm, now: judgement.algorithm, judgement,
    changes: stored.algorithm === judgement.algorithm ? [] : ALGORITHM_CHANGES.slice(since + 1).map(({ change }) => change),
    differences: differencesOf(stored, judgement, start),
  };
}

function differencesOf(a: Judgement, b: Judgement, start: number): string[] {
  const differences: string[] = [];
  if (a.verdict !== b.verdict) differences.push(`The verdict was ${a.verdict}; now it is ${b.verdict}.`);
  if (a.levelVerdict !== b.levelVerdict) differences.push(`The level was judged ${a.levelVerdict}; now ${b.levelVerdict}.`);
  const quantity = b.quantity as Quantity;
  const level = (value: number | null): string => (value === null ? 'none' : sayValue(value, quantity, b.resolution));
  if (level(a.level) !== level(b.level)) differences.push(`The level was ${level(a.level)}; now ${level(b.level)}.`);
  const reach = SAME_WITHIN + (b.interval ?? a.interval ?? 0);
  differences.push(
    ...sayEvents('dropout', 'dropouts', a.dropouts, b.dropouts, reach, start),
    ...sayEvents('sag', 'sags', a.sags, b.sags, reach, start),
    ...sayEvents('shift', 'shifts', a.shifts.map(({ at }) => ({ start: at, end: at })), b.shifts.map(({ at }) => ({ start: at, end: at })), reach, start),
    ...sayEvents('gap', 'gaps', a.gaps, b.gaps, reach, start),
  );
  const lengths = b.dropouts.filter((dropout) => {
    const before = a.dropouts.find((other) => Math.abs(other.start - dropout.start) <= reach);
    return before !== undefined && lengthText(before) !== lengthText(dropout);
  }).length;
  if (lengths > 0) differences.push(`The length of ${sayCount(lengths, 'dropout is', 'dropouts is')} told differently.`);
  const time = (seconds: number | null): string => (seconds === null ? 'not known' : sayTime(seconds));
  if (time(a.shortestVisibleDropout) !== time(b.shortestVisibleDropout)) {
    differences.push(`The shortest break that may show was ${time(a.shortestVisibleDropout)}; now ${time(b.shortestVisibleDropout)}.`);
  }
  return differences;
}

function sayEvents(one: string, many: string, a: readonly Gap[], b: readonly Gap[], reach: number, start: number): string[] {
  const missing = (from: readonly Gap[], of: readonly Gap[]): Gap[] => from.filter((event) => !of.some((other) => Math.abs(other.start - event.start) <= reach));
  const say = (events: readonly Gap[], what: string): string[] => {
    if (events.length === 0) return [];
    const at = events.slice(0, NAMED).map((event) => `${(event.start - start).toFixed(2)} s`).join(', ');
    return [`${sayCount(events.length, one, many)} ${what}: at ${at}${events.length > NAMED ? ' and more' : ''}.`];
  };
  return [...say(missing(b, a), 'more than before'), ...say(missing(a, b), 'no longer found')];
}

function lengthText({ duration: { estimate, low, high } }: Dropout): string {
  return [estimate, low, high].map((value) => (value === null ? '-' : sayTime(value))).join(' ');
}
