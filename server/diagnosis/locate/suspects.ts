/** What could be wrong, how likely that is before any reading, and how it is cut into pieces that can be compared with readings. */
import type { Fault, FaultKind } from '../circuit/index.ts';

/** One thing that may be wrong. `none`: nothing on this chart is. */
export interface Suspect {
  readonly kind: FaultKind | 'none';
  /** Part that it is in; empty for `none`. */
  readonly at: string;
  /** Of a short between: the other part. */
  readonly other?: string;
  /** Good at rest, open only when flexed or driven. */
  readonly intermittent?: boolean;
  /** Chance before any reading, against the other suspects; need not add up to 1. */
  readonly weight: number;
}

/** The place that a suspect stands for; a short between is at both its parts. */
export function placeOf(suspect: Suspect): string {
  return suspect.other === undefined ? suspect.at : `${suspect.at} and ${suspect.other}`;
}

/** Tells suspects apart: the same for the same fault in the same place, whatever its weight. */
export function suspectKey({ kind, at, other, intermittent }: Suspect): string {
  return `${kind} ${at} ${other ?? ''} ${intermittent === true}`;
}

/** A suspect with its size and place fixed to a small range: what the likelihood of a reading can be worked out for. */
export interface Hypothesis {
  /** Number of its suspect. */
  readonly suspect: number;
  /** At rest; null for a sound circuit. */
  readonly fault: Fault | null;
  /** What flexing makes of it; null where flexing changes nothing. */
  readonly flexed: Fault | null;
  /** Chance that flexing does that. */
  readonly flexChance: number;
  /** Share of all suspicion. */
  readonly prior: number;
  /** Standard deviation of the logarithm of its resistance within the range. */
  readonly spread: number;
}

/** Resistances that a fault may have, ohm, every decade equally likely, by kind. Common practice, no source. */
export const FAULT_OHMS = {
  'high-resistance': [0.05, 1e5],
  'short-to-ground': [0.02, 100],
  'short-to-supply': [0.2, 1000],
  'short-between': [0.1, 1000],
} as const;

/** Width of a range of resistance, as a logarithm. */
const STEP = { 'high-resistance': 0.5, 'short-to-ground': 0.8, 'short-to-supply': 1, 'short-between': 1 } as const;
/** Places along a wire that a short is compared at. */
const POSITIONS = { 'short-to-ground': [0.17, 0.5, 0.83], 'short-to-supply': [0.25, 0.75], 'short-between': [0.25, 0.75] } as const;
/** A bad joint opens when flexed in so many cases (common practice, no source). */
const JOINT_OPENS = 0.5;

/** Cuts suspects into hypotheses. Priors add up to 1. */
export function hypothesesOf(suspects: readonly Suspect[]): Hypothesis[] {
  const total = suspects.reduce((sum, suspect) => sum + suspect.weight, 0);
  if (!(total > 0)) throw new RangeError('no suspect has any weight');
  return suspects.flatMap((suspect, order) => {
    const prior = suspect.weight / total;
    const one = (fault: Fault | null, share: number, spread: number, flexed: Fault | null, flexChance: number): Hypothesis => ({
      suspect: order, fault, flexed, flexChance, prior: prior * share, spread,
    });
    if (suspect.kind === 'none') return [one(null, 1, 0, null, 0)];
    const open: Fault = { kind: 'open', at: suspect.at };
    if (suspect.kind === 'open') return [suspect.intermittent === true ? one(null, 1, 0, open, 1) : one(open, 1, 0, null, 0)];
    const kind = suspect.kind;
    const [low, high] = FAULT_OHMS[kind];
    const sizes = ranges(low, high, STEP[kind]);
    // Neighbouring bell curves of this width, one step apart, add up to an even spread.
    const spread = 0.6 * STEP[kind];
    if (kind === 'high-resistance') return sizes.map((ohms) => one({ kind, at: suspect.at, ohms }, 1 / sizes.length, spread, open, JOINT_OPENS));
    const positions = POSITIONS[kind];
    return sizes.flatMap((ohms) => positions.map((position) => one(
      { kind, at: suspect.at, ohms, position, ...(suspect.other === undefined ? {} : { other: suspect.other, otherPosition: position }) },
      1 / (sizes.length * positions.length), spread, null, 0,
    )));
  });
}

function ranges(low: number, high: number, step: number): number[] {
  const count = Math.ceil(Math.log(high / low) / step);
  return Array.from({ length: count }, (_, order) => low * Math.exp(((order + 0.5) / count) * Math.log(high / low)));
}
