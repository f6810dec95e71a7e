/**
 * Error rates of what the tool claims (limits, comparison after a repair, association on the road, guarded verdicts), each under
 * the null and at lopsided sizes; and what the distribution functions cost.
 */
import { randomInt } from 'node:crypto';
import { guardedLevelVerdict } from '../../server/diagnosis/accuracy.ts';
import { compareBeforeAfter, perFlexUpperLimit, rateUpperLimit } from '../../server/diagnosis/claims.ts';
import { betaLower, gammaLower, normalCdf, normalQuantile, poissonUpperLimit } from '../../server/diagnosis/distributions.ts';
import { associateMarks, ROAD_DEFAULTS } from '../../server/diagnosis/road.ts';
import { betaValues, gammaValues, normalQuantileValues, normalUpperValues } from '../reference/statistics-mpmath.ts';
import { drawDriveParameters, drive } from '../signals/drive.ts';
import type { DriveParameters } from '../signals/drive.ts';
import { Random } from '../signals/random.ts';

const round = (value: number, digits = 4): number => Number(value.toPrecision(digits));

function poisson(random: Random, mean: number): number {
  let count = 0;
  for (let left = random.exponential(1); left < mean; left += random.exponential(1)) count++;
  return count;
}
const binomial = (random: Random, n: number, p: number): number => Array.from({ length: n }).filter(() => random.chance(p)).length;
const share = (trials: number, of: () => boolean): number => {
  let hits = 0;
  for (let t = 0; t < trials; t++) if (of()) hits++;
  return round(hits / trials, 3);
};

/** Largest relative difference from values at 50 digits. */
function exactness(): object {
  const worst = <Row extends readonly number[]>(rows: readonly Row[], of: (row: Row) => number, truth: (row: Row) => number): number =>
    round(Math.max(...rows.map((row) => Math.abs(truth(row) === 0 ? of(row) : of(row) / truth(row) - 1))), 2);
  return {
    normalCdf: worst(normalUpperValues, ([z]) => normalCdf(-z), ([, p]) => p),
    normalQuantile: worst(normalQuantileValues, ([p]) => normalQuantile(p), ([, z]) => z),
    gammaLower: worst(gammaValues, ([a, x]) => gammaLower(a, x), ([, , p]) => p),
    betaLower: worst(betaValues, ([a, b, x]) => betaLower(a, b, x), ([, , , p]) => p),
  };
}

function limits(random: Random): object {
  const trials = 20_000;
  return {
    'truth above the hourly limit (at most 0.05)': Object.fromEntries([[0.3, 1], [3, 0.5], [40, 0.1]].map(([mean, chance]) =>
      [`mean ${mean}, caught ${chance}`, share(trials, () => rateUpperLimit(poisson(random, (mean as number) * (chance as number)), 1, chance) < (mean as number))])),
    'truth above the limit per flex (at most 0.05)': Object.fromEntries([[20, 0.02], [59, 0.05], [400, 0.003]].map(([flexes, p]) =>
      [`${flexes} flexes at ${p}`, share(2000, () => perFlexUpperLimit(binomial(random, flexes as number, p as number), flexes as number) < (p as number))])),
    'useless repair called good at 5 % (at most 0.05)': Object.fromEntries([[60, 60, 0.1], [60, 600, 0.05], [300, 15, 0.1]].map(([before, after, rate]) =>
      [`${before} s against ${after} s`, share(trials, () => compareBeforeAfter(
        { dropouts: poisson(random, (before as number) * (rate as number)), exposure: before as number },
        { dropouts: poisson(random, (after as number) * (rate as number)), exposure: after as number },
      ).p <= 0.05)])),
  };
}

function road(random: Random): object {
  const scenario = (of: (p: DriveParameters) => DriveParameters): object => {
    const p: number[] = [];
    let withheld = 0;
    for (let k = 0; k < 4000; k++) {
      const { dropouts, marks, take } = drive(of(drawDriveParameters(random)), random);
      for (const found of associateMarks(dropouts, marks, take, ROAD_DEFAULTS)) if (found.p === null) withheld++; else p.push(found.p);
    }
    return { told: p.length, withheld, atFivePercent: round(p.filter((one) => one <= 0.05).length / p.length, 3), atOnePercent: round(p.filter((one) => one <= 0.01).length / p.length, 3) };
  };
  return {
    'no link, scattered': scenario((p) => ({ ...p, markCluster: 1, dropoutCluster: 1, quiet: 1 })),
    'no link, clustered': scenario((p) => ({ ...p, markCluster: 4, dropoutCluster: 6, quiet: 1 })),
    'no link, slow common factor': scenario((p) => ({ ...p, quiet: 0.05 })),
    'no link, all of it drawn': scenario((p) => p),
    'two marks in ten bring a dropout': scenario((p) => ({ ...p, link: 0.2 })),
    'four marks in ten bring a dropout': scenario((p) => ({ ...p, link: 0.4 })),
  };
}

function guarded(random: Random): object {
  const passes = (fraction: number, noise: number, outside: number): number => share(4000, () => {
    const bound = fraction * 12 + 0.02;
    const low = 12 + 0.01 * random.uniform();
    const truth = low - outside * bound;
    const value = Math.round((truth + bound * random.between(-1, 1) + (noise / Math.sqrt(10)) * random.gauss()) / 0.01) * 0.01;
    return guardedLevelVerdict({ value, accuracy: { fraction, counts: 2 }, resolution: 0.01, noise, readings: 10 }, { low, high: null }).verdict === 'pass';
  });
  return {
    'value at the limit, rectangular error': passes(0.005, 0.001, 0), 'value at the limit, noise alike': passes(0.001, 0.1, 0),
    'value outside by a tenth of the accuracy': passes(0.005, 0.001, 0.1),
  };
}

function cost(): object {
  const loop = (of: (i: number) => number): number => {
    let sum = 0;
    const begin = performance.now();
    for (let i = 0; i < 100_000; i++) sum += of(i);
    return sum === 0 ? Infinity : performance.now() - begin;
  };
  const exponential = loop((i) => Math.exp(-i / 1e5));
  return {
    note: 'times against Math.exp in the same run',
    normalCdf: round(loop((i) => normalCdf(i / 2e4 - 2.5)) / exponential, 2),
    poissonUpperLimit: round(loop((i) => poissonUpperLimit(i % 30, 0.95)) / exponential, 2),
  };
}

export default {
  name: 'statistics',
  run: async (): Promise<object> => {
    const seed = randomInt(2 ** 31);
    const random = new Random(seed);
    return {
      seed, largestRelativeError: exactness(), limits: limits(random.fork()), roadAssociation: road(random.fork()),
      wrongPassAtTheLimit: guarded(random.fork()), cost: cost(),
    };
  },
};
