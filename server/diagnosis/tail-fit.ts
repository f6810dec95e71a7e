/**
 * How far the next excursions of a noise may go, from those seen. What lies beyond a high threshold follows the generalised Pareto
 * distribution (Pickands 1975), whose shape goes from bounded noise (below 0) through exponential (0) to power laws (above 0). Shape
 * and scale are not known but averaged over, so that few excursions ask for a wide margin and many for a narrow one.
 */
import { normalUpper } from './normal.ts';

/** Prior of the shape: normal noise is near -0.1, Student's t with three degrees of freedom at 1/3. */
const SHAPE = { mean: 0.1, deviation: 0.15, lowest: -0.38, step: 0.04, nodes: 29 };
/** Prior of the scale, in noise deviations: normal in its logarithm. Exponential noise has about 1, bursts of interference up to 15. */
const LOG_SCALE = { mean: 0.3, deviation: 1 };
const SCALE_NODES = 21;

/**
 * So many excursions went beyond the threshold by something between these sizes, in noise deviations: a display shows whole counts.
 * On their grid of counts those below `least` would not have been seen.
 */
export interface Excess { readonly from: number; readonly to: number; readonly least: number; readonly count: number }

/**
 * Size beyond the threshold that, in as much time again, is expected to be exceeded `allowed` times, in noise deviations.
 * @param excesses  excursions beyond the threshold, at least one @param allowed  0 < allowed < their number
 * @param normal  where nothing seen speaks against normal noise: the threshold, in deviations of that noise, and the odds beforehand that it is heavier; the limit weighs both
 */
export function excessLimit(excesses: readonly Excess[], allowed: number, normal: { readonly from: number; readonly heavierOdds: number } | null = null): number {
  let n = 0;
  let sum = 0;
  for (const { from, to, count } of excesses) {
    n += count;
    sum += (count * (from + to)) / 2;
  }
  const centre = (Math.log(Math.max(1e-3, sum / n)) * n + LOG_SCALE.mean) / (n + 1);
  const width = Math.min(3, 0.4 + 4 / Math.sqrt(n));
  const nodes: { shape: number; scale: number; log: number; all: number }[] = [];
  let highest = -Infinity;
  for (let i = 0; i < SHAPE.nodes; i++) {
    const shape = SHAPE.lowest + i * SHAPE.step;
    for (let j = 0; j < SCALE_NODES; j++) {
      const logScale = centre + width * ((2 * j) / (SCALE_NODES - 1) - 1);
      const scale = Math.exp(logScale);
      let log = -(((shape - SHAPE.mean) / SHAPE.deviation) ** 2) / 2 - ((logScale - LOG_SCALE.mean) / LOG_SCALE.deviation) ** 2 / 2;
      let unseen = 0;
      for (const { from, to, least, count } of excesses) {
        const seen = beyond(least, shape, scale);
        log += count * Math.log((beyond(from, shape, scale) - beyond(to, shape, scale)) / seen);
        unseen += count * (1 / seen - 1);
      }
      if (!(log > -Infinity)) continue;
      if (log > highest) highest = log;
      nodes.push({ shape, scale, log, all: n + unseen });
    }
  }
  const likely = nodes.filter((node) => node.log > highest - 12).map(({ shape, scale, log, all }) => ({ shape, scale, all, weight: Math.exp(log - highest) }));
  const asNormal = normal === null ? null : normalNoise(excesses, normal.from);
  // The nodes stand for an area each of the prior of shape and scale, which normal noise does not share.
  const area = (SHAPE.step / SHAPE.deviation) * ((2 * width) / (SCALE_NODES - 1) / LOG_SCALE.deviation) / (2 * Math.PI);
  const normalWeight = normal === null || asNormal === null ? 0 : Math.exp(asNormal.log - highest) / (normal.heavierOdds * area);
  const total = likely.reduce((all, node) => all + node.weight, normalWeight);
  const expectedBeyond = (size: number): number => {
    let expected = asNormal === null ? 0 : normalWeight * asNormal.all * asNormal.beyond(size);
    for (const { shape, scale, all, weight } of likely) expected += weight * all * beyond(size, shape, scale);
    return expected / total;
  };
  let low = 1e-3;
  let high = 1e4;
  for (let i = 0; i < 24; i++) {
    const middle = Math.sqrt(low * high);
    if (expectedBeyond(middle) > allowed) low = middle;
    else high = middle;
  }
  return high;
}

/** Chance that an excess is larger than `size` (>= 0). */
function beyond(size: number, shape: number, scale: number): number {
  const inner = 1 + (shape * size) / scale;
  return inner > 0 ? inner ** (-1 / shape) : 0;
}

/** The same excursions as normal noise would make them: their log likelihood, how many there were beyond the threshold, seen or not, and the chance that one goes farther. */
function normalNoise(excesses: readonly Excess[], threshold: number): { log: number; all: number; beyond: (size: number) => number } {
  const beyondThreshold = (size: number): number => normalUpper(threshold + size) / normalUpper(threshold);
  let log = 0;
  let all = 0;
  for (const { from, to, least, count } of excesses) {
    const seen = beyondThreshold(least);
    log += count * Math.log((beyondThreshold(from) - beyondThreshold(to)) / seen);
    all += count / seen;
  }
  return { log, all, beyond: beyondThreshold };
}
