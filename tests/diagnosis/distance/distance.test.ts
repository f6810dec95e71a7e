import { describe, expect, it } from 'vitest';
import { wireOhms } from '../../../server/diagnosis/circuit/index.ts';
import { distanceByCurrent, distanceFromBothEnds, distanceWords, partialResistances } from '../../../server/diagnosis/distance/index.ts';
import { Random } from '../../signals/random.ts';

const SEED = Math.floor(Math.random() * 2 ** 31);
/** Of a display whose last digit is `count`: rounding, evenly spread (GUM F.2.2.1: 0.29 of the step). */
const rounding = (count: number): number => count / Math.sqrt(12);
const shown = (value: number, count: number): number => Math.round(value / count) * count;

/** 5 m of 0.5 mm2, the wire that the published figures of this method were worked out for. */
const LENGTH = 5;
const WIRE = wireOhms(LENGTH, 0.5);

function fromBothEnds(random: Random, count: number, place: number, short: number) {
  const noisy = (ohms: number) => ({ value: shown(ohms, count), uncertainty: rounding(count) });
  const end = random.between(0.98, 1.02) * WIRE;
  return distanceFromBothEnds({ length: LENGTH, endToEnd: { value: WIRE, uncertainty: 0.012 * WIRE }, fromFirst: noisy((end * place) / LENGTH + short), fromSecond: noisy((end * (LENGTH - place)) / LENGTH + short) });
}

describe(`distanceFromBothEnds(readings), seed ${SEED}`, () => {
  it('finds the place whatever the resistance of the short, with exact readings', () => {
    for (const short of [0, 0.5, 30]) {
      for (const place of [0, 1.3, 4.9]) {
        const exact = distanceFromBothEnds({
          length: LENGTH, endToEnd: { value: WIRE, uncertainty: 0 }, fromFirst: { value: (WIRE * place) / LENGTH + short, uncertainty: 0 }, fromSecond: { value: (WIRE * (LENGTH - place)) / LENGTH + short, uncertainty: 0 },
        });
        expect(exact.distance).toBeCloseTo(place, 9);
      }
    }
  });

  it.each([[0.1], [0.01], [0.001]])('holds the true place in its range in 93 to 100 %% of 4,000 readings with a display step of %d ohm', (count) => {
    const random = new Random(SEED);
    let held = 0;
    for (let trial = 0; trial < 4000; trial++) {
      const place = random.between(0, LENGTH);
      const { low, high } = fromBothEnds(random, count, place, random.between(0, 2));
      if (place >= low && place <= high) held++;
    }
    expect(held / 4000).toBeGreaterThan(0.93);
  });

  it('is good to about a metre with a 0.1 ohm display (worked out by simulation for this wire when the method was chosen), and ten times better with 10 milliohm', () => {
    const random = new Random(SEED);
    const error = (count: number): number => Math.sqrt(Array.from({ length: 3000 }, () => {
      const place = random.between(1, 4);
      return (fromBothEnds(random, count, place, random.between(0, 2)).distance - place) ** 2;
    }).reduce((sum, square) => sum + square, 0) / 3000);
    const coarse = error(0.1);
    expect(2 * coarse).toBeGreaterThan(0.7);
    expect(2 * coarse).toBeLessThan(1.5);
    expect(coarse / error(0.01)).toBeGreaterThan(7);
  });

  it('doubts readings that together are less than the wire, or lie beyond its end', () => {
    const sure = (value: number) => ({ value, uncertainty: 0.001 });
    expect(distanceFromBothEnds({ length: 5, endToEnd: sure(0.2), fromFirst: sure(0.05), fromSecond: sure(0.05) }).doubts).toEqual([expect.stringContaining('less than the wire')]);
    expect(distanceFromBothEnds({ length: 5, endToEnd: sure(0.2), fromFirst: sure(1.9), fromSecond: sure(0.9) }).doubts).toEqual([expect.stringContaining('beyond the end')]);
    expect(() => distanceFromBothEnds({ length: 5, endToEnd: sure(0), fromFirst: sure(1), fromSecond: sure(1) })).toThrow(RangeError);
  });
});

describe('distanceByCurrent(readings)', () => {
  it('is good to about 0.02 m at 1 A with a 0.1 mV display, and its range holds the true place', () => {
    const random = new Random(SEED + 1);
    const count = 1e-4;
    let squares = 0;
    let held = 0;
    for (let trial = 0; trial < 4000; trial++) {
      const place = random.between(0.5, 4.5);
      const amps = random.between(0.9, 1.1);
      const short = random.between(0, 3);
      const own = distanceByCurrent({
        length: LENGTH, endToEnd: { value: WIRE * (1 + 0.003 * random.gauss()), uncertainty: 0.003 * WIRE }, current: { value: amps * (1 + 0.002 * random.gauss()), uncertainty: 0.002 * amps },
        atFirst: { value: shown(amps * ((WIRE * place) / LENGTH + short), count), uncertainty: rounding(count) }, atSecond: { value: shown(amps * short, count), uncertainty: rounding(count) },
      });
      squares += (own.distance - place) ** 2;
      if (place >= own.low && place <= own.high) held++;
    }
    expect(2 * Math.sqrt(squares / 4000)).toBeLessThan(0.03);
    expect(held / 4000).toBeGreaterThan(0.93);
  });

  it('refuses a current of nothing', () => {
    const one = { value: 1, uncertainty: 0 };
    expect(() => distanceByCurrent({ length: 5, endToEnd: one, current: { value: 0, uncertainty: 0 }, atFirst: one, atSecond: one })).toThrow(RangeError);
  });
});

describe('partialResistances(drops)', () => {
  it('names the span of the demo circuit with 0.35 ohm too much, from the drops printed with the scenario', () => {
    // 1.75 V and 0.04 V by 4.90 and 5.67 A: figures of the scenario; healthy by length and cross-section.
    const amps = { value: 4.9, uncertainty: 0.05 };
    const span = (at: string, drop: number, healthy: number) => ({ at, drop: { value: drop, uncertainty: 0.005 }, current: amps, healthy: { value: healthy, uncertainty: 0.003 } });
    const [worst, ...others] = partialResistances([span('C2/4 to C1/6', 0.08, 0.0164), span('S3 to C2/4', 1.75, 0.00745), span('C1/6 to G2', 0.03, 0.006)]);
    expect(worst).toMatchObject({ at: 'S3 to C2/4', isBad: true });
    expect(worst?.excess).toBeCloseTo(0.35, 2);
    expect(others.every((other) => !other.isBad)).toBe(true);
  });
});

describe('distanceWords(distance, finer)', () => {
  it('says the uncertainty of the meter at hand, and what a finer one would give', () => {
    const of = (distance: number, uncertainty: number) => ({ distance, uncertainty, low: 0, high: 5, doubts: [] });
    expect(distanceWords(of(1.2, 0.45), { name: 'a 10 milliohm meter', distance: of(1.2, 0.15) })).toBe('1.2 m +/- 0.9 m: with a 10 milliohm meter +/- 0.3 m');
    expect(distanceWords(of(2, 0.01))).toBe('2.00 m +/- 0.02 m');
    expect(distanceWords(of(1.191, 0.006))).toBe('1.19 m +/- 0.01 m');
  });
});
