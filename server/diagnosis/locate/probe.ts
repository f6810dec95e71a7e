/** A place and way to measure, as the locating knows it: one check in model terms. */
import type { Arrangement } from '../circuit/index.ts';

export interface Probe {
  /** Of the check that it stands for. */
  readonly id: string;
  readonly arrangement: Arrangement;
  readonly quantity: 'voltage' | 'resistance';
  /** Nodes: points, or halves of a point whose connector is pulled apart. */
  readonly red: string;
  readonly black: string;
  /** A 21 W lamp across the leads. */
  readonly lamp?: boolean;
}

/** What was read there. */
export interface Observation {
  readonly probe: Probe;
  /** SI; Infinity for over-range. */
  readonly value: number;
  /** Standard uncertainty of the meter, SI. */
  readonly uncertainty: number;
  /** What a wiggle take at this place showed; missing for a spot reading. */
  readonly flexing?: Flexing;
  /** How often it was read alike before: a lead does not slip twice in the same way. 0 when left out. */
  readonly repeats?: number;
}

export interface Flexing {
  readonly flexes: number;
  /** Parts that were flexed; missing when all were. */
  readonly parts?: readonly string[];
  /** Dropouts seen. */
  readonly dropouts: number;
}

/** What a component of the circuit does, from the complaint. */
export interface Symptom {
  readonly load: string;
  readonly works: boolean;
}

/** Leads at the same places, in the same state, on the same function: what the level reads there is the same reading. */
export function isSamePlace(a: Probe, b: Probe): boolean {
  return a.red === b.red && a.black === b.black && a.quantity === b.quantity && (a.lamp ?? false) === (b.lamp ?? false) && sameMembers(a.arrangement.removed, b.arrangement.removed)
    && sameMembers(a.arrangement.unplugged, b.arrangement.unplugged);
}

function sameMembers(a: readonly string[], b: readonly string[]): boolean {
  return a === b || (a.length === b.length && a.every((member) => b.includes(member)));
}
