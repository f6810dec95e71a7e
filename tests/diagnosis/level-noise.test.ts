import { describe, expect, it } from 'vitest';
import { LocalTrend } from '../../server/diagnosis/local-trend.ts';
import { middleValue, NoiseScale, thresholdFactor } from '../../server/diagnosis/noise-scale.ts';
import { MeasuredInterval } from '../../server/diagnosis/interval.ts';
import { normalUpper } from '../../server/diagnosis/normal.ts';
import { FIRST_EXCURSION, TailLearner } from '../../server/diagnosis/tail-learner.ts';
import { Random } from '../signals/index.ts';
import type { NoiseShape } from '../signals/index.ts';

describe('middleValue', () => {
  it('agrees with sorting, for odd and even counts and many equal values', () => {
    const random = new Random(7);
    for (let n = 1; n < 60; n++) {
      const values = Float64Array.from({ length: n }, () => Math.round(random.gauss() * 3));
      const sorted = values.slice().sort();
      const expected = ((sorted[(n - 1) >> 1] as number) + (sorted[n >> 1] as number)) / 2;
      expect(middleValue(values.slice(), n)).toBeCloseTo(expected, 12);
    }
  });
});

describe('NoiseScale', () => {
  const estimate = (shape: NoiseShape, seed: number): number => {
    const random = new Random(seed);
    const noise = new NoiseScale();
    for (let i = 0; i < 512; i++) noise.add(random.noise(shape));
    return noise.deviation;
  };

  it('is the standard deviation of normal noise, within four of its own standard errors', () => {
    // Relative standard error of the MAD of n normal values: 1.167 / sqrt(n) (Rousseeuw & Croux 1993: efficiency 37 %).
    for (const seed of [1, 2, 3, 4, 5]) expect(Math.abs(estimate({ shape: 'gauss' }, seed) - 1)).toBeLessThan((4 * 1.167) / Math.sqrt(512));
  });

  it('hardly moves when one reading in ten is disturbed fifty times as much', () => {
    expect(estimate({ shape: 'contaminated', fraction: 0.1, factor: 50 }, 6)).toBeLessThan(1.4);
  });

  it('is never below q / sqrt(12): a display that stands still may hide half a count', () => {
    const noise = new NoiseScale();
    noise.setCount(0.1);
    for (let i = 0; i < 100; i++) noise.add(0);
    // Standard deviation of rounding: GUM F.2.2.1, q / sqrt(12) = 0.29 q.
    expect(noise.deviation).toBeCloseTo(0.1 * 0.2887, 4);
  });

  it('of a sine is its root mean square, which its median overstates', () => {
    const noise = new NoiseScale();
    for (let i = 0; i < 512; i++) noise.add(Math.sin(i * 2.399));
    expect(noise.deviation).toBeCloseTo(Math.SQRT1_2, 1);
  });
});

describe('the noise of the moment', () => {
  const quiet = (): NoiseScale => {
    const random = new Random(11);
    const noise = new NoiseScale();
    noise.setInterval(0.1);
    for (let i = 0; i < 512; i++) {
      const residual = random.gauss();
      noise.add(residual);
      noise.feel(residual * residual, 1);
    }
    return noise;
  };

  it('counts once several readings show a burst, and no longer than that', () => {
    const noise = quiet();
    const remembered = noise.unfloored;
    expect(noise.deviation).toBe(remembered);
    for (let i = 0; i < 24; i++) noise.feel(100, 1);
    // A memory of 24 readings in which each counts at most 2.5 deviations is at (1 + 5.25 / 24)^12 = 10.8 times the deviation, and never above the burst's own.
    expect(noise.deviation).toBeGreaterThan(5);
    expect(noise.deviation).toBeLessThanOrEqual(10);
    for (let i = 0; i < 24 * 6; i++) noise.feel(1, 1);
    expect(noise.deviation).toBe(remembered);
  });

  it('is not raised by one reading, however far off', () => {
    const noise = quiet();
    const before = noise.deviation;
    noise.feel(1e6, 1);
    expect(noise.deviation).toBe(before);
  });
});

