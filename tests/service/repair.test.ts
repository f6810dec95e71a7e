/** A repair on the running service: noted, corrected, sealed by what is measured after it, reported, copied and brought in elsewhere. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ClientRequest } from '../../server/live/protocol.ts';
import type { Added, JobState, Verification } from '../../server/live/library-protocol.ts';
import { proofOf } from '../../server/session/proof.ts';
import type { Photo } from '../../server/session/repair.ts';
import type { SessionContents, SessionListing } from '../../server/session/session.ts';
import { JPEG } from '../support/jpeg.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let elsewhere: StartedService;
let one: Dashboard;
let two: Dashboard;
beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?interval=0.01&aperture=0.01&accuracy=0.5%25%2B2&seed=3']);
  elsewhere = await startService([]);
  one = await Dashboard.open(service.address);
  two = await Dashboard.open(service.address);
});
afterAll(async () => {
  await service?.dispose();
  await elsewhere?.dispose();
});

async function call<Answer>(method: string, path: string, body?: BodyInit, type = 'application/json', at = service): Promise<{ status: number; body: Answer; headers: Headers }> {
  const answer = await fetch(`${at.address}/api${path}`, { method, ...(body === undefined ? {} : { body }), headers: { origin: at.address, 'content-type': type } });
  return { status: answer.status, body: (await answer.json()) as Answer, headers: answer.headers };
}

async function job(path: string, asked: object): Promise<JobState> {
  let state = (await call<JobState>('POST', path, JSON.stringify(asked))).body;
  await expect.poll(async () => (state = (await call<JobState>('GET', `/jobs/${state.job}`)).body).state).not.toBe('running');
  return state;
}

const addPhoto = (bytes: Buffer) => call<Photo & { code: string }>('POST', '/repair/photos', new Uint8Array(bytes), 'image/jpeg');
const basedOn = () => one.state.repair.revision;
const file = () => one.state.recording.file!;
const note = (text: string, place = 'S3 to C2/4'): Promise<unknown> => one.ask({ type: 'note-repair', basedOn: basedOn(), text, place });

/** A wiggle take of the check at hand until `isOver`, then stopped. */
async function wiggle(isOver: () => boolean): Promise<void> {
  const { check } = one.state;
  const before = one.state.ended.length;
  await one.ask({ type: 'start-take', check, watching: 'wiggle', conditionIsMet: true });
  await one.until(() => one.state.take !== null && one.judgement?.take === one.state.take.id && isOver(), 'what the take is for', 60_000);
  await one.ask({ type: 'stop-take' });
  await one.until(() => one.state.ended.length === before + 1, 'the end of the take');
}

async function proof() {
  await expect.poll(async () => (await call<SessionContents>('GET', `/sessions/${file()}`)).body.takes.filter(({ end }) => end !== null).length).toBe(one.state.ended.length);
  const { takes } = (await call<SessionContents>('GET', `/sessions/${file()}`)).body;
  return proofOf(takes, one.state.repair.repairs, one.state.repair.aside);
}

