/**
 * The nodal matrix of a harness, factored so that hundreds of spans take milliseconds. A harness is nearly a tree: almost every node has one
 * or two neighbours, and such a node is taken out exactly (a star with so few rays becomes one branch), which joins no nodes that were not
 * nearly joined already. What is left, a handful of nodes with more neighbours, is inverted as a whole.
 *
 *     a --g1-- k --g2-- b   becomes   a --g1 g2 / (g1 + g2 + g0)-- b,   and what leaks to the reference (g0) is shared out to a and b
 *
 * Sums of positive terms only: nothing cancels, so that micro-ohms beside gigaohms come out right.
 */
import { Matrix, inverse } from 'ml-matrix';

/** Between two nodes by number, -1 for the reference. */
export interface Conductance { readonly a: number; readonly b: number; readonly siemens: number }

/** Nodes with at most so many neighbours are taken out one by one. */
const FEW = 2;

/** A node that was taken out. */
interface Removed {
  readonly node: number;
  /** All that it conducts, S. */
  readonly siemens: number;
  /** Share of its current that goes to each neighbour. */
  readonly shares: readonly (readonly [neighbour: number, share: number])[];
}

export class ReducedNetwork {
  readonly #removed: Removed[] = [];
  /** Nodes that are left, and their inverse nodal matrix, ohm. */
  readonly #core: readonly number[];
  readonly #inverse: Matrix;

  /** @param toReference  from each node to the reference, S, above 0: no node is without a voltage */
  constructor(count: number, conductances: readonly Conductance[], toReference: number) {
    const ground = new Float64Array(count).fill(toReference);
    const neighbours = Array.from({ length: count }, () => new Map<number, number>());
    const join = (a: number, b: number, siemens: number): void => {
      neighbours[a]!.set(b, (neighbours[a]!.get(b) ?? 0) + siemens);
      neighbours[b]!.set(a, (neighbours[b]!.get(a) ?? 0) + siemens);
    };
    for (const { a, b, siemens } of conductances) {
      if (a === b) continue;
      if (a < 0 || b < 0) ground[Math.max(a, b)]! += siemens;
      else join(a, b, siemens);
    }
    const isLeft = new Array<boolean>(count).fill(true);
    const due = Array.from({ length: count }, (_, node) => node);
    for (let node = due.pop(); node !== undefined; node = due.pop()) {
      const own = neighbours[node]!;
      if (!isLeft[node] || own.size > FEW) continue;
      isLeft[node] = false;
      const rays = [...own];
      const siemens = rays.reduce((sum, [, ray]) => sum + ray, ground[node]!);
      this.#removed.push({ node, siemens, shares: rays.map(([neighbour, ray]) => [neighbour, ray / siemens] as const) });
      for (const [neighbour, ray] of rays) {
        neighbours[neighbour]!.delete(node);
        ground[neighbour]! += (ray * ground[node]!) / siemens;
      }
      const [first, second] = rays;
      if (first !== undefined && second !== undefined) join(first[0], second[0], (first[1] * second[1]) / siemens);
      for (const [neighbour] of rays) due.push(neighbour);
    }
    this.#core = isLeft.flatMap((left, node) => (left ? [node] : []));
    this.#inverse = inverseOf(this.#core, neighbours, ground);
  }

  /** @param amps  driven into each node from outside @returns voltage of each node against the reference, V */
  solve(amps: Float64Array): Float64Array {
    const flow = amps.slice();
    for (const { node, shares } of this.#removed) for (const [neighbour, share] of shares) flow[neighbour]! += share * flow[node]!;
    const volts = new Float64Array(amps.length);
    const core = this.#core;
    for (let row = 0; row < core.length; row++) {
      let sum = 0;
      for (let column = 0; column < core.length; column++) sum += this.#inverse.get(row, column) * flow[core[column]!]!;
      volts[core[row]!] = sum;
    }
    for (let order = this.#removed.length - 1; order >= 0; order--) {
      const { node, siemens, shares } = this.#removed[order]!;
      let sum = flow[node]! / siemens;
      for (const [neighbour, share] of shares) sum += share * volts[neighbour]!;
      volts[node] = sum;
    }
    return volts;
  }
}

function inverseOf(core: readonly number[], neighbours: readonly ReadonlyMap<number, number>[], ground: Float64Array): Matrix {
  if (core.length === 0) return Matrix.zeros(1, 1);
  const rowOf = new Map(core.map((node, row) => [node, row]));
  const matrix = Matrix.zeros(core.length, core.length);
  for (const [row, node] of core.entries()) {
    let sum = ground[node]!;
    for (const [neighbour, siemens] of neighbours[node]!) {
      sum += siemens;
      matrix.set(row, rowOf.get(neighbour)!, -siemens);
    }
    matrix.set(row, row, sum);
  }
  return inverse(matrix);
}