describe('thresholdFactor', () => {
  it.each([
    // Student's t, upper tail, from scipy.stats.t.isf(p, n / 1.05) (SciPy 1.17.1), with p that of the normal quantile z.
    [4.7, 512, 4.756], [4.7, 136, 4.918], [3.0902, 81.6, 3.198],
  ])('of z = %s and %s readings is near Student’s %s', (z, readings, expected) => {
    expect(thresholdFactor(z, readings)).toBeGreaterThan(0.97 * expected);
    expect(thresholdFactor(z, readings)).toBeLessThan(1.03 * expected);
  });

  it('falls towards z with more readings, and stays within four times z with few', () => {
    expect(thresholdFactor(4.7, 100_000)).toBeCloseTo(4.7, 2);
    expect(thresholdFactor(4.7, 4)).toBeLessThanOrEqual(4 * 4.7);
  });
});

describe('LocalTrend', () => {
  it('follows a straight line exactly once its slope is significant', () => {
    const trend = new LocalTrend(24);
    trend.restart(0, 12, 1);
    for (let i = 1; i <= 200; i++) trend.add({ middle: i, mean: 12 + 0.01 * i });
    expect(trend.predict(201)).toBeCloseTo(14.01, 2);
  });

  it('gives a constant with noise no slope', () => {
    const random = new Random(3);
    const trend = new LocalTrend(24);
    trend.restart(0, 12, 1);
    let sloped = 0;
    for (let i = 1; i <= 2000; i++) {
      trend.add({ middle: i, mean: 12 + 0.01 * random.gauss() });
      if (trend.slope !== 0) sloped++;
    }
    expect(sloped).toBeLessThan(20);
  });
});

describe('MeasuredInterval', () => {
  it('is the pace of the meter whatever was lost in between', () => {
    const measured = new MeasuredInterval();
    for (let i = 0; i < 64; i++) measured.add(i % 5 === 0 ? 3.2 : 0.4);
    expect(measured.value).toBe(0.4);
  });
});

