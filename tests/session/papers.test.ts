import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { sayBeforeAfter } from '../../server/session/battery-reference.ts';
import { systemOfBattery } from '../../server/session/limits.ts';
import { changeLimits, withOwnLimits } from '../../server/session/own-limits.ts';
import { offeredChecks } from '../../server/session/offered-checks.ts';
import { paceZones, sayPace } from '../../server/session/pacing.ts';
import type { Pace } from '../../server/session/pacing.ts';
import { SessionPapers } from '../../server/session/papers.ts';
import { channelSamples } from '../../server/session/road-channels.ts';

const papers = (): SessionPapers => new SessionPapers({ id: 'a', startedAtUs: 0, title: '', vehicle: '', complaint: '' }, null);

describe('two people who edit the same session', () => {
  it('never overwrite each other: the second is turned away and nothing is changed', () => {
    const own = papers();
    expect(own.describe(1, { vehicle: 'Alder 7', ambient: 14 })).toBe(true);
    expect(own.describe(1, { vehicle: 'Alder 8' })).toBe(false);
    expect(own.info.value).toMatchObject({ vehicle: 'Alder 7', ambient: 14 });
    expect(own.describe(own.info.revision, { vehicle: 'Alder 8' })).toBe(true);
    expect(own.chart.change(1, alder7Chart)).toBe(true);
    expect(own.chart.change(1, null)).toBe(false);
    expect(own.chart.value).toBe(alder7Chart);
  });

  it('without a revision only what is still empty may be filled', () => {
    const own = papers();
    expect(own.describe(undefined, { title: 'hinge' })).toBe(true);
    expect(own.describe(undefined, { complaint: 'dies' })).toBe(true);
    expect(own.describe(undefined, { title: 'other' })).toBe(false);
    expect(own.info.value).toMatchObject({ title: 'hinge', complaint: 'dies' });
  });
});

describe('offeredChecks(chart, ambient)', () => {
  it('are those of the chart, and one of each kind without a chart', () => {
    expect(offeredChecks(alder7Chart, null).map(({ id }) => id)).toEqual(alder7Checks.map(({ id }) => id));
    expect(offeredChecks(null, null)).toHaveLength(12);
    const twice = { ...alder7Chart, circuits: [...alder7Chart.circuits, { ...alder7Chart.circuits[0]!, id: 'again' }] };
    expect(offeredChecks(twice, null)).toHaveLength(alder7Checks.length);
  });

  it('reckon with the temperature: copper at 80 degC has 1.236 times the resistance that it has at 20 degC', () => {
    // 0.00393 per kelvin at 20 degC, IEC 60028.
    const healthy = (ambient: number) => offeredChecks(alder7Chart, ambient).find(({ id }) => id === 'drop C2/4 to C1/6')!.healthy!.value!;
    expect(healthy(80) / healthy(20)).toBeGreaterThan(1.1);
    expect(healthy(80) / healthy(20)).toBeLessThan(1.236);
  });
});

describe('limits that the user changed for every check of a kind', () => {
  it('hold for that kind and function alone, say whose they are and what was before, and are taken back', () => {
    const change = { kind: 'ground', quantity: 'voltage', limits: { low: null, high: 0.2 }, at: 5 } as const;
    const own = changeLimits([], change);
    const changed = alder7Checks.map((check) => withOwnLimits(check, own));
    const grounds = changed.filter(({ kind, quantity }) => kind === 'ground' && quantity === 'voltage');
    expect(grounds.length).toBeGreaterThan(1);
    for (const { limits, limitsBasis } of grounds) {
      expect(limits.high).toBe(0.2);
      expect(limitsBasis).toMatch(/^changed by you.*before: .*common practice/);
    }
    expect(changed.filter((check, order) => check !== alder7Checks[order]).every(({ kind }) => kind === 'ground')).toBe(true);
    expect(changeLimits(own, { ...change, limits: { low: null, high: 0.4 } })).toHaveLength(1);
    expect(changeLimits(own, { ...change, limits: null })).toEqual([]);
  });
});

describe('the voltage of the system', () => {
  it('is as said, as the battery reads, or 12 V; a chart knows its own', () => {
    const own = papers();
    expect(own.system).toEqual({ volts: 12, from: 'assumed' });
    own.battery = [{ at: 0, volts: 25.4 }];
    expect(own.system).toEqual({ volts: 24, from: 'battery' });
    own.describe(undefined, { systemVoltage: 48 });
    expect(own.system).toEqual({ volts: 48, from: 'said' });
    own.chart.change(own.chart.revision, alder7Chart);
    expect(own.system).toEqual({ volts: 12, from: 'chart' });
  });

  it.each([[12.6, 12], [9.6, 12], [14.8, 12], [24.4, 24], [19.2, 24], [29.6, 24], [50.4, 48], [57.6, 48], [5, null], [0, null], [16.5, null], [33, null]])('a battery of %d V belongs to a system of %s', (volts, system) => {
    expect(systemOfBattery(volts)).toBe(system);
  });

  it('scales the limits of checks made by hand, and names the system where it is not the usual', () => {
    const ground = (system: 12 | 24 | 48) => offeredChecks(null, null, system).find(({ kind }) => kind === 'ground')!;
    expect([12, 24, 48].map((system) => ground(system as 12 | 24 | 48).limits.high)).toEqual([0.5, 1, 2]);
    expect(ground(24)).toMatchObject({ supply: 24, limitsBasis: expect.stringContaining('common practice for 24 V systems') as string });
  });
});

describe('pacing', () => {
  it('stays for its time, goes on in order along the harness and round again', () => {
    const zones = ['rail', 'hinge', 'gantry'];
    const visited: string[] = [];
    let pace: Pace | null = null;
    for (let now = 0; now < 80; now += 0.25) {
      const next: Pace | null = paceZones(zones, 20, pace, now, null);
      if (next !== pace) visited.push(`${next?.zone} at ${now}`);
      pace = next;
    }
    expect(visited).toEqual(['rail at 0', 'hinge at 20', 'gantry at 40', 'rail at 60']);
    expect(sayPace(zones, { zone: 'gantry', until: 60 }, 20)).toBe('Zone 3, gantry: flex for 20 s.');
  });

  it('goes where the evidence asks for, and nowhere without zones', () => {
    expect(paceZones(['a', 'b', 'c'], 20, { zone: 'a', until: 5 }, 5, 'c')).toEqual({ zone: 'c', until: 25 });
    expect(paceZones([], 20, null, 0, null)).toBeNull();
  });
});

describe('the battery before and after', () => {
  it('says whether the source stayed', () => {
    expect(sayBeforeAfter(null, { at: 1, volts: 12 })).toBe('');
    expect(sayBeforeAfter({ at: 0, volts: 12.5 }, { at: 9, volts: 12.4 })).toMatch(/stayed/);
    expect(sayBeforeAfter({ at: 0, volts: 12.5 }, { at: 9, volts: 11.6 })).toMatch(/12\.50 V before and 11\.60 V after.*moved/);
  });
});

describe('channelSamples', () => {
  it('keeps times rising in whole microseconds and leaves out what is old or from the future', () => {
    const { times, readings } = channelSamples('acceleration', [1, 2.0000004, 2.0000001, 3.2, 9], [1, 2, 3, 4, 5], 1.5, 3);
    expect([...times]).toEqual([2, 3]);
    expect(readings.map(({ quantity, value }) => [quantity, value])).toEqual([['acceleration', 2], ['acceleration', 4]]);
  });
});
