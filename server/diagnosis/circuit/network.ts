/**
 * Nodal analysis of a resistive network. One factoring answers every place where two leads can
 * be put: the inverse of the nodal matrix holds both the open voltages and the resistance seen
 * between any two nodes (Thevenin).
 */
import { Matrix, inverse } from 'ml-matrix';

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

export class SolvedNetwork {
  readonly #index: ReadonlyMap<string, number>;
  readonly #inverse: Matrix;
  readonly #state: readonly number[];
  readonly #sources: number;

  constructor(index: ReadonlyMap<string, number>, inverted: Matrix, state: readonly number[], sources: number) {
    this.#index = index;
    this.#inverse = inverted;
    this.#state = state;
    this.#sources = sources;
  }

  has(node: string): boolean {
    return this.#index.has(node);
  }

  /** Voltage of a node against the reference, V. @throws {RangeError} for a node that the network does not have */
  voltage(node: string): number {
    const at = this.#at(node);
    return at < 0 ? 0 : this.#state[at] ?? 0;
  }

  /** Resistance seen between two nodes with every source at rest, ohm. */
  resistance(a: string, b: string): number {
    const i = this.#at(a);
    const j = this.#at(b);
    return this.#entry(i, i) + this.#entry(j, j) - this.#entry(i, j) - this.#entry(j, i);
  }

  /**
   * Transfer resistance: the voltage between c and d for one ampere driven in at a and out at b, ohm.
   * By reciprocity it is also the voltage between a and b for one ampere from c to d.
   */
  transfer(a: string, b: string, c: string, d: string): number {
    const [i, j, k, l] = [this.#at(a), this.#at(b), this.#at(c), this.#at(d)];
    return this.#entry(k, i) - this.#entry(k, j) - this.#entry(l, i) + this.#entry(l, j);
  }

  /** Place of a node in `voltages` and `driven`; -1 for the reference, which is at 0. */
  place(node: string): number {
    return this.#at(node);
  }

  /** Voltages of all nodes against the reference, V, by place. */
  voltages(): Float64Array {
    return Float64Array.from(this.#state.slice(0, this.#state.length - this.#sources));
  }

  /** Voltages of all nodes, by place, with every source at rest and one ampere driven in at one node and out at another, V/A. */
  driven(into: string, outOf: string): Float64Array {
    const [i, j] = [this.#at(into), this.#at(outOf)];
    return Float64Array.from({ length: this.#state.length - this.#sources }, (_, row) => this.#entry(row, i) - this.#entry(row, j));
  }

  /** Current delivered by a source (out of its plus), in the order in which sources were given, A. */
  sourceCurrent(order: number): number {
    if (!(order >= 0 && order < this.#sources)) throw new RangeError(`no source ${order}`);
    return this.#state[this.#state.length - this.#sources + order] ?? 0;
  }

  #at(node: string): number {
    const at = this.#index.get(node);
    if (at === undefined) throw new RangeError(`no node "${node}" in the network`);
    return at;
  }

  #entry(row: number, column: number): number {
    return row < 0 || column < 0 ? 0 : this.#inverse.get(row, column);
  }
}

/**
 * Modified nodal analysis: unknowns are the node voltages and the source currents.
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
  let sources = 0;
  for (const element of elements) {
    if (element.kind === 'resistor') {
      if (!(element.ohms > 0 && Number.isFinite(element.ohms))) throw new RangeError(`resistance ${element.a} to ${element.b} must be above 0 ohm and finite, got ${element.ohms}`);
      place(element.a);
      place(element.b);
    } else {
      if (!(element.ohms >= 0 && Number.isFinite(element.ohms))) throw new RangeError(`internal resistance must be at least 0 ohm and finite, got ${element.ohms}`);
      place(element.plus);
      place(element.minus);
      sources++;
    }
  }
  const size = count + sources;
  if (size === 0) return new SolvedNetwork(index, Matrix.zeros(1, 1), [], 0);
  const matrix = Matrix.zeros(size, size);
  const right: number[] = new Array<number>(size).fill(0);
  const add = (row: number, column: number, value: number): void => {
    if (row >= 0 && column >= 0) matrix.set(row, column, matrix.get(row, column) + value);
  };
  for (let node = 0; node < count; node++) add(node, node, 1 / FLOATING_OHMS);
  let source = count;
  for (const element of elements) {
    if (element.kind === 'resistor') {
      const [a, b, siemens] = [place(element.a), place(element.b), 1 / element.ohms];
      if (a === b) continue;
      add(a, a, siemens);
      add(b, b, siemens);
      add(a, b, -siemens);
      add(b, a, -siemens);
    } else {
      const [plus, minus] = [place(element.plus), place(element.minus)];
      // The source current flows out of plus into the network: sum of currents leaving a node is 0.
      add(plus, source, -1);
      add(minus, source, 1);
      add(source, plus, 1);
      add(source, minus, -1);
      add(source, source, element.ohms);
      right[source] = element.volts;
      source++;
    }
  }
  const inverted = inverse(matrix);
  const state = new Array<number>(size).fill(0);
  for (let row = 0; row < size; row++) {
    let sum = 0;
    for (let column = count; column < size; column++) sum += inverted.get(row, column) * (right[column] ?? 0);
    state[row] = sum;
  }
  return new SolvedNetwork(index, inverted, state, sources);
}
