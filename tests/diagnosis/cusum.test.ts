/** The rival of the detector's bench: that what it is compared with is the textbook's own CUSUM. */
import { describe, expect, it } from 'vitest';
import { TabularCusum } from '../bench/detector/cusum.ts';
import { cusumRunLengths, montgomery91, nile } from '../reference/cusum.ts';
import { Random } from '../signals/random.ts';

describe('TabularCusum', () => {
  it('gives the sums of Montgomery’s Example 9.1 and its first alarm', () => {
    const { target, sigma, k, h, firstAlarm, values, upperSums } = montgomery91;
    const cusum = new TabularCusum(k);
    upperSums.forEach((sum, i) => {
      const z = ((values[i] as number) - target) / sigma;
      cusum.add(z, -z);
      expect(cusum.high).toBeCloseTo(sum, 2);
      expect(cusum.isBeyond(h)).toBe(i + 1 === firstAlarm);
    });
  });

  it.each(cusumRunLengths.flatMap(({ h, rows }) => rows.map(([shift, length]) => [h, shift, length] as const)))(
    'h = %d, a shift of %d sigma: average run length %d', (h, shift, length) => {
      const random = new Random(20261125 + 100 * h + 10 * shift);
      const runs = 3000;
      let readings = 0;
      for (let run = 0; run < runs; run++) {
        const cusum = new TabularCusum(0.5);
        while (!cusum.isBeyond(h)) {
          const z = random.gauss() + shift;
          cusum.add(z, -z);
          readings++;
        }
      }
      // A run length scatters about as much as it is long.
      expect(Math.abs(readings / runs / length - 1)).toBeLessThan(4.5 / Math.sqrt(runs) + 0.005);
    });

  it('dates the fall of the Nile to 1899, the first year after the high level', () => {
    const first = nile.slice(0, 28);
    const mean = first.reduce((a, b) => a + b) / first.length;
    const deviation = Math.sqrt(first.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (first.length - 1));
    const cusum = new TabularCusum(0.5);
    let began = 0;
    let alarm = 0;
    nile.forEach((flow, i) => {
      if (alarm > 0) return;
      const z = (flow - mean) / deviation;
      cusum.add(z, -z);
      if (cusum.low === 0) began = i + 1;
      if (cusum.low > 5) alarm = 1871 + i;
    });
    expect(1871 + began).toBe(1899);
    expect(alarm).toBeLessThan(1905);
  });
});
