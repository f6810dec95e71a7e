import type { JudgeSetup } from '../../server/diagnosis/index.ts';
import { judgeAll } from '../../server/diagnosis/index.ts';
import type { Judgement } from '../../server/diagnosis/index.ts';
import { columnsOf, Random } from '../signals/index.ts';
import type { Shown } from '../signals/index.ts';

/** A supply check at a wiggle take with nothing special about it; override what a test is about. */
export function setupOf(changes: Partial<JudgeSetup> = {}): JudgeSetup {
  return {
    kind: 'supply', watching: 'wiggle', limits: { low: 11, high: 13 }, interval: null, aperture: null, accuracy: { fraction: 0.005, counts: 2 },
    leadOhms: null, depth: null, shiftAfter: null, missingCondition: null, claim: null, ...changes,
  };
}

/** Quiet readings around a level: one count of noise. */
export function quiet(level: number, n: number, seed = 1, noise = 0.01, resolution = 0.01): number[] {
  const random = new Random(seed);
  return Array.from({ length: n }, () => Math.round((level + noise * random.gauss()) / resolution) * resolution);
}

/** Judges readings on an even grid of 0.1 s unless said otherwise. */
export function judgeShown(shown: readonly Shown[], changes: Partial<JudgeSetup> = {}, interval = 0.1, signal: Parameters<typeof columnsOf>[2] = {}): Judgement {
  return judgeAll(setupOf(changes), columnsOf(shown, interval, signal));
}
