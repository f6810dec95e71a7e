import { describe, expect, it } from 'vitest';
import { findBreak } from '../../server/diagnosis/coincidence.ts';
import type { BreakPlace, Chain, WatchingMeter } from '../../server/diagnosis/coincidence.ts';
import { Random } from '../signals/random.ts';

/** B+, fuse, connector, load, splice, stud, B-: the load lies after CL+. */
const chain: Chain = { points: ['B+', 'F4', 'C1/3', 'CL+', 'CL-', 'S3', 'G2', 'B-'], loadAfter: 'CL+' };
const meter = (name: string, red: string, black: string, changes: readonly { at: number; change: -1 | 0 | 1 }[], gaps: WatchingMeter['gaps'] = []): WatchingMeter => ({
  name, red, black, gaps, catchChance: 0.95, rigIsProved: true, dropouts: changes.map(({ at, change }) => ({ start: at, end: at + 0.1, change })),
});
const down = (...times: number[]): { at: number; change: -1 }[] => times.map((at) => ({ at, change: -1 }));
const up = (...times: number[]): { at: number; change: 1 }[] => times.map((at) => ({ at, change: 1 }));
const best = (meters: WatchingMeter[]): { place: BreakPlace; chance: number } =>
  findBreak(chain, meters, 0.5).places[0] as { place: BreakPlace; chance: number };

/** Voltages of the chain by Ohm's law: 10 milliohm a span, 3 ohm of load, 12.5 V; the broken span has 100 Mohm. */
function solveChain(broken: number | null): number[] {
  const ohms: number[] = chain.points.slice(1).map((_, k) => (k === broken ? 1e8 : chain.points[k] === chain.loadAfter ? 3 : 0.01));
  const total = ohms.reduce((a, b) => a + b);
  let volts = 12.5;
  return [volts, ...ohms.map((ohm) => (volts -= (12.5 * ohm) / total))];
}

