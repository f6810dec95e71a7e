/** A service that died, and the one that is started after it. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { openSession, verifySession } from '../../server/recordings/index.ts';
import { sessionPath } from '../../server/recordings/names.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?interval=0.05']);
});
afterAll(() => service?.dispose());

describe('a session that was being recorded as the service was killed', () => {
  it('is completed and sealed by the next service, its take marked as interrupted', async () => {
    const dashboard = await Dashboard.open(service.address);
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    await dashboard.until(() => dashboard.state.recording.file !== null, 'its file');
    const contents = async (name: string) => (await (await fetch(`${service.address}/api/sessions/${name}`)).json()) as Partial<SessionContents>;
    await expect.poll(async () => (await contents(dashboard.state.recording.file!)).takes?.[0]?.samples ?? 0, { timeout: 60_000 }).toBeGreaterThan(20);
    dashboard.close();
    await service.stop('SIGKILL');
    service = await startService(['--meter', 'simulated:alder7?interval=0.05'], service.recordings);
    const sessions = async () => (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
    await expect.poll(async () => (await sessions()).map(({ state, message }) => ({ state, message })), { timeout: 60_000, interval: 250 })
      .toEqual([{ state: 'complete', message: '' }]);
    const [{ session }] = (await sessions()) as [SessionListing];
    const [take] = (await contents(session)).takes!;
    expect(take).toMatchObject({ ending: 'interrupted' });
    expect(take!.samples).toBeGreaterThan(10);
    const reader = openSession(sessionPath(service.recordings, session));
    expect(verifySession(reader)).toMatchObject({ state: 'unchanged', sealedSamples: take!.samples, unsealedSamples: 0 });
    reader.close();
  });
});