describe('TailLearner', () => {
  const learn = (shape: NoiseShape, n: number, seed: number): TailLearner => {
    const random = new Random(seed);
    const tail = new TailLearner();
    for (let i = 0; i < n; i++) {
      const value = random.noise(shape);
      if (Math.abs(value) > 3) tail.add(value > 0 ? 1 : 0, Math.abs(value));
    }
    return tail;
  };

  it('asks for nothing beyond Gaussian noise when the noise is Gaussian', () => {
    for (const seed of [1, 2, 3, 4]) expect(learn({ shape: 'gauss' }, 20_000, seed).threshold(1, 20_000, 0.02)).toBeLessThan(6);
  });

  it('asks for what exponential noise reaches', () => {
    // P(x > z) = exp(-sqrt(2) z) / 2 for the Laplace distribution of deviation 1: one in a million at z = 9.28.
    const z = learn({ shape: 'laplace' }, 20_000, 5).threshold(1, 20_000, 0.02);
    expect(z).toBeGreaterThan(8);
    expect(z).toBeLessThan(15);
  });

  it('takes a single excursion just beyond normal noise for chance', () => {
    // One reading in 20,000 beyond 4.8 deviations comes by chance in 1.6 % of takes; beyond 6 in one of 50,000.
    const [near, far] = [4.85, 6].map((size) => {
      const tail = learn({ shape: 'gauss' }, 20_000, 1);
      tail.add(1, size);
      return tail.threshold(1, 20_000, 0.02);
    });
    expect(near).toBe(0);
    expect(far).toBeGreaterThan(8);
  });

  it('of excursions that last for several readings, as those of correlated noise, normal noise explains fewer', () => {
    // Beyond 4.16 deviations normal noise has 4.8 of 300,000 readings: 12 excursions of one reading may be chance, 12 of five are not.
    const [single, lasting] = [1, 5].map((length) => {
      const tail = new TailLearner();
      for (let k = 0; k < 12; k++) {
        tail.add(1, 4.2 + 0.01 * k);
        for (let i = 1; i < length; i++) tail.addOther(1, 4.2);
      }
      return tail.threshold(1, 300_000, 0.004);
    });
    expect(single).toBe(0);
    expect(lasting).toBeGreaterThan(5);
  });

  /** Noise shown by a display, level anywhere between two counts: threshold asked for in the end, in counts, and how many of as many readings again would come out beyond it. */
  const onDisplay = (random: Random, shape: NoiseShape, count: number, readings: number, allowed: number, upper: (z: number) => number): { counts: number; beyond: number } => {
    const tail = new TailLearner();
    const level = count * random.uniform();
    const shown = Array.from({ length: readings }, () => Math.round((level + random.noise(shape)) / count) * count);
    const mean = shown.reduce((sum, value) => sum + value, 0) / readings;
    const deviation = Math.max(Math.sqrt(shown.reduce((sum, value) => sum + (value - mean) ** 2, 0) / readings), count / Math.sqrt(12));
    for (const value of shown) tail.add(value > mean ? 1 : 0, Math.abs(value - mean) / deviation);
    // As the entry threshold has it: no less than normal noise asks for (4.7 deviations), or a count and a half.
    const threshold = Math.max(deviation * Math.max(tail.threshold(1, readings, allowed, 0, count / deviation), 4.7), 1.5 * count);
    // Shown that far down is what comes within half a count of it.
    const farthest = (Math.floor((mean - threshold) / count) + 0.5) * count;
    return { counts: threshold / count, beyond: readings * upper(level - farthest) };
  };
  const exponentialUpper = (z: number): number => Math.exp(-Math.SQRT2 * z) / 2;

  it('lets through no more exponential noise than is allowed on a display of one deviation a count', () => {
    const random = new Random(8);
    const takes = Array.from({ length: 40 }, () => onDisplay(random, { shape: 'laplace' }, 1, 8000, 0.01, exponentialUpper).beyond);
    expect(takes.reduce((sum, beyond) => sum + beyond, 0) / takes.length).toBeLessThan(0.01);
  });

  it.each([[2, 0.02, 1], [2.5, 0.02, 1], [3.5, 0.02, 1], [4.6, 1, 2]])('on a display of %s deviations a count weighs noise that is heavier, and hidden, by its odds of %s', (count, odds, most) => {
    const random = new Random(8);
    const mean = (shape: NoiseShape, upper: (z: number) => number): number =>
      Array.from({ length: 40 }, () => onDisplay(random, shape, count, 8000, 0.01, upper).beyond).reduce((sum, beyond) => sum + beyond, 0) / 40;
    // Where a count hides all of it (4.6 deviations), within twice what is allowed: exponential noise is not the mean of the prior. With odds of 0.02 there, nine times.
    expect((mean({ shape: 'gauss' }, normalUpper) + odds * mean({ shape: 'laplace' }, exponentialUpper)) / (1 + odds)).toBeLessThan(most * 0.01);
  });

  it.each([1.7, 2, 2.5, 3.3])('does not let normal noise hide small dropouts on a display of %s deviations a count', (count) => {
    const random = new Random(3);
    const median = (readings: number): number =>
      Array.from({ length: 21 }, () => onDisplay(random, { shape: 'gauss' }, count, readings, 1e-7 * readings, normalUpper).counts).sort((a, b) => a - b)[10] as number;
    // Normal noise of half a count goes as far as 3.5 counts in 10 million readings, a flicker between two counts being one of half a count.
    expect(median(2000)).toBeLessThan(5);
    expect(median(400)).toBeLessThan(15);
    expect(median(100)).toBeLessThan(40);
  });

  it.each([0.7, 1.2, 1.8])('nor where the level wanders between the counts, with %s deviations a count', (count) => {
    const random = new Random(21);
    const readings = 30_000;
    const allowed = 0.004;
    const takes = 8;
    let expected = 0;
    for (let k = 0; k < takes; k++) {
      const tail = new TailLearner();
      let level = random.uniform() * count;
      for (let i = 0; i < readings; i++) {
        if (i % 2000 === 0) level += 0.3 * count * random.gauss();
        const size = Math.round((level + random.noise({ shape: 'laplace' })) / count) * count - level;
        if (size > FIRST_EXCURSION) tail.add(1, size);
      }
      const threshold = tail.threshold(1, readings, allowed, 0, count);
      // Wherever the level is, what is shown beyond the threshold is the mean of exp(-sqrt(2) z) / 2 over half a count on both sides of it.
      const half = (Math.SQRT2 * count) / 2;
      expected += (readings * Math.exp(-Math.SQRT2 * threshold) * Math.sinh(half)) / half / 2;
    }
    // As shown, without regard to counts that would not have been far enough, ten to thirty times what is allowed.
    expect(expected / takes).toBeLessThan(3 * allowed);
  });

  it('keeps the two sides apart: dropouts one way don’t hide the next', () => {
    const tail = new TailLearner();
    for (let i = 0; i < 30; i++) tail.add(0, 40);
    expect(tail.threshold(1, 20_000, 0.02)).toBe(0);
    expect(tail.threshold(0, 20_000, 0.02)).toBeGreaterThan(40);
  });
});
