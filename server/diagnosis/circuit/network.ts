/**
 * Nodal analysis of a resistive network. One reduction answers every place where two leads can
 * be put: the open voltages, and the resistance seen between any two nodes (Thevenin).
 */
import { ReducedNetwork, type Conductance } from './reduced-network.ts';

export interface Resistor {
  readonly kind: 'resistor';
  readonly a: string;
  readonly b: string;
  /** ohm, > 0 and finite. Leave an open one out. */
  readonly ohms: number;
}
export interface VoltageSource {
  readonly kind: 'source';
  readonly plus: string;
  readonly minus: string;
  readonly volts: number;
  /** Internal resistance, ohm, >= 0. */
  readonly ohms: number;
}
export type NetworkElement = Resistor | VoltageSource;

/** Insulation from every node to the reference, ohm: gives a wire that hangs in the air a definite voltage; far above what a meter shows. */
export const FLOATING_OHMS = 1e10;
/** Stands for a source without internal resistance, ohm: 1 microvolt at 10 A. */
const IDEAL_OHMS = 1e-7;

export class SolvedNetwork {
  readonly #index: ReadonlyMap<string, number>;
  readonly #reduced: ReducedNetwork;
  readonly #voltages: Float64Array;
  readonly #sourceCurrents: readonly number[];
  readonly #driven = new Map<string, Float64Array>();

  constructor(index: ReadonlyMap<string, number>, reduced: ReducedNetwork, voltages: Float64Array, sourceCurrents: readonly number[]) {
    this.#index = index;
    this.#reduced = reduced;
    this.#voltages = voltages;
    this.#sourceCurrents = sourceCurrents;
  }

  has(node: string): boolean {
    return this.#index.has(node);
  }

  /** Voltage of a node against the reference, V. @throws {RangeError} for a node that the network does not have */
  voltage(node: string): number {
    return valueAt(this.#voltages, this.place(node));
  }

  /** Resistance seen between two nodes with every source at rest, ohm. */
  resistance(a: string, b: string): number {
    return this.transfer(a, b, a, b);
  }

  /**
   * Transfer resistance: the voltage between c and d for one ampere driven in at a and out at b, ohm.
   * By reciprocity it is also the voltage between a and b for one ampere from c to d.
   */
  transfer(a: string, b: string, c: string, d: string): number {
    const driven = this.driven(a, b);
    return valueAt(driven, this.place(c)) - valueAt(driven, this.place(d));
  }

  /** Place of a node in `voltages` and `driven`; -1 for the reference, which is at 0. @throws {RangeError} for a node that the network does not have */
  place(node: string): number {
    const at = this.#index.get(node);
    if (at === undefined) throw new RangeError(`no node "${node}" in the network`);
    return at;
  }

  /** Voltages of all nodes against the reference, V, by place. */
  voltages(): Float64Array {
    return this.#voltages.slice();
  }

  /** Voltages of all nodes, by place, with every source at rest and one ampere driven in at one node and out at another, V/A. Not to be written to. */
  driven(into: string, outOf: string): Float64Array {
    const [i, j] = [this.place(into), this.place(outOf)];
    const key = `${i} ${j}`;
    let found = this.#driven.get(key);
    if (found === undefined) {
      const amps = new Float64Array(this.#voltages.length);
      if (i >= 0) amps[i]! += 1;
      if (j >= 0) amps[j]! -= 1;
      this.#driven.set(key, found = this.#reduced.solve(amps));
    }
    return found;
  }

  /** Current delivered by a source (out of its plus), in the order in which sources were given, A. */
  sourceCurrent(order: number): number {
    const amps = this.#sourceCurrents[order];
    if (amps === undefined) throw new RangeError(`no source ${order}`);
    return amps;
  }
}

function valueAt(values: Float64Array, place: number): number {
  return place < 0 ? 0 : values[place]!;
}

/**
 * Nodal analysis: every source with its internal resistance as a current beside a conductance (Norton), the unknowns are the node voltages.
 * @param reference  the node at 0 V
 * @param nodes  nodes that must be there even when no element touches them
 * @throws {RangeError} for a resistance outside its range
 */
export function solveNetwork(elements: readonly NetworkElement[], reference: string, nodes: Iterable<string> = []): SolvedNetwork {
  const index = new Map<string, number>([[reference, -1]]);
  let count = 0;
  const place = (node: string): number => {
    let at = index.get(node);
    if (at === undefined) index.set(node, at = count++);
    return at;
  };
  for (const node of nodes) place(node);
  const conductances: Conductance[] = [];
  const sources: { readonly plus: number; readonly minus: number; readonly volts: number; readonly ohms: number }[] = [];
  for (const element of elements) {
    if (element.kind === 'resistor') {
      if (!(element.ohms > 0 && Number.isFinite(element.ohms))) throw new RangeError(`resistance ${element.a} to ${element.b} must be above 0 ohm and finite, got ${element.ohms}`);
      conductances.push({ a: place(element.a), b: place(element.b), siemens: 1 / element.ohms });
    } else {
      if (!(element.ohms >= 0 && Number.isFinite(element.ohms))) throw new RangeError(`internal resistance must be at least 0 ohm and finite, got ${element.ohms}`);
      const source = { plus: place(element.plus), minus: place(element.minus), volts: element.volts, ohms: Math.max(element.ohms, IDEAL_OHMS) };
      sources.push(source);
      conductances.push({ a: source.plus, b: source.minus, siemens: 1 / source.ohms });
    }
  }
  const reduced = new ReducedNetwork(count, conductances, 1 / FLOATING_OHMS);
  const amps = new Float64Array(count);
  for (const { plus, minus, volts, ohms } of sources) {
    if (plus >= 0) amps[plus]! += volts / ohms;
    if (minus >= 0) amps[minus]! -= volts / ohms;
  }
  const voltages = reduced.solve(amps);
  return new SolvedNetwork(index, reduced, voltages, sources.map(({ plus, minus, volts, ohms }) => (volts - valueAt(voltages, plus) + valueAt(voltages, minus)) / ohms));
}
