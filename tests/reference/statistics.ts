/** Published values of exact limits. Each entry names where it was read; values from memory say so. */

/**
 * One-sided Poisson limits: count, lower, upper.
 * Gehrels (1986), ApJ 303, 336, Tables 1 and 2, as quoted in the tests of astropy (astropy/stats/tests/test_funcs.py at commit
 * 009f0fa4). The lower limit for 3 events at 2 sigma is printed as 0.569 in the paper, a transposition of 0.596 (same source).
 */
export const gehrels: readonly { readonly confidence: number; readonly rows: readonly (readonly [number, number, number])[] }[] = [
  {
    confidence: 0.841345,
    rows: [
      [0, 0, 1.841], [1, 0.173, 3.3], [2, 0.708, 4.638], [3, 1.367, 5.918], [4, 2.086, 7.163], [5, 2.84, 8.382],
      [6, 3.62, 9.584], [7, 4.419, 10.77], [8, 5.232, 11.95], [9, 6.057, 13.11], [10, 6.891, 14.27],
    ],
  },
  {
    confidence: 0.97725,
    rows: [
      [0, 0, 3.783], [1, 0.023, 5.683], [2, 0.23, 7.348], [3, 0.596, 8.902], [4, 1.058, 10.39], [5, 1.583, 11.82],
      [6, 2.153, 13.22], [7, 2.758, 14.59], [8, 3.391, 15.94], [9, 4.046, 17.27], [10, 4.719, 18.58],
    ],
  },
];

/** Exact one-sided 95 % upper Poisson limits for 0 to 10 events: Garwood (1936), Biometrika 28; from memory. */
export const garwoodUpper95: readonly number[] = [
  2.996, 4.744, 6.296, 7.754, 9.154, 10.513, 11.842, 13.148, 14.435, 15.705, 16.962,
];

/**
 * Clopper-Pearson limits: events, trials, confidence of each one-sided limit, low, high.
 * SciPy test suite, binomtest test_confidence_intervals1 and 2 ("expected results from R 3.6.2 binom.test"), two-sided
 * intervals written as two limits; the last row: BayesianHybridDesign, R/exactci.R, exactci(r=4, n=20, conflev=0.95).
 */
export const clopperPearson: readonly (readonly [number, number, number, number, number])[] = [
  [20, 100, 0.975, 0.1266555521019559, 0.2918426890886281],
  [20, 100, 0.95, 0.1366613252458672, 0.2772002496709138],
  [3, 50, 0.995, 0.006872485, 0.202706269],
  [3, 50, 0.99, 0.008860761, 0.1872093],
  [4, 20, 0.975, 0.057334, 0.436614],
];

/** Rule of three: 3/n for n > 30 trials without an event, Eypasch et al. (1995), BMJ 311, 619-620, as quoted at errickson.net/blog/the-rule-of-three.html. */
export const ruleOfThreeTrials: readonly number[] = [40, 60, 100, 300, 1000];
