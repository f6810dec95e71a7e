/**
 * Conditional comparison of two Poisson rates, computed with SciPy 1.17.1: binomtest(after, before + after, share, alternative='less')
 * for p, and the upper limit of its exact one-sided 95 % interval turned into a ratio of rates.
 * Dropouts and exposure before, dropouts and exposure after, p, limit of the ratio after / before.
 */
export const comparisonValues: readonly (readonly [number, number, number, number, number, number])[] = [
  [5, 60, 0, 60, 0.03125, 0.8205642030260794],
  [3, 60, 0, 120, 0.03703703703703705, 0.8572088082974533],
  [12, 300, 2, 300, 0.0064697265625, 0.6270472058558846],
  [7, 45, 3, 200, 0.0005011891837091212, 0.34697216812000514],
  [1, 10, 0, 500, 0.019607843137254943, 0.37999999999999967],
  [40, 600, 20, 590, 0.008068796500093803, 0.8202433222780864],
  [2, 1000, 1, 10, 0.9997078523654738, 638.8232908695869],
  [9, 59, 0, 59, 0.001953125, 0.3949507939624214],
];