describe('findBreak', () => {
  it('the load falls and the fuse holds: between fuse and load', () => {
    const { place, chance } = best([meter('load', 'CL+', 'B-', down(5, 9, 14)), meter('fuse', 'F4', 'B-', [])]);
    expect(place).toEqual({ kind: 'between', from: 'F4', to: 'CL+' });
    expect(chance).toBeGreaterThan(0.9);
  });
  it('all fall together: the source, or a break before the first lead', () => {
    const { places } = findBreak(chain, [meter('load', 'CL+', 'B-', down(5, 9, 14)), meter('battery', 'B+', 'B-', down(5.1, 9.2, 14))], 0.5);
    expect(places[0]?.place).toEqual({ kind: 'source' });
  });
  it('the ground side of the load rises: past the load, up to the point that stays', () => {
    const { place } = best([meter('ground', 'CL-', 'B-', up(5, 9)), meter('splice', 'S3', 'B-', [])]);
    expect(place).toEqual({ kind: 'between', from: 'CL-', to: 'S3' });
  });
  it('what one meter alone sees may be its leads, until they have been tugged and held', () => {
    const meters = [meter('load', 'CL+', 'B-', down(5, 9)), meter('fuse', 'F4', 'B-', [])];
    const leadsChance = (rigIsProved: boolean): number =>
      findBreak(chain, meters.map((one) => ({ ...one, rigIsProved })), 0.5).places.find(({ place }) => place.kind === 'leads' && place.meter === 'load')?.chance as number;
    expect(leadsChance(false)).toBeGreaterThan(0.1);
    expect(leadsChance(true)).toBeLessThan(0.05);
  });
  it('a meter in a gap says nothing', () => {
    const meters = [meter('load', 'CL+', 'B-', down(5, 9)), meter('fuse', 'F4', 'B-', [], [{ start: 0, end: 20 }])];
    const report = findBreak(chain, meters, 0.5);
    expect(report.coincidences.map(({ blind, missedBy }) => [blind, missedBy])).toEqual([[['fuse'], []], [['fuse'], []]]);
    // No better than the load's meter alone: the source stays in question.
    expect(report.places.find(({ place }) => place.kind === 'source')?.chance).toBeGreaterThan(0.1);
  });
  it('dropouts belong together within the tolerance, and not beyond', () => {
    const meters = [meter('load', 'CL+', 'B-', down(5)), meter('fuse', 'F4', 'B-', down(5.5))];
    expect(findBreak(chain, meters, 0.5).coincidences).toHaveLength(1);
    expect(findBreak(chain, meters, 0.3).coincidences).toHaveLength(2);
  });
  it('expects the signs that Ohm\'s law gives, for every break and every pair of points', () => {
    const { points } = chain;
    const healthy = solveChain(null);
    for (let broken = 0; broken < points.length - 1; broken++) {
      if (points[broken] === chain.loadAfter) continue; // the load itself opening moves no voltage much
      const open = solveChain(broken);
      const meters = points.flatMap((red, r) => points.slice(0, r).map((black, b) => {
        const change = (open[r] as number) - (open[b] as number) - ((healthy[r] as number) - (healthy[b] as number));
        const seen = Math.abs(change) > 3;
        return meter(`${red}/${black}`, red, black, seen ? [{ at: 5, change: Math.sign(change) as -1 | 1 }] : []);
      }));
      expect(findBreak(chain, meters, 0.5).places[0]?.place, `break after ${points[broken]}`)
        .toEqual({ kind: 'between', from: points[broken], to: points[broken + 1] });
    }
  });
  it('its chances are honest: over simulated breaks, falling sources and slipping leads, right as often as it says', () => {
    const random = new Random(20261125);
    const { points } = chain;
    const healthy = solveChain(null);
    const change = (of: readonly number[], r: number): number =>
      (of[r] as number) - (healthy[r] as number) - ((of.at(-1) as number) - (healthy.at(-1) as number));
    let judged = 0;
    let right = 0;
    let said = 0;
    for (let i = 0; i < 1500; i++) {
      // Three meters with one lead each on a random point, the other on B-. Causes as often as the stated weights have it.
      const reds = [0, 1, 2].map(() => random.integer(0, points.length - 2));
      const cause = random.between(0, 0.7 + 0.1 + 3 * 0.07);
      const broken = cause < 0.7 ? random.integer(0, points.length - 2) : -1;
      const slipping = cause > 0.8 ? random.integer(0, 2) : -1;
      const volts = broken >= 0 ? solveChain(broken) : healthy.map((volt, p) => (slipping >= 0 || p > points.indexOf(chain.loadAfter) ? volt : 0));
      const catching = random.between(0.5, 0.98);
      const times = Array.from({ length: random.integer(1, 5) }, (_, k) => 5 + 10 * k);
      const meters = reds.map((r, m): WatchingMeter => {
        const moved = slipping === m ? -12 : change(volts, r);
        const seen = times.filter(() => Math.abs(moved) > 3 && random.chance(catching));
        const dropouts = seen.map((at) => ({ at, change: Math.sign(moved) as -1 | 1 }));
        return { ...meter(`m${m}`, points[r] as string, 'B-', dropouts), catchChance: catching, rigIsProved: false };
      });
      if (meters.every(({ dropouts }) => dropouts.length === 0)) continue;
      const { place, chance } = findBreak(chain, meters, 0.5).places[0] as { place: BreakPlace; chance: number };
      judged++;
      said += chance;
      if (place.kind === 'between') right += points.indexOf(place.from) <= broken && points.indexOf(place.to) > broken ? 1 : 0;
      else if (place.kind === 'leads') right += place.meter === `m${slipping}` ? 1 : 0;
      else right += broken < 0 && slipping < 0 ? 1 : 0;
    }
    expect(judged).toBeGreaterThan(800);
    expect(Math.abs(right / judged - said / judged)).toBeLessThan(0.03 + 3 * Math.sqrt(0.25 / judged));
  });
  it('refuses points that are not on the chain', () => {
    expect(() => findBreak(chain, [meter('x', 'X9', 'B-', [])], 0.5)).toThrow(RangeError);
    expect(() => findBreak({ ...chain, loadAfter: 'B-' }, [], 0.5)).toThrow(RangeError);
  });
});
