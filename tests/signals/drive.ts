/** Simulated road takes: marks and dropouts that come in clusters, under a slow common factor, with or without a link between them. */
import type { Stretch } from '../../server/diagnosis/road.ts';
import type { Random } from './random.ts';

export interface Drive {
  readonly take: Stretch;
  readonly marks: readonly { readonly at: number; readonly text: string }[];
  readonly dropouts: readonly number[];
}

export interface DriveParameters {
  readonly duration: number;
  /** Per second, on the busy part of the way. */
  readonly markRate: number;
  readonly dropoutRate: number;
  /** Mean number that come together, some seconds apart. */
  readonly markCluster: number;
  readonly dropoutCluster: number;
  /** Quiet parts of the way have this part of the rates (1: no slow factor); mean time between busy and quiet, s. */
  readonly quiet: number;
  readonly change: number;
  /** Chance that a mark's event brings a dropout within two seconds before the mark. */
  readonly link: number;
}

export function drawDriveParameters(random: Random): DriveParameters {
  return {
    duration: random.logBetween(600, 5400), markRate: random.logBetween(0.005, 0.08), dropoutRate: random.logBetween(0.005, 0.05),
    markCluster: random.between(1, 4), dropoutCluster: random.between(1, 6), quiet: random.pick([1, 0.3, 0.05]),
    change: random.logBetween(180, 1200), link: 0,
  };
}

/** Times of clusters, thinned by the slow factor. */
function clusters(random: Random, rate: number, mean: number, busy: (at: number) => number, duration: number): number[] {
  const times: number[] = [];
  for (let at = random.exponential(mean / rate); at < duration; at += random.exponential(mean / rate)) {
    if (!random.chance(busy(at))) continue;
    times.push(at);
    for (let more = at; random.chance(1 - 1 / mean);) {
      more += random.between(1, 8);
      if (more < duration) times.push(more);
    }
  }
  return times.sort((a, b) => a - b);
}

export function drive(p: DriveParameters, random: Random): Drive {
  const changes: number[] = [];
  for (let at = random.exponential(p.change); at < p.duration; at += random.exponential(p.change)) changes.push(at);
  const startsBusy = random.chance(0.5);
  const busy = (at: number): number => ((changes.filter((change) => change <= at).length % 2 === 0) === startsBusy ? 1 : p.quiet);
  const marks = clusters(random, p.markRate, p.markCluster, busy, p.duration);
  const linked = marks.filter(() => random.chance(p.link)).map((at) => at - random.between(0.2, 2)).filter((at) => at > 0);
  const dropouts = [...clusters(random, p.dropoutRate, p.dropoutCluster, busy, p.duration), ...linked].sort((a, b) => a - b);
  return { take: { start: 0, end: p.duration }, marks: marks.map((at) => ({ at, text: 'bump' })), dropouts };
}
