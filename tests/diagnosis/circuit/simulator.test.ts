/** The model against ngspice, a general circuit simulator. */
import { describe, expect, it } from 'vitest';
import { Random } from '../../signals/random.ts';
import { compareWithSimulator } from '../../support/simulator-cases.ts';

const CASES = 260;
const SEED = Math.floor(Math.random() * 2 ** 31);

describe(`the circuit model against ngspice, ${CASES} random charts with faults, seed ${SEED}`, () => {
  it('agrees within 0.1 % or 1 microvolt on every voltage, with a meter, with a lamp, and on ohms', () => {
    const compared = compareWithSimulator(new Random(SEED), CASES);
    expect(compared.length).toBeGreaterThan(5 * CASES);
    for (const { value, expected, scale, what } of compared) {
      expect(Math.abs(value - expected), `${what}: model ${value}, ngspice ${expected}`).toBeLessThanOrEqual(Math.max(0.001 * Math.abs(expected), 1e-6 * scale));
    }
  });
});
