import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SampleClock } from '../../server/session/clock.ts';
import { jitteryLink, LEAST_DELAY, type LinkChunk, type LinkMake } from '../support/jittery-link.ts';

function dateAll(clock: SampleClock, chunks: readonly LinkChunk[]): { dated: number[]; truth: number[]; arrival: number[] } {
  const dated: number[] = [];
  const truth: number[] = [];
  const arrival: number[] = [];
  for (const chunk of chunks) {
    const out = new Float64Array(chunk.truth.length);
    clock.date(chunk.arrival, chunk.truth.length, out);
    dated.push(...out);
    truth.push(...chunk.truth);
    arrival.push(...chunk.truth.map(() => chunk.arrival));
  }
  return { dated, truth, arrival };
}

function medianOf(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1] as number;
}

function gapsOf(times: readonly number[], interval: number): { start: number; end: number }[] {
  return times.flatMap((end, i) => {
    const start = times[i - 1];
    return start !== undefined && end - start > 1.5 * interval ? [{ start, end }] : [];
  });
}

const KINDS: LinkMake['kind'][] = ['direct', 'latency-timer', 'network', 'stalls', 'stalls-apart'];

describe('SampleClock recovers the grid of the meter', () => {
  for (const kind of KINDS) {
    for (const interval of [0.5, 0.1, 0.02]) {
      for (const declared of [true, false]) {
        it(`over a ${kind} link at ${interval} s, interval ${declared ? 'declared' : 'not declared'}, crystal 100 ppm off`, () => {
          // A fresh seed each run: nothing here may depend on one.
          const seed = Math.floor(Math.random() * 2 ** 31);
          const chunks = jitteryLink({ kind, interval, slowPpm: 100, count: Math.min(10_000, 600 / interval), seed });
          const clock = new SampleClock({ interval: declared ? interval : null });
          const { dated, truth, arrival } = dateAll(clock, chunks);
          const error = dated.map((time, i) => Math.abs(time - LEAST_DELAY[kind] - (truth[i] as number)) / interval);
          const arrivalError = arrival.map((time, i) => Math.abs(time - LEAST_DELAY[kind] - (truth[i] as number)) / interval);
          const note = `seed ${seed}`;
          expect(medianOf(error), note).toBeLessThan(0.2);
          expect(medianOf(error), note).toBeLessThan(medianOf(arrivalError) / 3);
          // A slope over minutes is known to some parts per million.
          expect(Math.abs((clock.interval as number) / (interval * 1.0001) - 1), note).toBeLessThan(3e-5);
        });
      }
    }
  }
});

