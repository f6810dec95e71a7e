import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { ReducedNetwork, type Conductance } from '../../../server/diagnosis/circuit/reduced-network.ts';
import { Random } from '../../signals/random.ts';

/** The whole nodal matrix, solved by the library as it stands. */
function plain(count: number, conductances: readonly Conductance[], toReference: number, amps: Float64Array): number[] {
  const matrix = Matrix.eye(count, count, toReference);
  for (const { a, b, siemens } of conductances) {
    for (const [own, other] of [[a, b], [b, a]] as const) {
      if (own < 0 || a === b) continue;
      matrix.set(own, own, matrix.get(own, own) + siemens);
      if (other >= 0) matrix.set(own, other, matrix.get(own, other) - siemens);
    }
  }
  return solve(matrix, Matrix.columnVector(Array.from(amps))).to1DArray();
}

describe('ReducedNetwork', () => {
  it.each([
    ['a chain', 30, 0], ['a tree', 60, 0], ['a tree with loops', 60, 12], ['a mesh', 12, 40], ['one node', 1, 0], ['two nodes', 2, 3],
  ] as const)('gives %s the voltages that the whole matrix gives', (shape, count, more) => {
    const random = new Random(count + more);
    const any = (): number => Math.floor(random.between(-1, count));
    const tree = Array.from({ length: count }, (_, a): Conductance => ({ a, b: shape === 'a chain' ? a - 1 : Math.floor(random.between(-1, a)), siemens: random.logBetween(0.1, 1000) }));
    const conductances = [...tree, ...Array.from({ length: more }, (): Conductance => ({ a: any(), b: any(), siemens: random.logBetween(0.1, 1000) })).filter(({ a, b }) => a >= 0 || b >= 0)];
    const amps = Float64Array.from({ length: count }, () => random.between(-1, 1));
    const own = new ReducedNetwork(count, conductances, 1e-6).solve(amps);
    const expected = plain(count, conductances, 1e-6, amps);
    own.forEach((volts, node) => expect(volts).toBeCloseTo(expected[node]!, 9));
  });

  it('tells milliohms apart in a part that nothing but its insulation joins to the rest', () => {
    // Two wires of 1 and 2 milliohm in series that hang in the air: by hand, 3 milliohm.
    const floating = new ReducedNetwork(3, [{ a: 0, b: 1, siemens: 1000 }, { a: 1, b: 2, siemens: 500 }], 1e-10);
    const volts = floating.solve(Float64Array.of(1, 0, -1));
    expect(volts[0]! - volts[2]!).toBeCloseTo(0.003, 12);
  });
});
