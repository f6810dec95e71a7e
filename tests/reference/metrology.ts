/** Worked examples of measurement uncertainty and conformity. Values from memory say so. */

/**
 * Multimeter limit of error: reading 0.326 V, 0.3 % + 2 counts of 0.001 V gives 0.002978 V; standard uncertainty limit / root 3.
 * A student's worked note (pastebin.com/ucDPkWmf), product-neutral; the only public worked example that was read.
 */
export const multimeterLimit = { value: 0.326, fraction: 0.003, counts: 2, resolution: 0.001, limit: 0.002978 } as const;

/** Digital resolution: step d gives u = 0.29 d. GUM F.2.2.1, through the R package clanTools (resolution.uncertainty.abs). */
export const resolutionFactor = 0.29;

/** Rectangular distribution of half-width 1: u = 0.5773502691896258. GTC library, type_b.py, uniform (GUM 4.3.7). */
export const rectangularFactor = 0.5773502691896258;

/**
 * Standard uncertainty of a mean: GUM H.2, voltages of the five observation sets; mean 4.999 V, u 0.0032093613071761 V.
 * GTC library, type_a.py, multi_estimate_real, "From Appendix H2 in the GUM" (JCGM 100:2008).
 */
export const gumH2 = { volts: [5.007, 4.994, 5.005, 4.99, 4.999], mean: 4.999, standard: 0.0032093613071761 } as const;

/**
 * EA-4/02 supplement S9, hand-held multimeter at 100 V DC: half-width of the largest (rectangular) part 0.05 V, the source
 * u 0.001 V, its drift +/-0.011 V rectangular; u 0.030 V, k 1.65, reported U 0.05 V. From memory, recomputed.
 */
export const ea402S9 = { bound: 0.05, sourceStandard: 0.001, driftBound: 0.011, standard: 0.03, expanded: 0.05 } as const;

/** Conformance probabilities, JCGM 106:2012 clause 7: Zener voltage (7.3.2) and kinematic viscosity (7.4); from memory, printed 0.92 and 0.66. */
export const jcgm106: readonly { readonly low: number | null; readonly high: number | null; readonly value: number; readonly standard: number; readonly chance: number }[] = [
  { low: null, high: -5.4, value: -5.47, standard: 0.05, chance: 0.92 },
  { low: 12.5, high: 16.3, value: 13.6, standard: 1.8, chance: 0.66 },
];

/**
 * JCGM 106:2012, 9.5.4 through the suncal library (doc/API Examples/Risk - Ball Bearing): prior gamma (shape 4, scale 1/4 um),
 * measurement u 0.25 um, limit 2 um. Chance that a part passes and is bad: 0.008019 with the limit itself as acceptance
 * limit, 0.001 with a guard band of 0.32817 um.
 */
export const ballBearing = {
  limit: 2, shape: 4, scale: 0.25, standard: 0.25, nonconforming: 0.04238011199168401, falseAccept: 0.008019111884303471,
  guardBand: 0.3281712284559932, guardedFalseAccept: 0.001,
} as const;

/** Guard band w = U: a false pass has a chance below 2.5 %. ILAC-G8:09/2019 through a laboratory's policy (thelab.asia/decision-rule). */
export const guardBandRisk = 0.025;

/** Coverage of rectangular and normal distributions: 0.95 root 3 = 1.645448, 1.959964; GUM G and EA-4/02, from memory, recomputed. */
export const coverageFactors = { rectangular: 1.645448, normal: 1.959964 } as const;
