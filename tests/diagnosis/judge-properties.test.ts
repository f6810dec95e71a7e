import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeAll, TakeJudge } from '../../server/diagnosis/index.ts';
import type { JudgeSetup, Judgement, SampleColumns } from '../../server/diagnosis/index.ts';
import { columnsOf, drawStream, Random, SimulatedStream, STREAM_KINDS } from '../signals/index.ts';
import type { StreamKind } from '../signals/index.ts';

// The seed of a failing case is printed by fast-check.
const RUNS = { numRuns: 20 };
const anyStream = fc.record({ kind: fc.constantFrom(...STREAM_KINDS), seed: fc.integer({ min: 1, max: 2 ** 31 }) });

function take(kind: StreamKind, seed: number): { samples: SampleColumns; setup: JudgeSetup } {
  const p = drawStream(kind, new Random(seed));
  const samples = new SimulatedStream(p, seed).next(1500);
  return {
    samples,
    setup: {
      kind: p.check, watching: 'wiggle', limits: { low: null, high: null }, interval: p.interval, aperture: p.aperture, accuracy: { fraction: 0.005, counts: 2 },
      leadOhms: null, depth: null, shiftAfter: null, missingCondition: null, claim: null,
    },
  };
}

/** What was found and when, without the length estimates, which take a millisecond each. */
function events({ dropouts, sags, shifts, gaps, verdict }: Judgement): object {
  return { dropouts: dropouts.map(({ start, end, count, overRange }) => ({ start, end, count, overRange })), sags: sags.map(({ start, end }) => ({ start, end })), shifts: shifts.map(({ at }) => at), gaps, verdict };
}

