import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import { reduceSamples } from '../../server/live/reduce.ts';
import { SampleFeed } from '../../server/live/sample-feed.ts';
import { decodeSampleFrame, encodeSampleFrame, type SampleFrame } from '../../server/live/sample-frame.ts';
import type { SampleBatch } from '../../server/session/session.ts';

function batch(firstSeq: number, time: number[], value: number[], take = 1): SampleBatch {
  const n = time.length;
  return {
    meter: 0, take, firstSeq, length: n, time: Float64Array.from(time), arrival: Float64Array.from(time), value: Float64Array.from(value),
    resolution: new Float64Array(n).fill(0.001), flags: Uint16Array.from(value, (v) => (Number.isNaN(v) ? Flag.overRange : 0)),
    functionCode: new Uint8Array(n).fill(5),
  };
}

describe('SampleFeed', () => {
  it('sends every sample at once at 100 readings a second', () => {
    const feed = new SampleFeed();
    for (let i = 0; i < 300; i++) {
      const frame = feed.push(batch(i + 1, [i / 100], [i]), i / 100);
      expect(frame?.firstSeq).toBe(i + 1);
    }
  });

  it('gathers into at most about 60 frames a second when readings come fast, and keeps each extreme', () => {
    const feed = new SampleFeed();
    const frames: SampleFrame[] = [];
    const rate = 10_000;
    for (let i = 0; i < 2 * rate; i++) {
      const now = i / rate;
      const due = feed.dueAt();
      if (due !== null && due <= now) frames.push(feed.flush(now)!);
      const frame = feed.push(batch(i + 1, [now], [i === 15_555 ? -99 : Math.sin(i)]), now);
      if (frame !== null) frames.push(frame);
    }
    const settled = frames.filter((frame) => frame.time[0]! >= 1);
    expect(settled.length).toBeLessThanOrEqual(62);
    const dip = settled.find((frame) => frame.value.includes(-99));
    expect(dip?.time[dip.value.indexOf(-99)]).toBe(15_555 / rate);
  });

  it('gathers those of a meter that nobody watches, and lets the first that is watched again go at once', () => {
    const feed = new SampleFeed();
    const frames: SampleFrame[] = [];
    for (let i = 0; i < 200; i++) {
      const frame = feed.push(batch(i + 1, [i / 50], [i]), i / 50, false);
      if (frame !== null) frames.push(frame);
    }
    expect(frames.length).toBeGreaterThan(40);
    expect(frames.length).toBeLessThanOrEqual(60);
    const waiting = 200 - frames.reduce((sum, frame) => sum + frame.length, 0);
    expect(feed.push(batch(201, [4], [200]), 4)?.length).toBe(waiting + 1);
  });

  it('never joins two takes in one frame', () => {
    const feed = new SampleFeed();
    const frames: SampleFrame[] = [];
    for (let i = 0; i < 5000; i++) {
      const frame = feed.push(batch(i + 1, [i / 5000], [i], i < 2500 ? 1 : 2), i / 5000);
      if (frame !== null) frames.push(frame);
    }
    frames.push(feed.flush(1)!);
    for (const frame of frames) {
      const takes = new Set(Array.from(frame.value, (v) => (v < 2500 ? 1 : 2)));
      expect([...takes]).toEqual([frame.take]);
    }
  });

  it('gives a late dashboard an overview that starts with a replacing frame and still shows a one-sample dropout', () => {
    const feed = new SampleFeed();
    for (let i = 0; i < 60_000; i++) feed.push(batch(i + 1, [i / 1000], [i === 12_345 ? 0 : 12]), i / 1000);
    const overview = feed.overview();
    expect(overview.map((frame) => frame.replace)).toEqual([true, ...overview.slice(1).map(() => false)]);
    const points = overview.reduce((sum, frame) => sum + frame.length, 0);
    expect(points).toBeLessThan(20_000);
    expect(overview.some((frame) => frame.time.some((time, i) => time === 12.345 && frame.value[i] === 0))).toBe(true);
  });
});

describe('reduceSamples', () => {
  it('keeps the smallest and largest value of the whole, each at its own time, and every over-range stretch', () => {
    const values = fc.array(fc.oneof(fc.double({ min: -5, max: 5, noNaN: true }), fc.constant(NaN)), { minLength: 1, maxLength: 400 });
    fc.assert(fc.property(values, fc.integer({ min: 1, max: 20 }), (value, columns) => {
      const samples = batch(1, value.map((_, i) => i * 0.01), value);
      const reduced = reduceSamples(samples, columns);
      const finite = value.filter((v) => !Number.isNaN(v));
      const kept = Array.from(reduced.value.subarray(0, reduced.length)).filter((v) => !Number.isNaN(v));
      expect(reduced.length).toBeLessThanOrEqual(Math.max(4 * columns, 1));
      if (finite.length > 0) {
        expect(Math.min(...kept)).toBe(Math.min(...finite));
        expect(Math.max(...kept)).toBe(Math.max(...finite));
      }
      expect(kept.length < reduced.length).toBe(finite.length < value.length);
      for (let i = 0; i < reduced.length; i++) {
        expect(reduced.value[i]).toEqual(value[Math.round(reduced.time[i]! / 0.01)]);
        if (i > 0) expect(reduced.time[i]!).toBeGreaterThan(reduced.time[i - 1]!);
      }
    }));
  });
});

describe('encodeSampleFrame', () => {
  it('comes back the same from decodeSampleFrame', () => {
    const { arrival: _arrival, ...samples } = batch(7, [1, 2, 3], [1.5, NaN, -0], 3);
    const frame: SampleFrame = { ...samples, reduced: true, replace: false };
    expect(decodeSampleFrame(encodeSampleFrame(frame).buffer)).toEqual(frame);
  });

  it('refuses bytes that are no whole frame', () => {
    const bytes = encodeSampleFrame({ ...batch(1, [1], [1]), reduced: false, replace: false });
    expect(() => decodeSampleFrame(bytes.buffer.slice(0, -1))).toThrow(RangeError);
    expect(() => decodeSampleFrame(new ArrayBuffer(3))).toThrow(RangeError);
  });
});
