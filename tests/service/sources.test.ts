/** The service from its sources, its workers with it, as `npm run dev` runs it. Everything else tests what `npm start` runs. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { JobState } from '../../server/live/library-protocol.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?interval=0.05'], undefined, 0, 'sources');
});
afterAll(() => service?.dispose());

describe('the service from its sources', () => {
  it('serves the dashboard', async () => {
    expect(await (await fetch(service.address)).text()).toContain('<title>Loomtrace');
  });

  it('records a take, gives its trace, and takes it out: its writer, its reader and its jobs run', async () => {
    const dashboard = await Dashboard.open(service.address);
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    await dashboard.until(() => dashboard.values().length > 20, 'twenty readings');
    await dashboard.ask({ type: 'stop-take' });
    const session = `${service.address}/api/sessions/${dashboard.state.recording.file!}`;
    dashboard.close();
    const trace = await fetch(`${session}/takes/1/trace`);
    expect((await trace.arrayBuffer()).byteLength).toBeGreaterThan(20 * 8);
    const asked = { type: 'export', format: 'csv', take: null, meter: null };
    let job = (await (await fetch(`${session}/jobs`, { method: 'POST', headers: { 'Content-Type': 'application/json', Origin: service.address }, body: JSON.stringify(asked) })).json()) as JobState;
    while (job.state === 'running') job = (await (await fetch(`${service.address}/api/jobs/${job.job}`)).json()) as JobState;
    expect(job).toMatchObject({ state: 'done' });
  });

  it('stops in good order', async () => {
    expect(await service.stop()).toBe(0);
    expect(service.output()).toContain('everything is saved');
  });
});