describe('what a take proves depends on its samples alone', () => {
  it('however they are cut into pieces', () => {
    fc.assert(fc.property(anyStream, fc.array(fc.integer({ min: 1, max: 700 }), { minLength: 1, maxLength: 12 }), ({ kind, seed }, cuts) => {
      const { samples, setup } = take(kind, seed);
      const judge = new TakeJudge(setup);
      let at = 0;
      for (let i = 0; at < samples.length; i++) {
        const to = Math.min(samples.length, at + (cuts[i % cuts.length] as number));
        judge.push(samples, at, to);
        at = to;
      }
      expect(judge.judgement()).toEqual(judgeAll(setup, samples));
    // Readings that come one by one are the hardest: 30 of 1,197 such takes once came out differently.
    }), { numRuns: 40, examples: [[{ kind: 'correlated-noise', seed: 2080366321 }, [1]]] });
  });

  it('not on how often the judgement was asked for', () => {
    fc.assert(fc.property(anyStream, ({ kind, seed }) => {
      const { samples, setup } = take(kind, seed);
      const judge = new TakeJudge(setup);
      for (let at = 0; at < samples.length; at += 500) {
        judge.push(samples, at, Math.min(samples.length, at + 500));
        judge.judgement(samples.time[Math.min(samples.length, at + 500) - 1]);
      }
      expect(events(judge.judgement())).toEqual(events(judgeAll(setup, samples)));
    }), { numRuns: 10 });
  });

  it('not on how often the judgement was asked for, lengths and all, while the interval is still being measured', () => {
    // Dropouts among the first readings, on a grid that jitters.
    const random = new Random(5);
    const time = Float64Array.from({ length: 300 }, (_, i) => Math.round((0.05 * i + 0.01 * random.uniform()) * 1e6) / 1e6);
    const samples: SampleColumns = { ...columnsOf(Array.from(time, (_, i) => (i > 12 && i % 20 < 3 ? 0 : 12 + (i % 3) / 100)), 0.05), time };
    const setup: JudgeSetup = { ...take('logger-1khz', 1).setup, kind: 'supply', interval: null, aperture: null };
    const judge = new TakeJudge(setup);
    for (let at = 0; at < samples.length; at++) {
      judge.push(samples, at, at + 1);
      judge.judgement(samples.time[at]);
    }
    expect(judge.judgement().dropouts.length).toBeGreaterThan(5);
    expect(judge.judgement()).toEqual(judgeAll(setup, samples));
  });

  it('not on how often the judgement was asked for, while an open shows the count of another range', () => {
    // 0.05 ohm in counts of 0.01 ohm, and at the end two readings of an open that has not settled, in counts of 10 kohm.
    const random = new Random(5);
    const values = [...Array.from({ length: 280 }, () => Math.round(4.4 + random.gauss() / 2) / 100), 8.14e6, 28.41e6];
    const samples: SampleColumns = { ...columnsOf(values, 0.05, { quantity: 'resistance', coupling: 'none' }), resolution: Float64Array.from(values, (value) => (value > 1 ? 1e4 : 0.01)) };
    const setup: JudgeSetup = { ...take('logger-1khz', 1).setup, kind: 'continuity', interval: 0.05, aperture: 0.03 };
    const judge = new TakeJudge(setup);
    for (let at = 0; at < samples.length; at++) {
      judge.push(samples, at, at + 1);
      judge.judgement(samples.time[at]);
    }
    expect(judge.judgement()).toEqual(judgeAll(setup, samples));
  });

  it('not on when the session began', () => {
    // By a power of two, so that times keep their differences exactly.
    fc.assert(fc.property(anyStream, ({ kind, seed }) => {
      const { samples, setup } = take(kind, seed);
      const shift = 4096;
      const later = { ...samples, time: samples.time.map((t) => t + shift) };
      const a = judgeAll(setup, samples);
      const b = judgeAll(setup, later);
      expect(b.dropouts).toHaveLength(a.dropouts.length);
      b.dropouts.forEach((d, i) => expect(d.start - shift).toBeCloseTo(a.dropouts[i]?.start ?? Number.NaN, 5));
      const times = ({ sags, shifts, gaps }: Judgement, less: number): number[] => [...sags, ...gaps].flatMap(({ start, end }) => [start - less, end - less]).concat(shifts.map(({ at }) => at - less));
      const [before, after] = [times(a, 0), times(b, shift)];
      expect(after).toHaveLength(before.length);
      after.forEach((t, i) => expect(t).toBeCloseTo(before[i] as number, 5));
      expect(b.verdict).toBe(a.verdict);
    }), RUNS);
  });

  it('not on the unit: volts times 1,024 give the same events at the same times', () => {
    // A power of two scales every number exactly. Ohms have a depth of interest of 1 ohm, so there the depth is scaled with them.
    fc.assert(fc.property(anyStream, ({ kind, seed }) => {
      const { samples, setup } = take(kind, seed);
      const scaled = { ...samples, value: samples.value.map((v) => v * 1024), resolution: samples.resolution.map((q) => q * 1024) };
      const isOhms = setup.kind === 'continuity' || setup.kind === 'resistance';
      const a = judgeAll(isOhms ? { ...setup, depth: 1 } : setup, samples);
      const b = judgeAll(isOhms ? { ...setup, depth: 1024 } : setup, scaled);
      expect(events(b)).toEqual(events(a));
      b.dropouts.forEach((d, i) => { if (d.depth !== null) expect(d.depth / 1024).toBeCloseTo(a.dropouts[i]?.depth ?? Number.NaN, 6); });
    }), RUNS);
  });

  it('what the meter would have seen and what silence proves: not on the unit, nor on when the session began, nor on how the readings were cut', () => {
    // Supplies: there a full dropout is the level itself, whatever its unit.
    const supplies = fc.record({ kind: fc.constantFrom<StreamKind>('slow-handheld', 'dead-time-handheld', 'coarse-display', 'bench-meter', 'heavy-tails', 'link-gaps', 'mains-hum'), seed: fc.integer({ min: 1, max: 2 ** 31 }) });
    fc.assert(fc.property(supplies, fc.integer({ min: 1, max: 400 }), ({ kind, seed }, cut) => {
      const { samples, setup: drawn } = take(kind, seed);
      const setup: JudgeSetup = { ...drawn, kind: 'supply', load: { ohms: 6, volts: 12 } };
      const flexes = { flexes: 40, flexedTime: Infinity };
      const a = judgeAll(setup, samples, flexes);
      const scaled = judgeAll(setup, { ...samples, value: samples.value.map((v) => v * 1024), resolution: samples.resolution.map((q) => q * 1024) }, flexes);
      const later = judgeAll(setup, { ...samples, time: samples.time.map((t) => t + 4096) }, flexes);
      const judge = new TakeJudge(setup);
      for (let at = 0; at < samples.length; at += cut) judge.push(samples, at, Math.min(samples.length, at + cut));
      expect(judge.judgement(undefined, flexes)).toEqual(a);
      for (const b of [scaled, later]) {
        expect(b.sight?.caughtLength === undefined).toBe(a.sight?.caughtLength === undefined);
        a.sight?.catching.forEach(({ chance }, k) => expect(b.sight?.catching[k]?.chance).toBeCloseTo(chance, 6));
        expect(b.shortestVisibleDropout ?? -1).toBeCloseTo(a.shortestVisibleDropout ?? -1, 9);
        expect(b.sureDropout ?? -1).toBeCloseTo(a.sureDropout ?? -1, 9);
        const series = a.sight?.visibleSeries?.withLoad ?? null;
        if (series !== null) expect((b.sight?.visibleSeries?.withLoad as number) / series).toBeCloseTo(1, 9);
        a.claims?.forEach((claim, k) => {
          const other = b.claims?.[k];
          expect(other).toMatchObject({ per: claim.per, rate: claim.rate, isMet: claim.isMet });
          expect(other?.catchChance ?? -1).toBeCloseTo(claim.catchChance ?? -1, 6);
          if (claim.limit !== null) expect((other?.limit as number) / claim.limit).toBeCloseTo(1, 6);
          if (claim.needed !== null && claim.needed > 0) expect((other?.needed as number) / claim.needed).toBeCloseTo(1, 4);
        });
      }
    }), { numRuns: 6 });
  });
});
