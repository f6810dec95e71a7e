import { describe, expect, it } from 'vitest';
import { estimateDuration } from '../../server/diagnosis/duration.ts';
import type { DepartureReadings, DurationView } from '../../server/diagnosis/duration.ts';
import { drawDropout, METER_KINDS } from '../signals/one-dropout.ts';
import { Random } from '../signals/random.ts';

const view: DurationView = { interval: 0.4, aperture: 0.4, noise: 0.01, resolution: 0, threshold: 0.05, fullDepth: 12 };
/** Departures on an even grid of 0.4 s; the departed ones are those beyond the threshold. */
function shown(departures: readonly number[], interval = view.interval): DepartureReadings {
  const departed = (value: number): boolean => Number.isNaN(value) || value > view.threshold;
  return {
    ends: departures.map((_, i) => (i + 1) * interval), departures,
    first: departures.findIndex(departed), last: departures.findLastIndex(departed),
  };
}

describe('estimateDuration', () => {
  it('covers the truth in 93 to 97 % of dropouts of the stated prior, for every kind of meter', () => {
    const random = new Random(20261125);
    for (const kind of METER_KINDS) {
      let judged = 0;
      let covered = 0;
      while (judged < 250) {
        const drawn = drawDropout(kind, random);
        if (drawn === null) continue;
        const { low, high } = estimateDuration(drawn.readings, drawn.view);
        judged++;
        if (low !== null && high !== null && low <= drawn.length && drawn.length <= high) covered++;
      }
      // 250 cases: three standard errors on each side of 93 and 97 %.
      expect(covered / judged, kind).toBeGreaterThan(0.93 - 3 * Math.sqrt((0.93 * 0.07) / judged));
      expect(covered / judged, kind).toBeLessThan(0.97 + 3 * Math.sqrt((0.97 * 0.03) / judged));
    }
  });
  it('finds the lost area of a fully open circuit without dead time: 12 V gone for 0.1 + 0.4 + 0.2 s', () => {
    const { estimate, low, high } = estimateDuration(shown([0, 0, 0, 3, 12, 6, 0, 0, 0]), view);
    expect(estimate).toBeCloseTo(0.7, 2);
    expect((high as number) - (low as number)).toBeLessThan(0.01);
  });
  it('is wide when one reading dips a little: fully open and short, or partly and longer', () => {
    const { low, high } = estimateDuration(shown([0, 0, 0, 1.2, 0, 0, 0]), view);
    expect(low).toBeLessThan(0.045);
    expect(low).toBeGreaterThan(0.035);
    expect(high).toBeGreaterThan(0.2);
    expect(high).toBeLessThan(0.8);
  });
  it('allows for what dead time hides', () => {
    const without = estimateDuration(shown([0, 0, 0, 12, 0, 0, 0]), view);
    const withDead = estimateDuration(shown([0, 0, 0, 12, 0, 0, 0]), { ...view, aperture: 0.1 });
    expect(without.low).toBeGreaterThan(0.38);
    expect(withDead.low).toBeLessThan(0.15);
    expect(withDead.high).toBeGreaterThan(0.6);
  });
  it('says only bounds where the meter went over-range', () => {
    expect(estimateDuration(shown([0, 0, 0, Number.NaN, 0, 0]), view)).toMatchObject({ estimate: null, low: null });
    const three = estimateDuration(shown([0, 0, 0, Number.NaN, Number.NaN, Number.NaN, 0, 0]), view);
    expect(three.estimate).toBeNull();
    expect(three.low).toBeCloseTo(0.4, 12);
    expect(three.high).toBeGreaterThanOrEqual(1.2);
    expect(three.high).toBeLessThan(1.3);
    // A finite reading on each side holds a part of it, whether it was taken for a departed one or not.
    const edges = shown([0, 0, 3, Number.NaN, Number.NaN, 6, 0, 0]);
    const without = estimateDuration({ ...edges, first: 3, last: 4 }, view);
    expect(without).toEqual(estimateDuration(edges, view));
    expect(without.high).toBeGreaterThanOrEqual(4 * 0.4);
  });
  it('over-range bounds hold for any length and place', () => {
    const random = new Random(5);
    for (let i = 0; i < 300; i++) {
      const aperture = random.between(0.05, 0.4);
      const start = 2 + random.between(0, 0.4);
      const length = random.logBetween(0.01, 5);
      const departures = Array.from({ length: 30 }, (_, k) => {
        const end = (k + 1) * 0.4;
        return Math.min(start + length, end) > Math.max(start, end - aperture) ? Number.NaN : 0;
      });
      if (!departures.some(Number.isNaN)) continue;
      const { low, high } = estimateDuration(shown(departures), { ...view, aperture, fullDepth: null });
      expect(low ?? 0).toBeLessThanOrEqual(length);
      expect(high).toBeGreaterThanOrEqual(length);
    }
  });
  it('gives bounds that contain those of every aperture when the aperture is not known', () => {
    const readings = shown([0, 0, 0, 5, 12, 12, 2, 0, 0]);
    const unknown = estimateDuration(readings, { ...view, aperture: null });
    expect(unknown.estimate).toBeNull();
    for (const aperture of [0.4, 0.12]) {
      const { low, high } = estimateDuration(readings, { ...view, aperture });
      expect(unknown.low).toBeLessThanOrEqual(low as number);
      expect(unknown.high).toBeGreaterThanOrEqual(high as number);
    }
  });
  it('says only bounds where no single interruption explains the readings', () => {
    const chatter = estimateDuration(shown([0, 0, 0, 8, 0.2, 12, 3, 9, 0, 0]), view);
    expect(chatter.estimate).toBeNull();
    expect(chatter.low).toBeLessThanOrEqual((32.2 / 12) * 0.4);
    expect(chatter.high).toBeGreaterThanOrEqual(5 * 0.4);
  });
  it('of several departures counted as one says the bounds of the whole: 12 V gone twice for two readings, back for one between', () => {
    const twice = { ...shown([0, 0, 0, 12, 12, 0, 12, 12, 0, 0, 0]), count: 2 };
    const { estimate, low, high } = estimateDuration(twice, view);
    expect(estimate).toBeNull();
    expect(low).toBeCloseTo(((4 * (12 - 0.05)) / 12) * 0.4, 9);
    expect(high).toBeGreaterThan(5 * 0.4);
    expect(high).toBeLessThan(5 * 0.4 + 0.01);
    // Where contacts take up more of it than opens: from the end of the first departed aperture to the beginning of the last one.
    expect(estimateDuration({ ...shown([0, 0, 0, 3, 0, 0, 0, 3, 0, 0, 0]), count: 2 }, view).low).toBeCloseTo(3 * 0.4, 9);
  });
  it('allows for an open that may go farther than is known: 6 of 12 to 48 V was an eighth to half of an aperture', () => {
    const dip = shown([0, 0, 0, 6, 0, 0, 0]);
    const { low, high } = estimateDuration(dip, { ...view, mostDepth: 48 });
    expect(low).toBeLessThan(estimateDuration(dip, view).low as number / 2);
    expect(low).toBeGreaterThan((6 / 48) * 0.4 * 0.99);
    expect(high).toBeGreaterThan(0.5 * 0.4);
  });
  it('takes a reading right beside the departed ones that is beyond the threshold for one that holds its beginning', () => {
    const readings = shown([0, 0, 0, 0.6, 12, 6, 0, 0, 0]);
    expect(estimateDuration({ ...readings, first: readings.first + 1 }, view)).toEqual(estimateDuration(readings, view));
  });
  it('scales with time and with the unit of the signal', () => {
    const departures = [0, 0, 0, 3, 12, 6, 0, 0, 0];
    const plain = estimateDuration(shown(departures), view);
    const slower = estimateDuration(shown(departures, 0.8), { ...view, interval: 0.8, aperture: 0.8 });
    const millivolts = estimateDuration(
      { ...shown(departures), departures: departures.map((v) => v * 1000) }, { ...view, noise: 10, threshold: 50, fullDepth: 12_000 },
    );
    expect((slower.estimate as number) / (plain.estimate as number)).toBeCloseTo(2, 2); // the prior has a scale of its own
    expect(millivolts.estimate).toBeCloseTo(plain.estimate as number, 9);
    expect(millivolts.high).toBeCloseTo(plain.high as number, 9);
  });
  it('does not depend on when it happened', () => {
    const readings = shown([0, 0, 0, 3, 12, 6, 0, 0, 0]);
    const later = { ...readings, ends: readings.ends.map((end) => end + 4096) };
    expect(estimateDuration(later, view).estimate).toBeCloseTo(estimateDuration(readings, view).estimate as number, 6);
  });
  it('refuses indices outside the readings', () => {
    expect(() => estimateDuration({ ends: [1], departures: [1], first: 0, last: 1 }, view)).toThrow(RangeError);
    expect(() => estimateDuration(shown([0, 1, 0]), { ...view, noise: 0 })).toThrow(RangeError);
  });
});
