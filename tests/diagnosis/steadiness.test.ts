import { describe, expect, it } from 'vitest';
import { SteadinessWatch } from '../../server/diagnosis/steadiness.ts';
import { Random } from '../signals/index.ts';
import { digitsOfPi, nistSets } from '../reference/nist-strd.ts';
import { judgeShown, quiet } from './setup.ts';

describe('a steady stretch', () => {
  it.each(nistSets)('has the certified mean and deviation of $name', ({ values, mean, deviation }) => {
    const watch = new SteadinessWatch();
    watch.setMeter(0, 0.1);
    values.forEach((value, i) => watch.add((i + 1) * 0.1, 1, value, 0));
    const steady = watch.current;
    expect(steady?.readings).toBe(values.length);
    expect(Math.abs((steady?.value ?? 0) / mean - 1)).toBeLessThan(1e-13);
    // The data themselves are not exact in binary: differences lose the digits by which the mean is larger than they are.
    expect(Math.abs((steady?.spread ?? 0) / deviation - 1)).toBeLessThan(1e-13 + 10 * Number.EPSILON * Math.abs(mean / deviation));
  });
  it('rests on the right digits of pi', () => {
    expect(digitsOfPi(20).join('')).toBe('31415926535897932384');
  });

  it.each([['2 readings a second', 0.5, 2.1], ['1,000 readings a second', 0.001, 0.4]])('is held soon after the touch at %s', (_name, interval, longest) => {
    const before = Array.from({ length: Math.ceil(1 / interval) }, () => 0);
    const touched = quiet(12.1, Math.ceil(longest / interval));
    const steady = judgeShown([...before, ...touched], { watching: 'spot' }, interval).steady;
    expect(steady.some((one) => Math.abs(one.value - 12.1) < 0.02)).toBe(true);
  });

  it('is not held while the reading drifts', () => {
    const drifting = Array.from({ length: 60 }, (_, i) => Math.round((5 + 0.1 * i) * 100) / 100);
    expect(judgeShown(drifting, { watching: 'spot' }, 0.5).steady).toEqual([]);
  });

  it('is captured once per probing, and re-armed when the leads are lifted', () => {
    const steady = judgeShown([...quiet(12.1, 40), ...quiet(0, 20, 2), ...quiet(12.1, 40, 3), ...quiet(0, 20, 4), ...quiet(11.2, 40, 5)], { watching: 'spot' }, 0.25).steady;
    expect(steady.filter((one) => one.value > 1).map((one) => Math.round(one.value * 10) / 10)).toEqual([12.1, 12.1, 11.2]);
  });

  it('of a lead that scratches about ends when it rests, at any pace', () => {
    for (const interval of [0.02, 0.05, 0.2]) {
      for (let seed = 1; seed <= 20; seed++) {
        const random = new Random(seed);
        const scratching = Array.from({ length: 60 }, () => Math.round(1200 * random.uniform()) / 100);
        const j = judgeShown([...scratching, ...quiet(12.1, Math.max(12, Math.ceil(1 / interval)), seed)], { watching: 'spot' }, interval);
        expect(j.level, `seed ${seed}, every ${interval} s`).toBeCloseTo(12.1, 1);
      }
    }
  });

  it('of a reading that is noisy as such is not broken up', () => {
    const random = new Random(3);
    const noisy = Array.from({ length: 400 }, () => Math.round((12 + random.gauss()) * 100) / 100);
    expect(judgeShown(noisy, { watching: 'spot' }, 0.05).steady.length).toBeLessThanOrEqual(2);
  });

  it('of a spot take is the latest contact, not what lifted leads read', () => {
    const j = judgeShown([...quiet(12.1, 40), ...quiet(0, 20, 2), ...quiet(9.5, 40, 3), ...quiet(0, 20, 4)], { watching: 'spot' }, 0.25);
    expect(j.level).toBeCloseTo(9.5, 1);
    expect(j.verdict).toBe('fail');
  });
});
