/** Simulated links between a meter with an even grid and the computer: when do the chunks arrive, and what is the truth? */
import { gaussianFrom, randomFrom } from '../../drivers/simulated/random.ts';

export interface LinkChunk {
  readonly arrival: number;
  /** True times of the readings in it, s. */
  readonly truth: number[];
}

export interface LinkMake {
  /**
   * direct: each reading at once, 1-2 ms late · latency-timer: held to ticks of 16 ms, as USB adapters do (pitfall of their default setting) ·
   * network: exponential delays of 5 ms on top of 2 ms, in order · stalls: now and then nothing for 0.1-0.5 s, then all at once ·
   * stalls-apart: the same, but each reading in a chunk of its own
   */
  readonly kind: 'direct' | 'latency-timer' | 'network' | 'stalls' | 'stalls-apart';
  /** The meter's nominal interval, s. */
  readonly interval: number;
  /** How much slower than nominal its crystal runs, parts per million. */
  readonly slowPpm: number;
  readonly count: number;
  readonly seed: number;
  /** Numbers of readings that are lost on the way. */
  readonly lost?: ReadonlySet<number>;
}

/** Least delay by kind of link, s: it cannot be seen in arrivals. */
export const LEAST_DELAY: Record<LinkMake['kind'], number> = { direct: 0.001, 'latency-timer': 0.0005, network: 0.002, stalls: 0.003, 'stalls-apart': 0.003 };

export function jitteryLink(make: LinkMake): LinkChunk[] {
  const random = randomFrom(make.seed);
  const gaussian = gaussianFrom(random);
  const start = 5 + random();
  const step = make.interval * (1 + make.slowPpm * 1e-6);
  const chunks: LinkChunk[] = [];
  let lastArrival = 0;
  let stalledUntil = 0;
  const least = LEAST_DELAY[make.kind];
  for (let i = 0; i < make.count; i++) {
    const time = start + i * step;
    if (make.lost?.has(i)) continue;
    let arrival: number;
    switch (make.kind) {
      case 'direct': arrival = time + least + 0.001 * random(); break;
      case 'latency-timer': arrival = Math.ceil((time + least) / 0.016) * 0.016 + 0.0002 * Math.abs(gaussian()); break;
      case 'network': arrival = time + least - 0.005 * Math.log(1 - random()); break;
      default: {
        if (random() < 0.2 * make.interval) stalledUntil = Math.max(stalledUntil, time + 0.1 + 0.4 * random());
        arrival = Math.max(time + least + 0.002 * random(), stalledUntil);
      }
    }
    const previous = chunks.at(-1);
    const joins = previous !== undefined && make.kind !== 'stalls-apart' && arrival - lastArrival < (make.kind === 'latency-timer' ? 0.004 : 1e-9);
    if (joins) {
      previous.truth.push(time);
      continue;
    }
    lastArrival = Math.max(arrival, lastArrival + (make.kind === 'stalls-apart' ? 0.0005 : 0));
    chunks.push({ arrival: lastArrival, truth: [time] });
  }
  return chunks;
}
