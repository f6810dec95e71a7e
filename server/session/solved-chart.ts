/** The circuit of a chart, solved once for each state that is asked for: hundreds of checks share a few states. Pure. */
import type { Arrangement, Circuit, SolvedCircuit } from '../diagnosis/circuit/index.ts';
import { solveCircuit } from '../diagnosis/circuit/index.ts';
import type { Chart } from './chart.ts';
import { circuitOf } from './chart-circuit.ts';

export class SolvedChart {
  readonly circuit: Circuit;
  readonly #solved = new Map<string, SolvedCircuit>();

  /** @param temperature  of the conductors, degC */
  constructor(chart: Chart, temperature: number) {
    this.circuit = circuitOf(chart, temperature);
  }

  in(arrangement: Arrangement): SolvedCircuit {
    const key = JSON.stringify([arrangement.removed, arrangement.unplugged]);
    let solved = this.#solved.get(key);
    if (solved === undefined) this.#solved.set(key, solved = solveCircuit(this.circuit, arrangement));
    return solved;
  }
}
