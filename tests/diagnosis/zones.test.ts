import { describe, expect, it } from 'vitest';
import { findSourceZone } from '../../server/diagnosis/zones.ts';
import type { WiggleRecord } from '../../server/diagnosis/zones.ts';
import { Random } from '../signals/random.ts';
import { afterDropouts, drawTechnician, wiggle } from '../signals/technician.ts';

const zones = ['door loom', 'sill', 'bulkhead', 'engine bay'];
/** Ten seconds on each zone in turn, again and again; the key is pressed one second after the hands move on. */
function record(dropouts: readonly number[], end: number): WiggleRecord {
  const changes = Array.from({ length: Math.ceil(end / 10) }, (_, k) => ({ at: k === 0 ? 0 : 10 * k + 1, zone: zones[k % 4] as string }));
  return { zones, changes, dropouts, end };
}
const chanceOf = (zone: string, of: WiggleRecord): number => findSourceZone(of).zones.find((finding) => finding.zone === zone)?.chance as number;
/** The zone that is named first as the dropouts come in one by one; null when none is. */
function firstNamed(full: WiggleRecord): string | null {
  for (let n = 1; n <= full.dropouts.length; n++) {
    const { source } = findSourceZone(afterDropouts(full, n));
    if (source !== null) return source;
  }
  return null;
}

describe('findSourceZone', () => {
  it('without a dropout all zones stay alike, and the least flexed is to be flexed next', () => {
    const report = findSourceZone(record([], 33));
    expect(new Set(report.zones.map((finding) => finding.chance)).size).toBe(1);
    expect(report).toMatchObject({ source: null, dropoutsNeeded: null, flexNext: 'engine bay' });
  });
  it('names the zone when all dropouts fall into it, and stops there', () => {
    const report = findSourceZone(record([23, 26, 64, 67, 105], 120));
    expect(report.source).toBe('bulkhead');
    expect(report.dropoutsNeeded).toBe(0);
    expect(report.flexNext).toBeNull();
  });
  it('one dropout is not enough, and it says about how many more it takes', () => {
    const report = findSourceZone(record([25], 40));
    expect(report.source).toBeNull();
    expect(report.dropoutsNeeded).toBeGreaterThanOrEqual(1);
    expect(report.dropoutsNeeded).toBeLessThan(12);
  });
  it('a dropout in the last second before the key counts rather for the zone that the hands were already on', () => {
    // Key at 31 s, hands at about 30 s.
    const late = record([30.8], 41);
    expect(chanceOf('engine bay', late)).toBeGreaterThan(chanceOf('bulkhead', late));
    const early = record([28], 41);
    expect(chanceOf('bulkhead', early)).toBeGreaterThan(chanceOf('engine bay', early));
  });
  it('dropouts spread over all zones alike point elsewhere', () => {
    const even = record([3, 8, 15, 18, 23, 28, 34, 38, 43, 48, 54, 58, 64, 68, 75, 78], 80);
    expect(findSourceZone(even).elsewhere).toBeGreaterThan(0.5);
  });
  it('five dropouts from one bend of the wire are hardly more evidence than one', () => {
    const one = chanceOf('bulkhead', record([25], 80));
    const burst = chanceOf('bulkhead', record([25, 25.15, 25.3, 25.45, 25.6], 80));
    expect(Math.abs(burst - one)).toBeLessThan(0.02);
  });
  it('dropouts in close succession count as one onset, wherever else others lie', () => {
    const lone = record([8, 25, 64], 80);
    const pairs = record([8, 8.3, 25, 25.3, 64, 64.3], 80);
    for (const zone of zones) expect(Math.abs(chanceOf(zone, pairs) - chanceOf(zone, lone))).toBeLessThan(0.02);
  });
  it('is right in at least 95 % of them when dropouts come in bursts and neighbours move almost as much, too', () => {
    const random = new Random(20261128);
    let named = 0;
    let right = 0;
    for (let i = 0; i < 200; i++) {
      const technician = { ...drawTechnician(random), ...(i % 2 === 0 ? { burst: 2 } : { coupling: 0.8 }) };
      const full = wiggle(technician, random, 40);
      const source = firstNamed(full);
      if (source === null) continue;
      named++;
      if (source === technician.source) right++;
    }
    expect(named).toBeGreaterThan(100);
    expect(right / named).toBeGreaterThan(0.95 - 2 * Math.sqrt((0.95 * 0.05) / named));
  });
  it('takes gaps out of the time flexed, and gives rates with limits that hold for all zones together', () => {
    const report = findSourceZone({ ...record([5], 40), gaps: [{ start: 2, end: 4 }] });
    expect(report.zones[0]?.flexedTime).toBeCloseTo(8, 9);
    // One event at 1 - 0.025 / 4: between the 2 sigma and the 3 sigma limits of Gehrels (1986), 5.683 and 8.9.
    expect(report.zones[0]?.rate?.estimate).toBeCloseTo(1 / 8, 9);
    expect((report.zones[0]?.rate?.high as number) * 8).toBeGreaterThan(5.683);
    expect((report.zones[0]?.rate?.high as number) * 8).toBeLessThan(8.9);
    expect((report.zones[3]?.rate?.low)).toBe(0);
  });
  it('the rate limits of all six zones hold together in at least 95 % of takes', () => {
    const random = new Random(8);
    let missed = 0;
    const takes = 400;
    for (let i = 0; i < takes; i++) {
      const technician = { ...drawTechnician(random), coupling: 0.3, lag: { mean: 0, deviation: 0 } };
      const report = findSourceZone(wiggle(technician, random, 1e9, 300), technician.lag);
      const source = technician.source === null ? -10 : technician.zones.indexOf(technician.source);
      const isMissed = report.zones.some(({ rate }, z) => {
        const truth = technician.rate * (technician.source === null ? 0.5 : technician.background + (z === source ? 1 : Math.abs(z - source) === 1 ? 0.3 : 0));
        return rate !== null && (rate.low > truth || rate.high < truth);
      });
      if (isMissed) missed++;
    }
    expect(missed / takes).toBeLessThan(0.05 + 3 * Math.sqrt((0.05 * 0.95) / takes));
  });
  it('is right in at least 95 % of the takes in which it names a zone, however early it stops', () => {
    const random = new Random(20261125);
    let named = 0;
    let right = 0;
    for (let i = 0; i < 250; i++) {
      const technician = drawTechnician(random);
      const full = wiggle(technician, random, 40);
      const source = firstNamed(full);
      if (source === null) continue;
      named++;
      if (source === technician.source) right++;
    }
    expect(named).toBeGreaterThan(150);
    // Two standard errors of the simulation below 95 %.
    expect(right / named).toBeGreaterThan(0.95 - 2 * Math.sqrt((0.95 * 0.05) / named));
  });
  it('refuses a zone that is not in the list and changes out of order', () => {
    expect(() => findSourceZone({ zones, changes: [{ at: 0, zone: 'roof' }], dropouts: [], end: 1 })).toThrow(RangeError);
    expect(() => findSourceZone({ zones, changes: [{ at: 5, zone: 'sill' }, { at: 3, zone: null }], dropouts: [], end: 9 })).toThrow(RangeError);
  });
});
