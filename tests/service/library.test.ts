import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import type { ImportReady, JobState } from '../../server/live/library-protocol.ts';
import type { SessionContents, SessionListing } from '../../server/session/session.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let session: string;

beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?interval=0.05&seed=5']);
  const dashboard = await Dashboard.open(service.address);
  await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'spot' });
  await dashboard.until(() => dashboard.frames.filter((frame) => frame.take === 1).length > 40, 'some samples');
  await dashboard.ask({ type: 'stop-take' });
  await dashboard.ask({ type: 'new-session' });
  dashboard.close();
  await vi.waitUntil(async () => (await list())[0]?.state === 'complete', { timeout: 30_000, interval: 100 });
  session = (await list())[0]!.session;
});
afterAll(() => service.dispose());

async function call<Answer>(method: string, path: string, body?: unknown, raw?: string): Promise<{ status: number; body: Answer }> {
  const answer = await fetch(`${service.address}/api${path}`, {
    method, body: raw ?? (body === undefined ? null : JSON.stringify(body)),
    headers: { origin: service.address, ...(raw === undefined ? { 'content-type': 'application/json' } : { 'content-type': 'text/csv' }) },
  });
  const text = await answer.text();
  return { status: answer.status, body: (text.startsWith('{') || text.startsWith('[') || text === 'null' ? JSON.parse(text) : text) as Answer };
}

async function list(query = ''): Promise<SessionListing[]> {
  return (await call<SessionListing[]>('GET', `/sessions${query}`)).body;
}

async function finish(state: JobState): Promise<JobState> {
  let now = state;
  await expect.poll(async () => (now = (await call<JobState>('GET', `/jobs/${state.job}`)).body).state).not.toBe('running');
  return now;
}

describe('recordings over HTTP', () => {
  it('takes a session out as CSV with metadata, and the same table in again as a session that is judged', async () => {
    const exported = await finish((await call<JobState>('POST', `/sessions/${session}/jobs`, { type: 'export', format: 'csv', take: null, meter: null })).body);
    expect(exported).toMatchObject({ state: 'done' });
    const { files, samples } = (exported as unknown as { result: { files: string[]; samples: number } }).result;
    const csv = await (await fetch(`${service.address}/api/jobs/${exported.job}/files/${files[0]}`)).text();
    // RFC 4180: CRLF ends a record; a heading and one record a sample.
    expect(csv.trimEnd().split('\r\n')).toHaveLength(samples + 1);

    const ready = (await call<ImportReady>('POST', '/imports?name=table.csv', undefined, csv)).body;
    expect(ready.preview.heading.length).toBeGreaterThan(3);
    const imported = await finish((await call<JobState>('POST', `/imports/${ready.import}/jobs`, { plan: ready.preview.plan, options: { title: 'again' } })).body);
    expect(imported).toMatchObject({ state: 'done', result: { samples } });
    const name = (imported as unknown as { result: { session: string } }).result.session;
    const contents = (await call<SessionContents>('GET', `/sessions/${name}`)).body;
    expect(contents.takes[0]!.judgement.samples).toBe(samples);
  });

  it('says what is wrong with a table that holds no readings', async () => {
    expect(await call('POST', '/imports?name=x.csv', undefined, 'nothing,here\nat,all\n')).toMatchObject({ status: 400, body: { code: 'BAD_QUERY' } });
    expect(await call('POST', '/imports/none/jobs', { plan: {}, options: {} })).toMatchObject({ status: 404 });
  });

  it('verifies a session and says so', async () => {
    const verified = await finish((await call<JobState>('POST', `/sessions/${session}/jobs`, { type: 'verify' })).body);
    expect(verified).toMatchObject({ state: 'done' });
    const { hash } = (await call<{ hash: string }>('GET', `/sessions/${session}/hash`)).body;
    expect(hash).toMatch(/^[0-9a-f]{64}$/);
  });

  it('throws a session away and takes it back; finds it by a word; renames its title', async () => {
    expect(await call('POST', `/sessions/${session}/describe`, { title: 'conveyor ground' })).toMatchObject({ status: 200, body: { title: 'conveyor ground' } });
    expect((await list('?search=conveyor')).map((found) => found.session)).toEqual([session]);
    expect(await list('?search=nosuchword')).toEqual([]);
    const thrown = (await call<{ session: string }>('POST', `/sessions/${session}/move`, { from: 'recordings', to: 'trash' })).body.session;
    expect((await list()).map((found) => found.session)).not.toContain(session);
    expect((await list('?place=trash')).map((found) => found.session)).toEqual([thrown]);
    const back = (await call<{ session: string }>('POST', `/sessions/${thrown}/move`, { from: 'trash', to: 'recordings' })).body.session;
    expect(readFileSync(join(service.recordings, `${back}.sqlite`)).subarray(0, 15).toString()).toBe('SQLite format 3');
    session = back;
  });

  it('keeps notes with a session', async () => {
    expect((await call('GET', `/sessions/${session}/documents/notes`)).body).toBeNull();
    expect(await call('PUT', `/sessions/${session}/documents/notes`, { text: 'crimp at S3 replaced' })).toMatchObject({ status: 200 });
    expect((await call('GET', `/sessions/${session}/documents/notes`)).body).toEqual({ text: 'crimp at S3 replaced' });
  });

  it.each([
    ['POST', '/sessions/none/move', { from: 'recordings', to: 'trash' }, 404],
    ['POST', '/sessions/none/move', { from: 'trash', to: 'trash' }, 400],
    ['POST', '/sessions/..%2fx/rename', { name: 'y' }, 422],
    ['POST', '/sessions/SESSION/rename', { name: '../y' }, 422],
    ['POST', '/sessions/SESSION/jobs', { type: 'erase' }, 400],
    ['PUT', '/sessions/SESSION/documents/..%2fx', {}, 400],
    ['GET', '/jobs/none', undefined, 404],
    ['GET', '/jobs/none/files/x', undefined, 404],
    ['GET', '/sessions?place=elsewhere', undefined, 400],
  ])('%s %s is refused with a reason', async (method, path, body, status) => {
    const answer = await call<{ message: string }>(method, path.replace('SESSION', session), body);
    expect(answer.status).toBe(status);
    expect(answer.body.message.length).toBeGreaterThan(10);
  });

  it('refuses a change that comes from a foreign page', async () => {
    const answer = await fetch(`${service.address}/api/sessions/${session}/move`, {
      method: 'POST', body: '{"from":"recordings","to":"trash"}', headers: { origin: 'http://evil.example', 'content-type': 'application/json' },
    });
    expect(answer.status).toBe(403);
  });
});
