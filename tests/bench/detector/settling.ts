/** How long after a touch a reading is held as steady, and how far the held value is from the true one. */
import { judgeAll } from '../../../server/diagnosis/index.ts';
import { columnsOf, Random } from '../../signals/index.ts';
import type { NoiseShape } from '../../signals/index.ts';

interface Held { readonly time: number; readonly readings: number; readonly error: number }

/** A lead touches: the reading settles exponentially to its level, with noise, at rates from 1 to 1,000 a second. */
export function measureSteadiness(seed: number, part: number): object {
  const random = new Random(seed);
  const result: Record<string, object> = {};
  for (const [name, low, high] of [['1 to 5 readings/s', 0.2, 1], ['5 to 50 readings/s', 0.02, 0.2], ['50 to 1,000 readings/s', 0.001, 0.02]] as const) {
    const held: Held[] = [];
    let never = 0;
    const probes = Math.ceil(400 * part);
    for (let k = 0; k < probes; k++) {
      const interval = random.logBetween(low, high);
      const level = random.logBetween(0.2, 30);
      const count = level > 6 ? 0.01 : 0.001;
      const noise = count * random.logBetween(0.1, 5);
      const settling = random.logBetween(0.005, 1) * Math.max(1, interval);
      const shape = random.pick<NoiseShape>([{ shape: 'gauss' }, { shape: 'laplace' }]);
      const touch = 10 * interval + random.uniform();
      const length = Math.ceil((touch + 20 * settling + 10 + 20 * interval) / interval);
      const shown = Array.from({ length }, (_, i) => {
        const t = (i + 1) * interval - touch;
        const clean = t < 0 ? 0 : level * (1 - Math.exp(-t / settling));
        return Math.round((clean + noise * random.noise(shape)) / count) * count;
      });
      const judgement = judgeAll({
        kind: 'supply', watching: 'spot', limits: { low: null, high: null }, interval, aperture: interval, accuracy: null, leadOhms: null, depth: null, shiftAfter: null,
        missingCondition: null, claim: null,
      }, columnsOf(shown, interval, { resolution: count }));
      const steady = judgement.steady.find((one) => Math.abs(one.value) > 0.5 * level);
      if (steady === undefined) { never++; continue; }
      // Held when its window was full; what the signal itself needed to come within a count is not the detector's time.
      const settled = touch + settling * Math.log(Math.max(1, level / count));
      held.push({ time: heldAt(shown, interval, count, level) - Math.max(touch, Math.min(settled, touch + 8 * settling)), readings: 0, error: (steady.value - level) / Math.max(count, noise) });
    }
    const times = held.map((h) => h.time).sort((a, b) => a - b);
    const errors = held.map((h) => Math.abs(h.error)).sort((a, b) => a - b);
    const at = (values: readonly number[], p: number): number => Number((values[Math.min(values.length - 1, Math.floor(p * values.length))] ?? Number.NaN).toPrecision(3));
    result[name] = {
      probes, never, holdTimeAfterSettling: { median: at(times, 0.5), p90: at(times, 0.9), p99: at(times, 0.99) },
      errorInCountsOrNoise: { median: at(errors, 0.5), p90: at(errors, 0.9), p99: at(errors, 0.99) },
    };
  }
  return result;
}

/** First time at which a judge that has seen the readings up to then shows the steady level. */
function heldAt(shown: readonly number[], interval: number, count: number, level: number): number {
  let low = 0;
  let high = shown.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    const judgement = judgeAll({
      kind: 'supply', watching: 'spot', limits: { low: null, high: null }, interval, aperture: interval, accuracy: null, leadOhms: null, depth: null, shiftAfter: null,
      missingCondition: null, claim: null,
    }, columnsOf(shown.slice(0, middle), interval, { resolution: count }));
    if (judgement.steady.some((one) => Math.abs(one.value) > 0.5 * level)) high = middle;
    else low = middle;
  }
  return high * interval;
}
