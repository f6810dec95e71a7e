/**
 * The aperture of a real meter, measured from taps: the user lifts the lead and sets it down again, a number of times, each
 * time for longer than a few readings. No timing is needed. An edge that falls within an aperture leaves a reading between
 * the two levels; one that falls into the dead time doesn't. So the share of edges with such a reading is A / T.
 * Derivation: DERIVATIONS.md, "Measuring the aperture".
 */
import { binomialLowerLimit, binomialUpperLimit } from './distributions.ts';

/** The readings around one edge: the signal goes from one level to the other, once. SI. */
export interface Edge {
  /** Readings from at least two before the edge to at least three after it. */
  readonly values: readonly number[];
  /** Level before and after. */
  readonly from: number;
  readonly to: number;
}

export interface MeasuredAperture {
  /** Aperture as a part of the interval, with exact 95 % limits. */
  readonly part: number;
  readonly low: number;
  readonly high: number;
  /** Edges that count. */
  readonly edges: number;
  /** Edges still needed before the limits are within +/-0.1; 0 when they are. */
  readonly edgesNeeded: number;
  /** The meter averages over several readings: an aperture means little then. */
  readonly isAveraging: boolean;
}

/** A reading closer than this to a level, as a part of the step, counts as at it: noise and settling hide the rest. */
const EDGE_MARGIN = 0.03;
/** Fewer edges say nothing. */
const FEWEST_EDGES = 10;
const WANTED_HALF_WIDTH = 0.1;

/**
 * Aperture of a meter from edges at unknown moments. About 50 taps (100 edges) give +/-0.1 of the interval.
 * @param noise  standard deviation of a quiet reading, SI
 * @returns null below ten usable edges (the step must exceed the noise a hundredfold)
 */
export function measureAperture(edges: readonly Edge[], noise: number): MeasuredAperture | null {
  let usable = 0;
  let partial = 0;
  let several = 0;
  for (const { values, from, to } of edges) {
    const step = to - from;
    if (!(Math.abs(step) > 100 * noise)) continue;
    usable++;
    const between = values.filter((value) => {
      const part = (value - from) / step;
      return part > EDGE_MARGIN && part < 1 - EDGE_MARGIN;
    }).length;
    if (between > 0) partial++;
    if (between > 1) several++;
  }
  if (usable < FEWEST_EDGES) return null;
  // An edge within the margin of an aperture's ends leaves no visible trace.
  const visible = 1 - 2 * EDGE_MARGIN;
  // An aperture is never nothing: where no edge fell into it, half an edge stands for it.
  const part = Math.min(1, Math.max(partial, 0.5) / usable / visible);
  const low = Math.min(1, binomialLowerLimit(partial, usable, 0.975) / visible);
  const high = Math.min(1, binomialUpperLimit(partial, usable, 0.975) / visible);
  const share = Math.min(0.95, Math.max(0.05, part));
  const wanted = Math.ceil((share * (1 - share)) / (WANTED_HALF_WIDTH / 1.96) ** 2);
  return {
    part, low, high, edges: usable,
    edgesNeeded: (high - low) / 2 <= WANTED_HALF_WIDTH ? 0 : Math.max(1, wanted - usable),
    isAveraging: several > 0.2 * usable,
  };
}
