/**
 * Ghost voltages by capacitance: a wire that hangs in the air beside one that carries an alternating voltage reads
 * a part of it on a meter of 10 Mohm, and next to nothing with a lamp as load.
 */
import { Matrix, solve } from 'ml-matrix';
import type { SolvedCircuit } from './solve.ts';
import { METER_INPUT_OHMS } from './solve.ts';

/** Between two wires of a loom that run side by side, F per m (from memory: some tens of picofarad). */
export const LOOM_FARADS_PER_METRE = 50e-12;

export interface Pickup {
  /** Point of the wire that carries the alternating voltage. */
  readonly from: string;
  /** Point of the wire that picks it up. */
  readonly to: string;
  /** Between the two, F. */
  readonly farads: number;
  /** RMS against ground, V, held whatever is drawn. */
  readonly volts: number;
  readonly hertz: number;
}

/**
 * Alternating voltage that a meter reads between two points, V RMS. The batteries are at rest, for alternating
 * current a wire; the circuit is the one that was solved, seen by its resistances.
 * @param lamp  resistance put across the leads as a load, ohm; null for the meter alone
 * @throws {RangeError} for a capacitance or frequency that is not above 0, or a point that the circuit does not have
 */
export function pickupVolts(solved: SolvedCircuit, pickup: Pickup, red: string, black: string, lamp: number | null = null, input = METER_INPUT_OHMS): number {
  const { from, to, farads, volts, hertz } = pickup;
  if (!(farads > 0)) throw new RangeError(`capacitance must be above 0 F, got ${farads}`);
  if (!(hertz > 0)) throw new RangeError(`frequency must be above 0 Hz, got ${hertz}`);
  const { network } = solved;
  const ground = solved.circuit.ground;
  const load = lamp === null ? input : (input * lamp) / (input + lamp);
  // Three ports of the resistive network: where the voltage is held, where it couples in, and the leads. Each port's voltage is Z times the
  // currents driven in: i1 by the source, i2 through the capacitor (out of port 1 as well), i3 by the meter.
  const z = (a: string, b: string, c: string, d: string): number => network.transfer(a, b, c, d);
  const [z11, z12, z13] = [z(from, ground, from, ground), z(from, ground, to, ground), z(from, ground, red, black)];
  const [z22, z23, z33] = [z(to, ground, to, ground), z(to, ground, red, black), z(red, black, red, black)];
  const reactance = 1 / (2 * Math.PI * hertz * farads);
  // Unknown: s (source current), c (capacitor current, from 1 to 2), m (current into the meter), each with real and imaginary part.
  //   z11 (s - c) + z12 c - z13 m                                = volts
  //   (z11 - z12) (s - c) + (z12 - z22) c - (z13 - z23) m - c / (j w C) = 0
  //   z13 (s - c) + z23 c - z33 m - load m                       = 0
  const real = [
    [z11, z12 - z11, -z13],
    [z11 - z12, 2 * z12 - z11 - z22, z23 - z13],
    [z13, z23 - z13, -z33 - load],
  ];
  const matrix = Matrix.zeros(6, 6);
  real.forEach((row, i) => row.forEach((value, j) => {
    matrix.set(i, j, value);
    matrix.set(i + 3, j + 3, value);
  }));
  // -c / (j w C) is +j c X: real part -X times the imaginary part of c, imaginary part +X times its real part.
  matrix.set(1, 4, -reactance);
  matrix.set(4, 1, reactance);
  const currents = solve(matrix, Matrix.columnVector([volts, 0, 0, 0, 0, 0]));
  return load * Math.hypot(currents.get(2, 0), currents.get(5, 0));
}
