import { describe, expect, it } from 'vitest';
import { freshFolder } from './support/folder.ts';
import { recordAndKill } from './support/kill.ts';
import { randomNumbers } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

describe('a recording whose process is killed', () => {
  // Loss in milliseconds is a figure of the bench; here: what had to survive did, and nothing is changed.
  it(`opens clean, holds an unbroken prefix of what was sent, and all that was acknowledged (24 kills, seed ${seed})`, async () => {
    const random = randomNumbers(seed);
    const plans = Array.from({ length: 24 }, (_, i) => ({
      folder: freshFolder(),
      meters: 1 + Math.floor(random() * 3),
      batch: [1, 10, 150, 900][i % 4]!,
      everyMs: 1 + Math.floor(random() * 20),
      takeLength: [400, 20_000, 1e9][Math.floor(random() * 3)]!,
      killAfterMs: random() * 900,
    }));
    // Two at a time: as many as the machine has cores.
    const next = plans.values();
    await Promise.all([1, 2].map(async () => {
      for (const plan of next) {
        const left = await recordAndKill(plan);
        expect.soft({ ...left, plan }).toMatchObject({ integrity: 'ok', difference: '', troubles: [] });
        expect.soft(left.acknowledged, 'something was acknowledged').toBeGreaterThan(0);
        expect.soft(left.stored, 'all that was acknowledged is there').toBeGreaterThanOrEqual(left.acknowledged);
      }
    }));
  }, 600_000);
});
