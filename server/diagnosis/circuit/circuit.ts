/**
 * What the model knows of a circuit: parts between points, the state that it is put into for a
 * check, and what can be wrong with it.
 */

/** Anything that current flows through from one point to another. */
export interface CircuitPart {
  readonly id: string;
  /** Points; a span runs from supply to ground, so that "in" and "out" of a connector are known. */
  readonly from: string;
  readonly to: string;
  readonly kind: 'span' | 'fuse' | 'contact' | 'load' | 'battery';
  /** Whole resistance, joints included, ohm: of a load when hot, of a battery inside. */
  readonly ohms: number;
  /** A span's joint at its beginning and end, ohm, contained in `ohms`. */
  readonly fromJointOhms?: number;
  readonly toJointOhms?: number;
  /** A filament that is not lit, ohm. A cold lamp reads about a tenth of its hot resistance. */
  readonly coldOhms?: number;
  /** Rating of a fuse, A. */
  readonly amps?: number;
  /** Of a battery, V; `from` is its positive post. */
  readonly volts?: number;
}

/** A leak between two points of different wires: damp insulation, a pull-up, a neighbour that lends its voltage. */
export interface Leak {
  readonly a: string;
  readonly b: string;
  readonly ohms: number;
}

export interface Circuit {
  readonly parts: readonly CircuitPart[];
  readonly leaks: readonly Leak[];
  /** Connector by point: unplugging it parts the spans that end at the point from those that begin there. */
  readonly connectors: Readonly<Record<string, string>>;
  /** Battery negative: 0 V. */
  readonly ground: string;
  /** Where a short to ground goes: the metal that the harness runs along. */
  readonly chassis: string;
  /** Where a short to supply comes from: battery positive. */
  readonly supply: string;
}

/** The state that a circuit is put into for a check. */
export interface Arrangement {
  /** Parts taken out: fuse pulled, switch open, load unplugged or off, battery disconnected. */
  readonly removed: readonly string[];
  /** Connectors pulled apart. */
  readonly unplugged: readonly string[];
}

export const AS_FOUND: Arrangement = { removed: [], unplugged: [] };

export const FAULT_KINDS = ['open', 'high-resistance', 'short-to-ground', 'short-to-supply', 'short-between'] as const;
export type FaultKind = (typeof FAULT_KINDS)[number];

export interface Fault {
  readonly kind: FaultKind;
  /** The part that it is in. */
  readonly at: string;
  /** In series for `high-resistance`, across for the shorts; an `open` has none. ohm, > 0. */
  readonly ohms?: number;
  /** Of a short: place along the wire, 0 at its beginning, 1 at its end; 0.5 when left out. */
  readonly position?: number;
  /** Of a short between: the other part, and the place along that. */
  readonly other?: string;
  readonly otherPosition?: number;
}

/** The point as seen from the spans that end there (`in`) or begin there (`out`), with its connector pulled apart. */
export function half(point: string, side: 'in' | 'out'): string {
  return `${point}:${side}`;
}

/** The point of a node that may be one half of it. */
export function wholePoint(node: string): string {
  return node.replace(/:(in|out)$/, '');
}
