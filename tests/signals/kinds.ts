/**
 * Kinds of stream that a workshop meets. Every parameter is drawn from a wide range, anew for each
 * stream: a detector can't be tuned to any of them. Ranges are common practice, no source.
 */
import type { Random } from './random.ts';
import type { NoiseShape } from './random.ts';
import type { DropoutSchedule, StreamParameters } from './stream.ts';

export const STREAM_KINDS = [
  'slow-handheld', 'dead-time-handheld', 'filtering-handheld', 'coarse-display', 'bench-meter', 'logger-1khz', 'bursty-link',
  'alternator-ripple', 'slow-ohms', 'fast-ohms', 'link-gaps', 'load-steps', 'swept-sensor', 'auto-range-hunts', 'current-clamp',
  'heavy-tails', 'mains-hum', 'correlated-noise', 'short-check', 'ground-loads',
] as const;
export type StreamKind = (typeof STREAM_KINDS)[number];

/** Draws the parameters of one stream; without dropouts when `clean`. */
export function drawStream(kind: StreamKind, random: Random, clean = false): StreamParameters {
  const base = supply(kind, random);
  const mixed = { ...base, ...special(kind, random, base) };
  const drawn = { ...mixed, aperture: Math.min(mixed.aperture, mixed.interval) };
  return { ...drawn, dropouts: clean ? null : schedule(drawn, random) };
}

const ordinaryNoise = (random: Random): NoiseShape => random.pick<NoiseShape>([
  { shape: 'gauss' }, { shape: 'gauss' }, { shape: 'laplace' }, { shape: 'student', freedom: random.between(4, 12) },
]);

function supply(kind: StreamKind, random: Random): StreamParameters {
  const interval = random.logBetween(0.1, 0.6);
  const level = random.pick([random.between(11.5, 14.8), random.between(23, 29), random.between(4.75, 5.25)]);
  const count = random.pick([0.001, 0.01]);
  return {
    kind, check: 'supply', quantity: 'voltage', interval, aperture: interval * random.between(0.5, 1), filter: 1, count,
    noise: count * random.logBetween(0.2, 20), noiseShape: ordinaryNoise(random), correlation: 0, hum: null, bursts: null,
    level, levelOverRange: false, fullScale: 60, drift: random.chance(0.5) ? 0 : random.logBetween(1e-4, 3e-3), ripple: null, loads: null, sweep: null,
    linkGaps: null, huntsPerHour: 0, dropouts: null,
  };
}

