/** Samples and records for tests: seeded, like what meters give, and like what no meter should give. */
import { Flag } from '../../../drivers/reading.ts';
import type { Check, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../../../server/session/session.ts';
import type { Judgement } from '../../../server/diagnosis/judgement.ts';

/** A small seeded generator (mulberry32): uniform numbers in [0, 1). */
export function randomNumbers(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function gaussian(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

export interface MeterLike {
  readonly meter?: number;
  readonly take?: number;
  readonly firstSeq?: number;
  readonly start?: number;
  readonly interval?: number;
  readonly level?: number;
  readonly decimals?: number;
  /** In counts. */
  readonly noise?: number;
  /** Largest delay of arrival, s. */
  readonly delay?: number;
}

/** What a meter on a steady circuit gives: decimal values with noise, a regular grid, late arrivals. */
export function meterSamples(n: number, random: () => number, options: MeterLike = {}): SampleBatch {
  const { meter = 0, take = 1, firstSeq = 1, start = 0.1, interval = 0.1, level = 12.1, decimals = 2, noise = 1.5, delay = 0.004 } = options;
  const scale = 10 ** decimals;
  const batch = emptyBatch(n, meter, take, firstSeq);
  for (let i = 0; i < n; i++) {
    batch.time[i] = Math.round((start + i * interval) * 1e6) / 1e6;
    batch.arrival[i] = Math.round((start + i * interval + delay * random()) * 1e6) / 1e6;
    batch.value[i] = Number(`${Math.round(level * scale + noise * gaussian(random))}e-${decimals}`);
    batch.resolution[i] = Number(`1e-${decimals}`);
    batch.flags[i] = Flag.autoRange;
    batch.functionCode[i] = 5;
  }
  return batch;
}

/** Every kind of value and flag that can come, in random order. */
export function strangeSamples(n: number, random: () => number, firstSeq = 1): SampleBatch {
  const batch = emptyBatch(n, 0, 1, firstSeq);
  const odd = [NaN, 0, -0, 5e-324, -5e-324, 2.2250738585072014e-308, 1.7976931348623157e308, -1e300, 0.1, 1 / 3, 12.34e-3, Infinity, -Infinity, 9007199254740992, 1e22, 123456789.123];
  let at = 0;
  for (let i = 0; i < n; i++) {
    at += 1 + Math.floor(random() ** 8 * 5e6);
    batch.time[i] = at / 1e6;
    batch.arrival[i] = (at + Math.floor(random() * 1e5) - 10) / 1e6;
    const kind = random();
    batch.value[i] = kind < 0.3 ? odd[Math.floor(random() * odd.length)]! : kind < 0.6 ? Math.round(random() * 60000) / 1000 : random() * 10 ** (random() * 40 - 20);
    batch.resolution[i] = random() < 0.2 ? NaN : Number(`1e${Math.floor(random() * 12) - 8}`);
    batch.flags[i] = Math.floor(random() * 65536);
    batch.functionCode[i] = Math.floor(random() * 40);
  }
  return batch;
}

export function emptyBatch(n: number, meter: number, take: number, firstSeq: number): SampleBatch {
  return {
    meter, take, firstSeq, length: n,
    time: new Float64Array(n), arrival: new Float64Array(n), value: new Float64Array(n), resolution: new Float64Array(n),
    flags: new Uint16Array(n), functionCode: new Uint8Array(n),
  };
}

/** Samples `from` to `to` of a batch. */
export function cut(batch: SampleBatch, from: number, to: number): SampleBatch {
  const { meter, take, firstSeq, time, arrival, value, resolution, flags, functionCode } = batch;
  return {
    meter, take, firstSeq: firstSeq + from, length: to - from,
    time: time.subarray(from, to), arrival: arrival.subarray(from, to), value: value.subarray(from, to),
    resolution: resolution.subarray(from, to), flags: flags.subarray(from, to), functionCode: functionCode.subarray(from, to),
  };
}

export const INFO: SessionInfo = {
  id: '2026-03-05-101112', startedAtUs: Date.UTC(2026, 2, 5, 10, 11, 12) * 1000,
  title: 'Clutch and lamp die', vehicle: 'Alder 7', complaint: 'Conveyor clutch and work lamp die together as the gantry folds',
};

export const METER: MeterRecord = {
  index: 0, address: 'simulated:alder7', label: 'Simulated meter', simulated: true,
  interval: 0.1, aperture: 0.09, accuracy: { fraction: 0.005, counts: 2 }, leadOhms: null,
};

export const CHECK: Check = {
  id: 'supply-cl', kind: 'supply', red: 'CL+', black: 'B-', limits: { low: 11.5, high: null }, limitsBasis: 'common practice',
  condition: 'clutch on', instructions: ['Back-probe CL+'], cautions: [],
};

export function takeRecord(id: number, change: Partial<TakeRecord> = {}): TakeRecord {
  return { id, check: CHECK, watching: 'wiggle', meter: 0, start: 0, end: null, ending: 'running', ...change };
}

export const JUDGEMENT: Judgement = {
  algorithm: '1', quantity: 'voltage', unit: 'V', samples: 10, elapsed: 1, interval: 0.1, aperture: 0.09, noise: 0.01, resolution: 0.01,
  level: 12.1, levelOverRange: false, threshold: 0.05, steady: [],
  dropouts: [{ start: 3, end: 3.1, count: 1, depth: -2, overRange: false, duration: { estimate: 0.05, low: 0.02, high: 0.1 } }],
  sags: [], shifts: [], gaps: [{ start: 5, end: 7 }], verdict: 'intermittent', levelVerdict: 'pass', reasons: ['Dropped out once.'],
  shortestVisibleDropout: 0.001, sureDropout: 0.02, rateLimitPerHour: null,
};
