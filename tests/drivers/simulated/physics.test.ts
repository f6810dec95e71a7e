import { describe, expect, it } from 'vitest';
import { TextLineDecoder } from '../../../drivers/decoders/index.ts';
import { Flag, type Reading } from '../../../drivers/reading.ts';
import {
  apertureMean, drift, edgesWithin, gaussianFrom, type InstrumentOptions, isWithin, level, opening, openSchedule, randomFrom, ripple, SimulatedInstrument, type SimulatedSignal, sum,
} from '../../../drivers/simulated/index.ts';

const OPTIONS: InstrumentOptions = { interval: 0.1, aperture: 0.09, counts: 6000, noise: 0, seed: 1, range: 'fitting', hunt: 0 };

function volts(at: (time: number) => number, jumps?: SimulatedSignal['jumps']): SimulatedSignal {
  return { quantity: 'voltage', coupling: 'dc', at, ...(jumps === undefined ? {} : { jumps }) };
}

function run(instrument: SimulatedInstrument, count: number): (Reading & { end: number; text: string })[] {
  const decoder = new TextLineDecoder();
  return Array.from({ length: count }, () => {
    const { end, text } = instrument.next();
    const decoded = decoder.decodeLine(text);
    if (decoded.kind !== 'reading') throw new Error(`"${text}" is not read`);
    return { ...decoded.reading, end, text };
  });
}

describe('a simulated meter', () => {
  it('shows a still signal to the nearest count, at the ends of its intervals', () => {
    const readings = run(new SimulatedInstrument(volts(level(12.3449)), OPTIONS), 3);
    expect(readings.map(({ value, resolution, end }) => [value, resolution, end])).toEqual([[12.34, 0.01, 0.1], [12.34, 0.01, 0.2], [12.34, 0.01, expect.closeTo(0.3, 9)]]);
    expect(readings[0]).toMatchObject({ quantity: 'voltage', coupling: 'dc', text: '12.34 V DC' });
  });

  it('shows an open of length d as a dip of D d / A when it lies within one aperture', () => {
    // Design, section 5: a meter that averages over A shows an open of length d < A as a dip of depth D d / A.
    for (const length of [0.0002, 0.001, 0.01, 0.05]) {
      const opens = [{ start: 0.515, end: 0.515 + length }];
      const signal = volts(opening(opens, level(12), level(0)), (from, to) => edgesWithin(opens, from, to));
      const readings = run(new SimulatedInstrument(signal, { ...OPTIONS, counts: 6_000_000 }), 10);
      expect(12 - (readings[5] as Reading).value).toBeCloseTo((12 * length) / 0.09, 4);
      expect((readings[4] as Reading).value).toBe(12);
      expect((readings[6] as Reading).value).toBe(12);
    }
  });

  it('does not see an open that falls between two apertures', () => {
    const opens = [{ start: 0.5005, end: 0.5095 }];
    const readings = run(new SimulatedInstrument(volts(opening(opens, level(12), level(0))), OPTIONS), 10);
    expect(readings.every((reading) => reading.value === 12)).toBe(true);
  });

  it('has noise of the standard deviation asked for, and the same again with the same seed', () => {
    const make = (seed: number): number[] => run(new SimulatedInstrument(volts(level(12)), { ...OPTIONS, counts: 600_000, noise: 5, seed }), 20_000).map((reading) => reading.value);
    const values = make(3);
    const mean = values.reduce((total, value) => total + value, 0) / values.length;
    const deviation = Math.sqrt(values.reduce((total, value) => total + (value - mean) ** 2, 0) / (values.length - 1)) / 0.0001;
    // Rounding to counts adds q/sqrt(12); the estimate itself scatters by 1/sqrt(2 n) = 0.5 %, so five of those.
    expect(deviation).toBeGreaterThan(Math.sqrt(25 + 1 / 12) * 0.975);
    expect(deviation).toBeLessThan(Math.sqrt(25 + 1 / 12) * 1.025);
    expect(make(3)).toEqual(values);
    expect(make(4)).not.toEqual(values);
  });

  it('says OL beyond its range, with the sign, and reads on', () => {
    const signal: SimulatedSignal = { quantity: 'resistance', coupling: 'none', at: (time) => (time < 0.5 ? 0.39 : Infinity) };
    const readings = run(new SimulatedInstrument(signal, OPTIONS), 10);
    expect(readings[2]).toMatchObject({ quantity: 'resistance', value: 0.39, resolution: 0.01 });
    expect(readings[8]).toMatchObject({ quantity: 'resistance', value: NaN, flags: Flag.overRange });
    const negative = run(new SimulatedInstrument(volts(level(-30)), { ...OPTIONS, range: 6 }), 1);
    expect(negative[0]?.flags).toBe(Flag.overRange | Flag.negative);
  });

  it('locked on a range, saturates a little above it, so that a part-time open of an ohmmeter is bounded', () => {
    const opens = [{ start: 0.52, end: 0.52 + 0.009 }];
    const signal: SimulatedSignal = { quantity: 'resistance', coupling: 'none', at: opening(opens, level(0), level(Infinity)) };
    const readings = run(new SimulatedInstrument(signal, { ...OPTIONS, range: 60 }), 8);
    expect((readings[5] as Reading).value).toBeCloseTo(6.6, 2);
  });

  it('hunting, goes through over-range and blank to the range that fits', () => {
    const signal = volts((time) => (time < 1 ? 0.3 : 12));
    const readings = run(new SimulatedInstrument(signal, { ...OPTIONS, range: 'hunting', hunt: 0.25 }), 60).map((reading) => reading.text);
    expect(readings.slice(0, 10)).toContain('9.91E+37 V DC');
    const after = readings.slice(10);
    expect(after).toContain('OL V DC');
    expect(after.at(-1)).toBe('12.00 V DC');
  });

  it('prints every quantity so that the decoder reads it back', () => {
    const cases = [
      ['voltage', 0.1234, 0.0001], ['current', 3.21, 0.001], ['resistance', 4700, 1], ['resistance', 1.5e6, 1000], ['frequency', 50.01, 0.01], ['capacitance', 47e-9, 1e-11],
      ['temperature', 23.4, 0.1], ['duty', 0.455, 0.001], ['conductance', 3e-8, 1e-11], ['power', 21.5, 0.01],
    ] as const;
    for (const [quantity, value, resolution] of cases) {
      const [reading] = run(new SimulatedInstrument({ quantity, coupling: 'none', at: level(value) }, OPTIONS), 1);
      expect(reading, quantity).toMatchObject({ quantity, value: expect.closeTo(value, 12), resolution, flags: 0 });
    }
  });

  it('goes on with another signal between two readings', () => {
    const instrument = new SimulatedInstrument(volts(level(12)), OPTIONS);
    expect(run(instrument, 1)[0]?.text).toBe('12.00 V DC');
    instrument.setSignal({ quantity: 'resistance', coupling: 'none', at: level(0.39) });
    expect(run(instrument, 1)[0]).toMatchObject({ text: '0.39 Ohm', end: 0.2 });
  });

  it('turns its dial when the signal that it has becomes one of another quantity', () => {
    const signal = volts(level(12));
    const instrument = new SimulatedInstrument(signal, OPTIONS);
    expect(run(instrument, 1)[0]?.text).toBe('12.00 V DC');
    Object.assign(signal, { quantity: 'resistance', coupling: 'none', at: level(0.39) });
    expect(run(instrument, 1)[0]?.text).toBe('0.39 Ohm');
  });

  it('refuses an aperture longer than its interval', () => {
    expect(() => new SimulatedInstrument(volts(level(1)), { ...OPTIONS, aperture: 0.2 })).toThrow(RangeError);
  });
});

