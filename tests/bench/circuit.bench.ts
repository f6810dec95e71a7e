/**
 * The circuit model against ngspice on many more random charts than the tests take, and how much quicker many faults
 * are solved from one inverse than one by one. CIRCUIT_CASES sets the number of charts.
 */
import { env } from 'node:process';
import { AS_FOUND, METER_OHMS_CURRENT, solveCircuit } from '../../server/diagnosis/circuit/index.ts';
import type { Fault } from '../../server/diagnosis/circuit/index.ts';
import { FaultSolver } from '../../server/diagnosis/locate/index.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { Random } from '../signals/random.ts';
import { compareWithSimulator } from '../support/simulator-cases.ts';
import { randomChart } from '../support/random-chart.ts';

export default {
  name: 'circuit',
  run: async (): Promise<object> => {
    const seed = Math.floor(Math.random() * 2 ** 31);
    const cases = Number(env['CIRCUIT_CASES'] ?? 1000);
    const compared = compareWithSimulator(new Random(seed), cases);
    const beyond = compared.filter(({ value, expected, scale }) => Math.abs(value - expected) > Math.max(0.001 * Math.abs(expected), 1e-6 * scale));
    const relative = compared.filter(({ expected, scale }) => Math.abs(expected) > 1e-3 * scale).map(({ value, expected }) => Math.abs(value / expected - 1));

    const random = new Random(seed + 1);
    const chart = randomChart(random, { circuits: [1, 1], loads: [3, 3], parallelGround: 0 });
    const circuit = circuitOf(chart);
    const faults = chart.spans.flatMap((span): Fault[] => Array.from({ length: 30 }, (_, order) => ({ kind: 'high-resistance', at: span.id, ohms: 0.05 * 1.6 ** order })));
    const point = chart.points[chart.points.length - 1]?.id ?? '';
    const probe = { id: '', arrangement: AS_FOUND, quantity: 'voltage' as const, red: point, black: circuit.ground };
    const oneByOne = timed(() => faults.forEach((fault) => solveCircuit(circuit, AS_FOUND, [fault]).volts(point, circuit.ground)));
    const fromOneInverse = timed(() => {
      const solver = new FaultSolver(circuit);
      for (const fault of faults) solver.solve(AS_FOUND, fault).reading(probe);
    });
    return {
      seed, charts: cases, readings: compared.length, beyondAThousandthOrAMicrovolt: beyond.length, largestRelativeDifference: Math.max(...relative), ohmsTestCurrent: METER_OHMS_CURRENT,
      faults: faults.length, oneByOneOverOneInverse: oneByOne / fromOneInverse,
    };
  },
};

function timed(work: () => void): number {
  work();
  const start = performance.now();
  for (let round = 0; round < 3; round++) work();
  return performance.now() - start;
}
