import { describe, expect, it } from 'vitest';
import { TakeJudge } from '../../server/diagnosis/index.ts';
import type { JudgeSetup, Judgement } from '../../server/diagnosis/judgement.ts';
import { Random } from '../signals/random.ts';

const setup: JudgeSetup = {
  kind: 'ground', watching: 'road', limits: { low: null, high: 0.5 }, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 2 },
  leadOhms: null, depth: null, shiftAfter: null, missingCondition: null, claim: null,
};
const COUNT = 0.001;

/** @param noise in counts; the reading stands still in `frozen`, s */
function judged(noise: number, frozen: readonly [number, number] | null, seed: number): Judgement {
  const random = new Random(seed);
  const n = 6000;
  const time = Float64Array.from({ length: n }, (_, i) => (i + 1) / 10);
  const value = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const isFrozen = frozen !== null && time[i]! > frozen[0] && time[i]! <= frozen[1];
    value[i] = isFrozen ? value[i - 1]! : COUNT * Math.round((0.2204 + COUNT * noise * random.gauss()) / COUNT);
  }
  const judge = new TakeJudge(setup);
  judge.push({ length: n, time, value, resolution: new Float64Array(n).fill(COUNT), flags: new Uint16Array(n), functionCode: new Uint8Array(n).fill(5) });
  return judge.judgement();
}
const standsStill = (judgement: Judgement) => judgement.reasons.some((reason) => /stood still/.test(reason));

describe('a reading that stands still', () => {
  it('for longer than its noise allows is not counted as watched: the limit is that of the shorter time', () => {
    const moving = judged(1.5, null, 3);
    const held = judged(1.5, [300, 600], 3);
    expect(standsStill(held)).toBe(true);
    // Exact Poisson limit for no dropout: -ln(0.05) / time (as tests/diagnosis/claims.test.ts); half the time, twice the limit.
    expect(held.rateLimitPerHour!.limit! / moving.rateLimitPerHour!.limit!).toBeCloseTo(2, 1);
  });

  it('on a coarse display, whose noise is below half a count, says nothing', () => {
    expect(standsStill(judged(0.1, null, 4))).toBe(false);
    expect(standsStill(judged(0.1, [300, 600], 4))).toBe(false);
  });

  it('is never seen in readings that move, whatever the noise', () => {
    for (let seed = 1; seed <= 60; seed++) expect(standsStill(judged(0.3 + seed / 20, null, seed))).toBe(false);
  });

  it('for a short while is chance', () => {
    expect(standsStill(judged(1.5, [300, 302], 5))).toBe(false);
  });
});