describe('apertureMean(signal, from, to, saturation)', () => {
  it('is the mean of a sine over whole periods: zero, and over a quarter 2/pi of its peak', () => {
    const sine = { quantity: 'voltage', coupling: 'dc', at: ripple(1, 50) } as const;
    expect(apertureMean(sine, 0, 0.02, 10)).toBeCloseTo(0, 6);
    expect(apertureMean(sine, 0, 0.005, 10)).toBeCloseTo(2 / Math.PI, 3);
  });
});

describe('openSchedule(seed, options)', () => {
  it('gives openings of the lengths asked for, in order, apart, the mean pause as asked, repeatable', () => {
    const options = { meanEvery: 6, shortest: 0.02, longest: 0.15, until: 60_000 };
    const opens = openSchedule(9, options);
    expect(openSchedule(9, options)).toEqual(opens);
    for (const [i, { start, end }] of opens.entries()) {
      expect(end - start).toBeGreaterThanOrEqual(0.02 - 1e-9);
      expect(end - start).toBeLessThanOrEqual(0.15 + 1e-9);
      if (i > 0) expect(start - (opens[i - 1]?.end as number)).toBeGreaterThanOrEqual(3);
    }
    // Pauses have mean 6 s and standard deviation 3 s: within five standard errors of n.
    const mean = (opens.at(-1)?.start as number) / opens.length;
    expect(Math.abs(mean - 6.085)).toBeLessThan((5 * 3) / Math.sqrt(opens.length));
  });
  it('isWithin finds the openings that a slow search finds', () => {
    const opens = openSchedule(2, { meanEvery: 1, shortest: 0.1, longest: 0.5, until: 100 });
    for (let time = 0; time < 100; time += 0.037) expect(isWithin(opens, time)).toBe(opens.some(({ start, end }) => time >= start && time < end));
  });
});

describe('building blocks and random numbers', () => {
  it('drift stays within its amplitude and sum adds', () => {
    const wander = drift(4, 0.1, 60);
    for (let time = 0; time < 1000; time += 0.7) expect(Math.abs(wander(time))).toBeLessThanOrEqual(0.1);
    expect(sum(level(1), level(2))(0)).toBe(3);
  });
  it('gaussianFrom has the quartiles of the normal distribution (0.6745, NIST/SEMATECH e-Handbook 1.3.6.7.1)', () => {
    const gaussian = gaussianFrom(randomFrom(12));
    const n = 40_000;
    let inside = 0;
    for (let i = 0; i < n; i++) if (Math.abs(gaussian()) < 0.6745) inside++;
    expect(Math.abs(inside / n - 0.5)).toBeLessThan(5 * Math.sqrt(0.25 / n));
  });
});
