import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import type { ServerMessage } from '../../server/live/protocol.ts';
import { Library } from '../../server/recordings/index.ts';
import type { RoadReport } from '../../server/session/road-report.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let one: Dashboard;
let two: Dashboard;
beforeAll(async () => {
  service = await startService([]);
  one = await Dashboard.open(service.address);
  two = await Dashboard.open(service.address);
});
afterAll(() => service.dispose());
beforeEach(async () => {
  const before = one.state.session.id;
  await one.ask({ type: 'new-session' });
  await one.until(() => one.state.session.id !== before, 'the new session');
});

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
const resultOf = (answer: ServerMessage): unknown => (answer.type === 'done' ? answer.result : answer);

describe('two dashboards on one session', () => {
  it('see the same chart, and the second change based on the same revision is refused, not written over the first', async () => {
    const before = resultOf(await one.ask({ type: 'read-chart' })) as { revision: number; chart: typeof alder7Chart };
    expect(before.chart.name).toBe(alder7Chart.name);
    const renamed = (name: string) => ({ ...before.chart, name });
    expect(await one.ask({ type: 'change-chart', basedOn: before.revision, chart: renamed('first') })).toMatchObject({ type: 'done' });
    expect(await two.ask({ type: 'change-chart', basedOn: before.revision, chart: renamed('second') })).toMatchObject({ type: 'refused', code: 'CHANGED_MEANWHILE' });
    await two.until(() => two.state.chart.name === 'first', 'the change of the other');
    const bad = { ...before.chart, spans: [{ ...before.chart.spans[0]!, from: 'nowhere' }] };
    expect(await two.ask({ type: 'change-chart', basedOn: two.state.chart.revision, chart: bad })).toMatchObject({ type: 'refused', code: 'BAD_CHART' });
    await two.ask({ type: 'change-chart', basedOn: two.state.chart.revision, chart: null });
    await one.until(() => one.state.chart.name === null && one.state.checks.length === 12, 'checks made by hand');
  });

  it('keep a chart that was typed when a new session begins, unless it is to be put away', async () => {
    const demo = resultOf(await one.ask({ type: 'read-chart' })) as { revision: number; chart: typeof alder7Chart };
    const old = demo.revision;
    await one.ask({ type: 'change-chart', basedOn: old, chart: { ...demo.chart, name: 'typed' } });
    const before = one.state.session.id;
    await one.ask({ type: 'new-session' });
    await one.until(() => one.state.session.id !== before, 'the new session');
    expect(one.state.chart).toMatchObject({ name: 'typed', isOwn: true });
    // An edit of the session before is not taken for one of this session.
    expect(one.state.chart.revision).toBeGreaterThan(old + 1);
    await one.ask({ type: 'new-session', keepsChart: false });
    await one.until(() => one.state.chart.name === alder7Chart.name && !one.state.chart.isOwn, 'the chart of the demo');
  });

  it('describe it one after the other', async () => {
    const basedOn = one.state.sessionRevision;
    expect(await one.ask({ type: 'describe', basedOn, vehicle: 'Alder 7', codes: ['B1234'], ambient: 14 })).toMatchObject({ type: 'done' });
    expect(await two.ask({ type: 'describe', basedOn, vehicle: 'other' })).toMatchObject({ type: 'refused', code: 'CHANGED_MEANWHILE' });
    await two.until(() => two.state.session.ambient === 14, 'the description');
    expect(two.state.session).toMatchObject({ vehicle: 'Alder 7', codes: ['B1234'] });
  });
});

describe('a take of the demo', () => {
  it('stays undecided until the state is confirmed, and the confirmation goes with it straight to the next check', async () => {
    await one.ask({ type: 'simulate', fault: 'none' });
    const check = one.state.checks.find(({ id }) => id === 'ground CL-')!;
    await one.ask({ type: 'start-take', check, watching: 'spot' });
    await one.until(() => one.judgement?.judgement.levelVerdict === 'pass', 'the level');
    expect(one.judgement!.judgement).toMatchObject({ verdict: 'undecided' });
    expect(one.judgement!.judgement.reasons[0]).toContain(check.condition);
    expect(one.state.condition).toEqual({ text: check.condition, isMet: false });
    await two.ask({ type: 'confirm-condition', isMet: true });
    await one.until(() => one.state.condition.isMet && one.judgement!.judgement.verdict === 'pass', 'the verdict');
    const next = one.state.checks.find((other) => other.condition === check.condition && other.id !== check.id)!;
    await one.ask({ type: 'choose', check: next, watching: 'spot' });
    await one.until(() => one.state.take?.check.id === next.id && one.state.condition.isMet, 'the next take, confirmed');
    await one.ask({ type: 'stop-take' });
    await one.until(() => one.state.take === null, 'the end');
    expect(one.state.condition.isMet).toBe(false);
  });

  it('refuses a restraint point and a high-side drop with a meter that is not isolated', async () => {
    const { check } = one.state;
    expect(await one.ask({ type: 'start-take', check: { ...check, red: 'airbag squib' }, watching: 'spot' })).toMatchObject({ type: 'refused', code: 'RESTRAINT_SYSTEM' });
    const drop = one.state.checks.find(({ id }) => id === 'drop B+ to CL+')!;
    await one.ask({ type: 'describe-meter', meter: 0, isolated: false });
    expect(await one.ask({ type: 'choose', check: drop, watching: 'spot' })).toMatchObject({ type: 'refused', code: 'METER_NOT_ISOLATED' });
    await one.ask({ type: 'describe-meter', meter: 0, isolated: true });
    expect(await one.ask({ type: 'choose', check: drop, watching: 'spot' })).toMatchObject({ type: 'done' });
    expect(one.state.take).toBeNull();
  });

  it('records motion beside the meter, and how it was noted', async () => {
    await one.ask({ type: 'start-take', check: one.state.check, watching: 'road' });
    await one.until(() => one.state.take !== null, 'the take');
    await pause(300);
    const at = one.state.take!.start;
    expect(resultOf(await one.ask({ type: 'motion', channel: 'acceleration', times: [at + 0.05, at + 0.1, at + 99], values: [1, 2, 3] }))).toEqual({ kept: 2 });
    await one.ask({ type: 'arm', isArmed: true });
    await one.ask({ type: 'lock', isLocked: true });
    await two.until(() => two.state.road.isArmed && two.state.road.isLocked && two.state.road.channels.length === 1, 'the road state');
    expect(two.state.road.channels[0]).toMatchObject({ channel: 'acceleration', value: 2 });
    await one.ask({ type: 'reseat', connector: 'C2' });
    await two.until(() => two.state.reseats[0]?.connector === 'C2', 'the reseat');
    await one.ask({ type: 'stop-take' });
    await one.until(() => one.state.take === null, 'the end');
    const file = one.state.recording.file!;
    await one.ask({ type: 'new-session' });
    const library = Library.open({ folder: service.recordings });
    await expect.poll(async () => (await library.list()).find(({ session }) => session === file)?.state).toBe('complete');
    expect([...(await library.samples(file, 1, 240)).value]).toEqual([1, 2]);
    expect((await library.contents(file)).meters.map(({ address }) => address)).toContain('motion:acceleration');
    await library.close();
    const report = await fetch(`${service.address}/api/sessions/${file}/takes/1/road`).then((answer) => answer.json() as Promise<RoadReport>);
    expect(report).toMatchObject({ byMotion: { near: 0 }, byMark: [] });
    expect((await fetch(`${service.address}/api/sessions/${file}/takes/9/road`)).status).toBe(404);
  });
});