describe('SampleClock.date(arrival, count, out)', () => {
  it('gives strictly rising whole microseconds, none later than the arrival, whatever arrives', () => {
    const chunk = fc.record({ pause: fc.oneof(fc.constant(0.1), fc.double({ min: 1e-4, max: 5, noNaN: true })), count: fc.integer({ min: 1, max: 20 }) });
    fc.assert(fc.property(fc.array(chunk, { maxLength: 200 }), fc.option(fc.double({ min: 0.001, max: 2, noNaN: true })), (chunks, interval) => {
      const clock = new SampleClock({ interval });
      let arrival = 0;
      let last = -Infinity;
      const out = new Float64Array(20);
      for (const { pause, count } of chunks) {
        arrival += pause;
        clock.date(arrival, count, out);
        for (let i = 0; i < count; i++) {
          const time = out[i] as number;
          expect(time).toBeGreaterThan(last);
          expect(time).toBeLessThanOrEqual(arrival);
          expect(Math.abs(time * 1e6 - Math.round(time * 1e6))).toBeLessThan(1e-3);
          last = time;
        }
      }
    }), { numRuns: 300 });
  });

  it('spreads the readings of one chunk by the interval', () => {
    const out = new Float64Array(4);
    new SampleClock({ interval: 0.1 }).date(10, 4, out);
    expect([...out]).toEqual([9.7, 9.8, 9.9, 10].map((time) => expect.closeTo(time, 5)));
  });

  it('shows a lost sample as a gap at its place on a steady link', () => {
    const chunks = jitteryLink({ kind: 'direct', interval: 0.1, slowPpm: 30, count: 400, seed: 4, lost: new Set([200, 300, 301]) });
    const { dated, truth } = dateAll(new SampleClock({ interval: null }), chunks);
    const gaps = gapsOf(dated, 0.1);
    expect(gaps).toHaveLength(2);
    expect(gaps[0]?.start).toBeCloseTo(truth[199] as number, 2);
    expect(gaps[0]?.end).toBeCloseTo(truth[200] as number, 2);
    expect((gaps[1]?.end as number) - (gaps[1]?.start as number)).toBeCloseTo(0.3, 2);
  });

  it('begins a new grid after a silence, without moving later samples into it', () => {
    const before = jitteryLink({ kind: 'latency-timer', interval: 0.1, slowPpm: 0, count: 200, seed: 5 });
    const after = jitteryLink({ kind: 'latency-timer', interval: 0.1, slowPpm: 0, count: 200, seed: 6 })
      .map((chunk) => ({ arrival: chunk.arrival + 30.03, truth: chunk.truth.map((time) => time + 30.03) }));
    const { dated, truth } = dateAll(new SampleClock({ interval: 0.1 }), [...before, ...after]);
    expect(gapsOf(dated, 0.1)).toHaveLength(1);
    expect(dated[200]).toBeCloseTo(truth[200] as number, 1);
    expect(medianOf(dated.slice(220).map((time, i) => Math.abs(time - (truth[220 + i] as number))))).toBeLessThan(0.02);
  });

  it('takes late samples for late, not lost, once the link has shown that it stalls', () => {
    const chunks = jitteryLink({ kind: 'stalls-apart', interval: 0.1, slowPpm: 100, count: 6000, seed: 7 });
    const late = chunks.filter((chunk) => chunk.arrival - (chunk.truth[0] as number) > 0.15).length;
    const { dated } = dateAll(new SampleClock({ interval: 0.1 }), chunks);
    expect(late).toBeGreaterThan(200);
    expect(gapsOf(dated.slice(1000), 0.1)).toEqual([]);
  });

  it.each([[0.1, 0.5], [0.5, 0.1], [0.4, 0.25], [0.1, 0.107]])('finds out that a declared interval of %f s is in truth %f s', (declared, interval) => {
    const chunks = jitteryLink({ kind: 'direct', interval, slowPpm: 0, count: 300, seed: 8 });
    const clock = new SampleClock({ interval: declared });
    const { dated, truth } = dateAll(clock, chunks);
    expect(clock.interval).toBeCloseTo(interval, 2);
    expect(medianOf(dated.slice(150).map((time, i) => Math.abs(time - (truth[150 + i] as number))))).toBeLessThan(0.2 * interval);
  });

  it('restart() forgets the grid of a lost link', () => {
    const clock = new SampleClock({ interval: 0.1 });
    const out = new Float64Array(1);
    for (let i = 0; i < 50; i++) clock.date(1 + 0.1 * i, 1, out);
    clock.restart();
    clock.date(6.07, 1, out);
    expect(out[0]).toBeCloseTo(6.07, 5);
    clock.date(6.17, 1, out);
    expect(out[0]).toBeCloseTo(6.17, 5);
  });

  it('refuses a chunk without readings and an interval of 0', () => {
    expect(() => new SampleClock({ interval: 0 })).toThrow(RangeError);
    expect(() => new SampleClock({ interval: 1 }).date(1, 0, new Float64Array(1))).toThrow(RangeError);
    expect(() => new SampleClock({ interval: 1 }).date(1, 2, new Float64Array(1))).toThrow(RangeError);
  });
});
