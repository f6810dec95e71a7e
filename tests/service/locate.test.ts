/** The search for the fault as a dashboard meets it: told what is known, given the next check, found, with the real service on the demo. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LiveLocation } from '../../server/live/protocol.ts';
import type { NextCheck } from '../../server/session/located.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let dashboard: Dashboard;

beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?seed=5']);
  dashboard = await Dashboard.open(service.address);
});
afterAll(async () => {
  dashboard?.close();
  await service?.dispose();
});

const isDone = (takes: number) => (): boolean => dashboard.location?.state === 'done' && dashboard.location.result !== null && new Set(dashboard.location.result.readings.map(({ take }) => take)).size >= takes;
const located = async (takes: number): Promise<NonNullable<LiveLocation['result']>> => {
  await dashboard.until(isDone(takes), `the fault located from ${takes} takes`, 60_000);
  return dashboard.location!.result!;
};

/** A spot take of a check, until it has settled. */
async function measure({ check, watching }: NextCheck['take']): Promise<void> {
  expect(await dashboard.ask({ type: 'start-take', check, watching, conditionIsMet: true })).toMatchObject({ type: 'done' });
  await dashboard.until(() => dashboard.judgement?.take === dashboard.state.take?.id && dashboard.judgement!.judgement.level !== null && dashboard.judgement!.judgement.steady.length > 0, 'a settled reading');
  await dashboard.ask({ type: 'stop-take' });
}

describe('the search for the fault', () => {
  it('sleeps until there is something to go by, and is woken by whoever looks', async () => {
    await dashboard.until(() => dashboard.location !== null, 'a first word of the search');
    expect(dashboard.location).toMatchObject({ state: 'asleep', result: null });
    await dashboard.ask({ type: 'locate' });
    const result = await located(0);
    expect(result.located.isFound).toBe(false);
    expect(result.loads).toEqual([{ id: 'CL', name: 'conveyor clutch', works: null }, { id: 'LP', name: 'work lamp', works: null }]);
    expect(result.located.next.length).toBeGreaterThan(0);
  });

  it('takes what is said of loads, panels and the state, and refuses what is not on the chart', async () => {
    for (const load of ['CL', 'LP']) await dashboard.ask({ type: 'say-load', load, works: false });
    await dashboard.ask({ type: 'say-panel', panel: 'rail cover', isOff: true });
    await dashboard.until(() => dashboard.location?.state === 'done' && dashboard.location.result?.panels.find(({ id }) => id === 'rail cover')?.isOff === true, 'the panel off', 60_000);
    expect(dashboard.location!.result!.loads.map(({ works }) => works)).toEqual([false, false]);
    expect(await dashboard.ask({ type: 'say-load', load: 'K1', works: false })).toMatchObject({ type: 'refused', code: 'NOT_ON_CHART' });
    expect(await dashboard.ask({ type: 'locate-in', circuit: 'horn' })).toMatchObject({ type: 'refused', code: 'NOT_ON_CHART' });
    await dashboard.ask({ type: 'say-panel', panel: 'rail cover', isOff: false });
  });

  it('leads from a failing ground to the span at the splice by the checks that it asks for', async () => {
    await dashboard.until(() => dashboard.location?.state === 'done', 'nothing being worked out', 60_000);
    await measure({ check: dashboard.state.checks.find(({ id }) => id === 'ground CL-')!, watching: 'spot', zone: null });
    let takes = 1;
    for (; takes < 8; takes++) {
      const { located: found } = await located(takes);
      if (found.isFound) break;
      await measure({ ...found.next[0]!.take, watching: 'spot' });
    }
    const { located: found, tested, readings } = await located(takes);
    expect(found.isFound).toBe(true);
    // Where the scenario hides it: the crimp at S3, 0.35 ohm.
    expect(found.faults[0]).toMatchObject({ kind: 'high-resistance', at: 'S3 to C2/4' });
    expect(found.faults[0]!.ohms!.estimate).toBeGreaterThan(0.3);
    expect(found.faults[0]!.ohms!.estimate).toBeLessThan(0.4);
    expect(tested.find(({ part }) => part === 'S3 to C2/4')).toBeDefined();
    expect(readings[0]).toMatchObject({ take: 1, name: 'ground CL-', verdict: 'fail' });
  }, 180_000);

  it('starts over with a new session', async () => {
    await dashboard.ask({ type: 'new-session' });
    await dashboard.until(() => dashboard.location?.state === 'asleep', 'a sleeping search');
    expect(dashboard.location!.search.loads).toEqual([]);
  });
});