function special(kind: StreamKind, random: Random, base: StreamParameters): Partial<StreamParameters> {
  switch (kind) {
    case 'slow-handheld': return { interval: random.logBetween(0.25, 1), aperture: random.between(0.2, 0.25) };
    case 'dead-time-handheld': return { aperture: base.interval * random.between(0.15, 0.7) };
    case 'filtering-handheld': return { filter: random.between(0.25, 0.8), aperture: base.interval };
    case 'coarse-display': return { count: random.pick([0.1, 0.05]), noise: random.logBetween(0.002, 0.1) };
    case 'bench-meter': {
      const interval = random.logBetween(0.01, 0.1);
      return { interval, aperture: interval * random.between(0.6, 1), count: 1e-5, noise: random.logBetween(2e-5, 3e-3) };
    }
    case 'logger-1khz': return { interval: 0.001, aperture: random.between(0.0001, 0.001), noise: random.logBetween(1e-3, 0.05) };
    case 'bursty-link': return { interval: random.logBetween(0.02, 0.2), bursts: { perHour: random.between(1, 20), length: random.logBetween(0.05, 1), factor: random.between(3, 20) } };
    case 'alternator-ripple': {
      const interval = random.logBetween(0.001, 0.05);
      return { interval, aperture: interval * random.between(0.1, 1), level: random.between(13.5, 14.8), ripple: { amplitude: random.logBetween(0.02, 0.4), idle: random.between(60, 250) } };
    }
    case 'slow-ohms': case 'fast-ohms': {
      const interval = kind === 'slow-ohms' ? random.logBetween(0.2, 1) : random.logBetween(0.002, 0.05);
      const count = random.pick([0.1, 0.01]);
      return {
        check: random.pick(['continuity', 'resistance'] as const), quantity: 'resistance', interval, aperture: interval * random.between(0.4, 1), count,
        noise: count * random.logBetween(0.2, 3), level: random.logBetween(0.1, 50), fullScale: 400, drift: random.chance(0.5) ? 0 : 1e-3,
      };
    }
    case 'link-gaps': return { linkGaps: { perHour: random.between(5, 60), length: random.logBetween(0.5, 20) } };
    case 'load-steps': {
      const interval = random.logBetween(0.01, 0.5);
      return { interval, aperture: interval * random.between(0.3, 1), loads: { perHour: random.between(10, 120), depth: base.level * random.between(0.005, 0.04) } };
    }
    case 'swept-sensor': {
      const interval = random.logBetween(0.002, 0.1);
      return {
        check: 'sensor-sweep', interval, aperture: interval * random.between(0.3, 1), level: 2.5, drift: 0, noise: random.logBetween(1e-3, 0.01), count: 0.001,
        sweep: { low: 0.5, high: 4.5, fastest: 0.7, slowest: random.between(1.5, 6) },
      };
    }
    case 'auto-range-hunts': return { huntsPerHour: random.between(5, 60) };
    case 'current-clamp': return {
      check: 'current', quantity: 'current', level: random.logBetween(0.5, 30), count: 0.01, noise: random.logBetween(0.005, 0.1), drift: 0.002,
    };
    case 'heavy-tails': return {
      noiseShape: random.pick<NoiseShape>([
        { shape: 'student', freedom: random.between(2.5, 5) },
        { shape: 'contaminated', fraction: random.logBetween(0.001, 0.03), factor: random.between(3, 12) },
      ]),
    };
    case 'mains-hum': {
      const interval = random.logBetween(0.001, 0.3);
      return { interval, aperture: interval * random.between(0.1, 1), hum: { amplitude: random.logBetween(0.01, 0.3), frequency: random.pick([50, 60]) * random.between(0.999, 1.001) } };
    }
    case 'correlated-noise': return { interval: random.logBetween(0.002, 0.3), correlation: random.between(0.3, 0.97), noise: random.logBetween(1e-3, 0.05) };
    case 'ground-loads': {
      // Loads beside a shared ground, whose going off lowers the drop.
      const interval = random.logBetween(0.01, 0.5);
      const level = random.logBetween(0.05, 0.5);
      return {
        check: 'ground', interval, aperture: interval * random.between(0.3, 1), count: 1e-4, noise: random.logBetween(1e-4, 2e-3), level, drift: 0,
        loads: { perHour: random.between(10, 120), depth: level * random.between(0.2, 0.7) },
      };
    }
    case 'short-check': return {
      check: random.pick(['short-to-ground', 'short-between'] as const), quantity: 'resistance', count: 100, noise: 100, level: 1e9,
      levelOverRange: true, fullScale: 4e7, drift: 0,
    };
  }
}

function schedule(p: StreamParameters, random: Random): DropoutSchedule {
  const open = p.levelOverRange ? random.logBetween(1, 1e5)
    : p.quantity === 'resistance' ? random.logBetween(420, 5000)
    : p.sweep !== null ? random.pick([0, 5]) : p.check === 'ground' ? random.between(11.5, 14.8) : 0;
  return {
    every: 20 + 20 * p.interval, apart: Math.max(4, 12 * p.interval), shortest: Math.min(0.001, p.interval / 20), longest: Math.max(3, 5 * p.interval), open,
    partial: p.levelOverRange ? 0 : 0.6, leastDepth: Math.max(p.noise, p.count), chatter: p.interval < 0.05 ? 0.2 : 0.05,
  };
}
