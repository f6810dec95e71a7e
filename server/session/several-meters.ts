/**
 * Several meters on one circuit: each watches points of its own in the same take, and what one sees and another does not tells between which
 * points the break lies. Pure; the reasoning is that of diagnosis/coincidence.ts.
 */
import { sayBreak } from '../diagnosis/break-words.ts';
import { coincidencesOf, findBreak } from '../diagnosis/coincidence.ts';
import type { Chain, WatchingMeter } from '../diagnosis/coincidence.ts';
import type { BreakFinding, CheckKind, Dropout, Judgement, Sag } from '../diagnosis/judgement.ts';
import { isWhileProving, rigStanding } from './rig.ts';
import type { BesideLeads, TakeRecord } from './session.ts';
import type { TakeAccount } from './take-account.ts';

/** What one meter saw. */
export interface WatchedPoints {
  readonly red: string;
  readonly black: string;
  readonly judgement: Judgement;
}

/** How much the clocks of two meters may differ, s (common practice, no source). */
const CLOCKS_WITHIN = 0.1;
/** The newest coincidences that are told. */
const TOLD = 50;
/**
 * Where the circuit opens, all points on one side of the break move by the same voltage; those on the other side only lose the drop of the current
 * that stops. A change by less than this part of another meter's at the time is such a loss (common practice, no source).
 */
const SAME_CHANGE = 0.1;
/** A chance of catching is never certain. */
const SUREST = 0.98;

/** Kind of check that a meter beside is judged by: which way a break moves it follows from where its leads are along the line. */
export function kindBeside({ red, black }: Pick<BesideLeads, 'red' | 'black'>, chain: Chain | undefined, own: CheckKind): CheckKind {
  if (chain === undefined) return own;
  const load = chain.points.indexOf(chain.loadAfter);
  const isFed = (point: string): boolean => chain.points.indexOf(point) <= load;
  if (isFed(red) && !isFed(black)) return 'supply';
  return isFed(red) ? 'voltage-drop' : 'ground';
}

/**
 * @param meters  the judged meter first
 * @returns null with fewer than two meters, or where none of them measures volts
 */
export function compareMeters(take: Pick<TakeRecord, 'watching' | 'chain'>, account: TakeAccount, meters: readonly WatchedPoints[]): BreakFinding | null {
  const live = meters.filter(({ judgement }) => judgement.quantity === 'voltage');
  if (live.length < 2) return null;
  const names = namesOf(live);
  const tolerance = Math.max(...live.map(({ judgement }) => judgement.interval ?? 0)) + CLOCKS_WITHIN;
  const watching = live.map(({ red, black, judgement }, m): WatchingMeter => ({
    name: names[m] as string, red, black,
    dropouts: eventsOf(judgement, live.filter((_, other) => other !== m).map((other) => other.judgement), tolerance)
      .filter(({ start }) => !isWhileProving(account, start))
      .map(({ start, end, depth }) => ({ start, end, change: Math.sign(depth ?? 0) as -1 | 0 | 1 })),
    gaps: judgement.gaps,
    level: judgement.level,
    // A proof that held counts, though a dropout since asks for another.
    rigIsProved: ['proved', 'again'].includes(rigStanding(account, take.watching, judgement.dropouts).state),
    catchChance: Math.min(SUREST, judgement.sight?.catching.find(({ length }) => length === 0.1)?.chance ?? 0.5),
  }));
  const report = take.chain === undefined ? { coincidences: coincidencesOf(watching, tolerance), places: [] } : findBreak(take.chain, watching, tolerance);
  return { meters: names, ...report, coincidences: report.coincidences.slice(-TOLD), message: sayBreak(report, names, take.chain !== undefined) };
}

/** Dropouts, and sags that come with a dropout of another meter (a break that one sees whole another may see in part); without the mere loss of a drop. */
function eventsOf(judgement: Judgement, others: readonly Judgement[], tolerance: number): readonly (Dropout | Sag)[] {
  const meets = (a: Dropout | Sag) => (b: Dropout | Sag): boolean => b.start <= a.end + tolerance && b.end >= a.start - tolerance;
  const isSeen = (sag: Sag): boolean => others.some(({ dropouts }) => dropouts.some(meets(sag)));
  const isLoss = (event: Dropout | Sag): boolean => others.some(({ dropouts }) =>
    dropouts.some((dropout) => meets(event)(dropout) && sizeOf(event) < SAME_CHANGE * sizeOf(dropout)));
  return [...judgement.dropouts, ...judgement.sags.filter(isSeen)].filter((event) => !isLoss(event)).sort((a, b) => a.start - b.start);
}

/** V; beyond all range when the reading was over-range. */
function sizeOf({ depth }: Dropout | Sag): number {
  return depth === null ? Infinity : Math.abs(depth);
}

/** "CL- to B-"; numbered where two meters touch the same points. */
function namesOf(meters: readonly WatchedPoints[]): string[] {
  const plain = meters.map(({ red, black }) => `${red || '?'} to ${black || '?'}`);
  return plain.map((name, m) => (plain.indexOf(name) === m ? name : `${name} (${plain.slice(0, m + 1).filter((other) => other === name).length})`));
}