describe('a repair', () => {
  it('is refused while a take runs, and without a word of what was done', async () => {
    await one.ask({ type: 'simulate', fault: 'splice-flex' });
    await one.ask({ type: 'start-take', check: one.state.check, watching: 'wiggle', conditionIsMet: true });
    expect(await note('crimp made new')).toMatchObject({ type: 'refused', code: 'TAKE_RUNS' });
    await one.until(() => (one.judgement?.judgement.dropouts.length ?? 0) >= 3, 'three dropouts', 60_000);
    await one.ask({ type: 'stop-take' });
    expect(await note('  ')).toMatchObject({ type: 'refused', code: 'NOTHING_SAID' });
    expect(await proof()).toMatchObject({ state: 'none' });
  });

  it('keeps pictures, each once; nothing that is no picture, and none too large', async () => {
    const added = await addPhoto(JPEG);
    expect(added).toMatchObject({ status: 200, body: { bytes: JPEG.length } });
    await addPhoto(JPEG);
    await two.until(() => two.state.repair.photos.length === 1, 'the picture on the other screen');
    const got = await fetch(`${service.address}/api/repair/photos/${added.body.id}`);
    expect(got.headers.get('content-type')).toBe('image/jpeg');
    expect(Buffer.from(await got.arrayBuffer()).equals(JPEG)).toBe(true);
    expect(await addPhoto(Buffer.from('<svg onload="alert(1)">'))).toMatchObject({ status: 409, body: { code: 'NOT_A_PICTURE' } });
    expect((await addPhoto(Buffer.concat([JPEG, Buffer.alloc(1_100_000)]))).status).toBe(413);
    await one.ask({ type: 'drop-photo', photo: added.body.id });
    expect((await fetch(`${service.address}/api/repair/photos/${added.body.id}`)).status).toBe(404);
    await one.until(() => one.state.repair.photos.length === 0, 'the picture to be gone');
    await addPhoto(JPEG);
    await one.until(() => one.state.repair.photos.length === 1, 'the picture again');
  });

  it('is noted once: the second of two people who change it at the same time is told', async () => {
    const asked = (text: string): ClientRequest => ({ type: 'note-repair', basedOn: basedOn(), text, place: '' });
    expect([await one.ask(asked('crimp made new')), await two.ask({ ...asked('other'), basedOn: 1 } as ClientRequest)]).toMatchObject([{ type: 'done' }, { type: 'refused', code: 'CHANGED_MEANWHILE' }]);
    await one.until(() => one.state.repair.repairs.length === 1, 'the repair');
    expect(one.state.repair).toMatchObject({ open: 1, photos: [], repairs: [{ number: 1, text: 'crimp made new', photos: [{ bytes: JPEG.length }] }] });
    const corrected = await one.ask({ type: 'correct-repair', basedOn: basedOn(), text: 'crimp at S3 made new', place: 'S3 to C2/4' });
    const { revision } = (corrected as { result: { revision: number } }).result;
    await one.ask({ type: 'note-finding', basedOn: revision, text: 'Crimp at S3 loose.' });
    await two.until(() => two.state.repair.finding === 'Crimp at S3 loose.', 'the finding');
    expect(await proof()).toMatchObject({ state: 'not-yet', rows: [{ after: null }] });
  });

  it('that was none is shown to have failed, and stands from the first take after it', async () => {
    await wiggle(() => one.judgement!.judgement.dropouts.length >= 1);
    const failed = await proof();
    expect(failed).toMatchObject({ state: 'failed', rows: [{ state: 'failed' }] });
    expect(one.state.repair.open).toBeNull();
    expect(await one.ask({ type: 'correct-repair', basedOn: basedOn(), text: 'x', place: '' })).toMatchObject({ type: 'refused', code: 'REPAIR_STANDS' });
    const [picture] = one.state.repair.repairs[0]!.photos;
    expect(await one.ask({ type: 'drop-photo', photo: picture!.id })).toMatchObject({ type: 'refused', code: 'PICTURE_STANDS' });
  });

  it('that is one needs its proof: a short clean take is not enough, and is said not to be', async () => {
    await one.ask({ type: 'simulate', fault: 'none' });
    expect(await note('splice cut out, new crimp')).toMatchObject({ type: 'done' });
    await one.until(() => one.state.repair.repairs.length === 2, 'the second repair');
    await wiggle(() => one.judgement!.judgement.elapsed > 3);
    const short = await proof();
    expect(short).toMatchObject({ state: 'not-yet', repair: { number: 2 } });
    expect(short.rows[0]!.missing[0]).toMatch(/needs \d+ more/);
  });

  it('leaves out a check that failed for another reason, when that is said', async () => {
    const { kind, red, black } = one.state.check;
    expect(await one.ask({ type: 'set-aside', basedOn: basedOn(), check: { kind, red, black }, reason: ' ' })).toMatchObject({ type: 'refused', code: 'NOTHING_SAID' });
    await one.ask({ type: 'set-aside', basedOn: basedOn(), check: { kind, red, black }, reason: 'Battery was flat.' });
    await one.until(() => one.state.repair.aside?.length === 1, 'the check aside');
    expect(await proof()).toMatchObject({ state: 'none', rows: [], aside: [{ reason: 'Battery was flat.' }] });
    expect(await (await fetch(`${service.address}/api/sessions/${file()}/report`)).text()).toContain('Set aside: Battery was flat.');
    await one.ask({ type: 'count-again', basedOn: basedOn(), check: { kind, red, black } });
    await one.until(() => one.state.repair.aside?.length === 0, 'the check again');
    expect((await proof()).rows).toHaveLength(1);
  });
});

describe('the report', () => {
  it('is one page without script, under a policy that lets only its own style in', async () => {
    const answer = await fetch(`${service.address}/api/sessions/${file()}/report`);
    expect(answer.status).toBe(200);
    expect(answer.headers.get('content-type')).toMatch(/^text\/html/);
    expect(answer.headers.get('content-security-policy')).toMatch(/^default-src 'none'; style-src 'sha256-[\w+/=]{44}'; img-src data:; frame-ancestors 'none'/);
    const page = await answer.text();
    for (const words of ['Repaired, not yet proved.', 'Crimp at S3 loose.', 'splice cut out, new crimp', 'Not repaired: a check that failed before fails again.', 'data:image/jpeg;base64,']) expect(page).toContain(words);
    expect(page).not.toContain('<script');
  });

  it('prints the newest hash, which verify knows again after the session went on', async () => {
    const page = await (await fetch(`${service.address}/api/sessions/${file()}/report`)).text();
    const hash = /Last hash of its chain: ([0-9a-f]{64})/.exec(page)?.[1];
    await wiggle(() => one.judgement!.judgement.elapsed > 1);
    await expect.poll(async () => ((await job(`/sessions/${file()}/jobs`, { type: 'verify', reportedHash: hash })) as unknown as { result: Verification }).result.reported).toBe('earlier');
  });
});

