/** How far a real circuit may be from its chart. Common practice, no source; each can be given for the case at hand. */
import type { Circuit } from '../circuit/index.ts';

export interface Tolerance {
  /** Standard deviation of a wire's resistance, part of it. */
  readonly wire: number;
  /** Of one joint, fuse or contact, ohm. */
  readonly jointOhms: number;
  /** Of a load's resistance, part of it. */
  readonly load: number;
  /** Of the battery voltage, part of it. */
  readonly volts: number;
  /** Chance that one entry of the chart (a length, a cross-section) is quite wrong, and by how much then, part of the resistance. */
  readonly chartError: number;
  readonly chartErrorSize: number;
  /** Chance that a reading is worth nothing: lead slipped, wrong pin. */
  readonly slip: number;
}

export const USUAL_TOLERANCE: Tolerance = { wire: 0.07, jointOhms: 0.003, load: 0.1, volts: 0.015, chartError: 0.1, chartErrorSize: 0.6, slip: 0.005 };

/** Standard deviation of each part's resistance, ohm, in the order of the circuit's parts. */
export function partDeviations(circuit: Circuit, tolerance: Tolerance): Float64Array {
  return Float64Array.from(circuit.parts, (part) => {
    switch (part.kind) {
      case 'battery':
        return 0;
      case 'load':
        return tolerance.load * part.ohms;
      case 'span': {
        const joints = (part.fromJointOhms ?? 0) + (part.toJointOhms ?? 0);
        return Math.hypot(tolerance.wire * (part.ohms - joints), Math.SQRT2 * tolerance.jointOhms);
      }
      default:
        return tolerance.jointOhms;
    }
  });
}
