/** Simulated technicians: they flex zone after zone, note each change late, and the harness answers with dropouts. */
import type { WiggleRecord, ZoneChange } from '../../server/diagnosis/zones.ts';
import type { Random } from './random.ts';

export interface Technician {
  readonly zones: readonly string[];
  /** Zone that is the source; null: none of them. */
  readonly source: string | null;
  /** Dropouts per second while the source is flexed. */
  readonly rate: number;
  /** Rate without flexing, as a part of `rate`. */
  readonly background: number;
  /** Rate while a neighbour is flexed, as a part of `rate`. */
  readonly coupling: number;
  readonly lag: { readonly mean: number; readonly deviation: number };
  readonly dwell: { readonly shortest: number; readonly longest: number };
  /** Mean number of dropouts that come together; 1: none do. */
  readonly burst: number;
}

/** Six zones, reaction lag 1 +/- 0.5 s, dwell 2 to 30 s, background dropouts, coupling to neighbours. */
export function drawTechnician(random: Random): Technician {
  const zones = ['A', 'B', 'C', 'D', 'E', 'F'];
  return {
    zones, source: random.chance(0.1) ? null : random.pick(zones), rate: random.logBetween(0.02, 0.5), background: random.logBetween(0.003, 0.3),
    coupling: random.between(0, 0.5), lag: { mean: 1, deviation: 0.5 }, dwell: { shortest: 2, longest: 30 }, burst: 1,
  };
}

/** A take of up to `most` dropouts. Zones are gone through in order, there and back again, with a dwell drawn for each stay. */
export function wiggle(technician: Technician, random: Random, most: number, longest = 7200): WiggleRecord {
  const { zones, dwell, lag, burst } = technician;
  const source = technician.source === null ? -10 : zones.indexOf(technician.source);
  const rateIn = (zone: number): number => technician.rate * (
    technician.source === null ? 0.5 : technician.background + (zone === source ? 1 : Math.abs(zone - source) === 1 ? technician.coupling : 0)
  );
  const changes: ZoneChange[] = [];
  const dropouts: number[] = [];
  let moved = 0; // when the hands came to this zone
  let zone = 0;
  let step = 1;
  while (dropouts.length < most && moved < longest) {
    const noted = changes.length === 0 ? 0 : Math.max((changes.at(-1) as ZoneChange).at, moved + Math.max(0, lag.mean + lag.deviation * random.gauss()));
    changes.push({ at: noted, zone: zones[zone] as string });
    const leaves = moved + random.logBetween(dwell.shortest, dwell.longest);
    for (let at = moved + random.exponential(burst / rateIn(zone)); at < leaves; at += random.exponential(burst / rateIn(zone))) {
      dropouts.push(at);
      for (let more = at + 0.15; burst > 1 && random.chance(1 - 1 / burst); more += 0.15) dropouts.push(more);
    }
    moved = leaves;
    if (zone + step < 0 || zone + step >= zones.length) step = -step;
    zone += step;
  }
  const kept = dropouts.slice(0, most);
  const end = kept.length === most ? (kept.at(-1) as number) + 0.01 : moved;
  return { zones, changes: changes.filter((change) => change.at <= end), dropouts: kept, end };
}

/** The record as it was when its n-th dropout had come. */
export function afterDropouts(record: WiggleRecord, n: number): WiggleRecord {
  if (n >= record.dropouts.length) return record;
  const end = (record.dropouts[n - 1] as number) + 0.01;
  return { ...record, changes: record.changes.filter((change) => change.at <= end), dropouts: record.dropouts.slice(0, n), end };
}