describe('the whole session as one file', () => {
  let folder: string;
  let copy: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'loomtrace-copy-'));
    copy = join(folder, 'copy.sqlite');
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it('is taken while a take runs, complete in itself', async () => {
    await one.ask({ type: 'start-take', check: one.state.check, watching: 'wiggle', conditionIsMet: true });
    await one.until(() => one.judgement?.take === one.state.take?.id && one.judgement!.judgement.samples > 50, 'some samples');
    const done = await job(`/sessions/${file()}/jobs`, { type: 'export', format: 'sqlite', take: null, meter: null }) as unknown as { state: string; job: string; result: { files: string[]; samples: number } };
    expect(done.state).toBe('done');
    writeFileSync(copy, Buffer.from(await (await fetch(`${service.address}/api/jobs/${done.job}/files/${done.result.files[0]}`)).arrayBuffer()));
    expect(one.state.take).not.toBeNull();
    await one.ask({ type: 'stop-take' });
    const db = new Database(copy, { readonly: true });
    expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(db.prepare('SELECT closed FROM session').pluck().get()).toBe(1);
    expect(db.prepare('SELECT ending FROM takes ORDER BY take DESC LIMIT 1').pluck().get()).toBe('copied');
    expect(db.prepare('SELECT sum(samples) FROM blocks').pluck().get()).toBe(done.result.samples);
    db.close();
    const command = execFileSync(process.execPath, ['--import', 'tsx', 'server/main.ts', 'verify', copy], { encoding: 'utf8' });
    expect(command).toContain('unchanged since it was sealed');
  });

  it('is added elsewhere with its pictures and its repair, once', async () => {
    const answer = await call<Added>('POST', '/sessions', readFileSync(copy), 'application/vnd.sqlite3', elsewhere);
    expect(answer).toMatchObject({ status: 200, body: { isUnchanged: true, findings: [] } });
    const contents = (await call<SessionContents>('GET', `/sessions/${answer.body.added}`, undefined, undefined, elsewhere)).body;
    expect(contents.takes.at(-1)!.ending).toBe('copied');
    const [photo] = one.state.repair.repairs[0]!.photos;
    const got = await fetch(`${elsewhere.address}/api/sessions/${answer.body.added}/photos/${photo!.id}`);
    expect(Buffer.from(await got.arrayBuffer()).equals(JPEG)).toBe(true);
    expect(await (await fetch(`${elsewhere.address}/api/sessions/${answer.body.added}/report`)).text()).toContain('splice cut out, new crimp');
    expect(await call('POST', '/sessions', readFileSync(copy), 'application/vnd.sqlite3', elsewhere)).toMatchObject({ status: 409, body: { code: 'SESSION_EXISTS' } });
    expect((await call<SessionListing[]>('GET', '/sessions', undefined, undefined, elsewhere)).body).toHaveLength(1);
  });

  it('tells of a repair that was written differently afterwards', async () => {
    const changed = join(folder, 'changed.sqlite');
    writeFileSync(changed, readFileSync(copy));
    const db = new Database(changed);
    db.prepare("UPDATE documents SET content = replace(content, 'crimp at S3 made new', 'crimp at S3 looked at') WHERE name = 'repair'").run();
    db.prepare("DELETE FROM documents WHERE name LIKE 'photo-%'").run();
    db.close();
    const { body } = await call<Added>('POST', '/sessions', readFileSync(changed), 'application/vnd.sqlite3', service);
    expect(body).toMatchObject({ isUnchanged: false });
    expect(body.findings).toEqual([
      { where: 'repair 1', what: 'differs from what the takes after it were sealed with' }, { where: 'repair 1', what: 'its picture 1 is missing' },
      { where: 'document repair', what: expect.stringMatching(/^differs from what was sealed \(revision \d+\)$/) as string },
      { where: `document photo-${one.state.repair.repairs[0]!.photos[0]!.id}`, what: 'is missing' },
    ]);
  });

  it('is refused where it is none, or holds what runs by itself', async () => {
    expect(await call('POST', '/sessions', 'time,value\n0,1\n', 'text/csv')).toMatchObject({ status: 422, body: { code: 'SESSION_FOREIGN' } });
    const trap = join(folder, 'trap.sqlite');
    writeFileSync(trap, readFileSync(copy));
    const db = new Database(trap);
    db.exec("CREATE TRIGGER trap AFTER INSERT ON documents BEGIN DELETE FROM takes; END");
    db.close();
    expect(await call('POST', '/sessions', readFileSync(trap), 'application/vnd.sqlite3')).toMatchObject({ status: 422, body: { code: 'SESSION_FOREIGN', message: expect.stringContaining('trap') as string } });
  });
});
