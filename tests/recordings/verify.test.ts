import Database from 'better-sqlite3';
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { verifyCommand } from '../../server/commands/verify.ts';
import { openSession, startJob, verifySession } from '../../server/recordings/index.ts';
import { readBlock, writeBlock } from '../../server/recordings/columns/block.ts';
import { SCHEMA_VERSION } from '../../server/recordings/schema.ts';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import { freshFolder } from './support/folder.ts';
import { INFO, JUDGEMENT, METER, meterSamples, randomNumbers, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

/** Two takes, one of three blocks from two meters; the meter is described anew in between. */
function record(): string {
  const path = join(freshFolder(), 'evidence.sqlite');
  const random = randomNumbers(3);
  const writer = new SessionWriter(path, INFO, [METER, { ...METER, index: 1 }]);
  for (const [take, n] of [[1, 70_000], [2, 300]] as const) {
    writer.commit([{ type: 'start-take', take: takeRecord(take) }]);
    for (const meter of [0, 1]) {
      writer.commit([{ type: 'samples', take, meter, bytes: canonicalBatch(meterSamples(n, random, { take, meter, firstSeq: 1 + (2 * take + meter) * 100_000 })) }]);
    }
    writer.commit([
      { type: 'mark', mark: { id: take, take, at: 2, text: 'bump' } },
      { type: 'end-take', take: takeRecord(take, { end: 7000, ending: 'stopped' }), judgement: JUDGEMENT },
      { type: 'meters', meters: [{ ...METER, leadOhms: 0.1 }] },
    ]);
  }
  writer.commit([
    { type: 'info', info: { ...INFO, id: 'another', vehicle: 'Alder 7, second one' } },
    { type: 'document', name: 'chart', content: { circuits: ['first'] } },
    { type: 'document', name: 'chart', content: { circuits: ['second'] } },
    { type: 'document', name: 'search', content: { open: ['panel 2'] } },
    { type: 'document', name: 'photo-1', content: { base64: 'AAAA' } },
    { type: 'document', name: 'photo-1', content: null },
    { type: 'loss', loss: { firstSeq: 5, lastSeq: 9, samples: 5, from: 0.5, to: 0.9, why: 'DISK_FULL' } },
  ]);
  writer.finish();
  return path;
}

function verify(path: string, reportedHash?: string) {
  const reader = openSession(path);
  try {
    return verifySession(reader, { reportedHash });
  } finally {
    reader.close();
  }
}

async function runVerify(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  let out = '';
  let err = '';
  const code = await verifyCommand(args, {
    stdout: { write: (text: string) => { out += text; return true; } },
    stderr: { write: (text: string) => { err += text; return true; } },
  });
  return { code, out, err };
}

describe('verify', () => {
  const original = record();

  it('finds a recording as it was sealed unchanged, with its last hash', () => {
    const verification = verify(original);
    expect(verification).toMatchObject({ state: 'unchanged', findings: [], sealedSamples: 140_600, unsealedSamples: 0, unsealedRecords: [], writtenSince: [] });
    // 8 blocks, 2 takes; session and chart twice, meter 0 twice, meter 1, search, the picture and its taking out, the loss.
    expect(verification.seals).toBe(8 + 2 + 2 + 2 + 3 + 1 + 2 + 1);
    expect(verification.hash).toMatch(/^[0-9a-f]{64}$/);
    expect(verify(original, verification.hash!.toUpperCase()).reported).toBe('last');
    expect(verify(original, '0'.repeat(64)).reported).toBe('unknown');
  });

  const oneCountLower = (db: Database.Database, index: number) => {
    const row = db.prepare('SELECT rowid, columns FROM blocks WHERE take = 1 AND meter = 1 AND first_sample = 32768').get() as { rowid: number; columns: Buffer };
    const samples = readBlock(row.columns);
    samples.value[index] = Math.round(samples.value[index]! * 100 - 1) / 100;
    db.prepare('UPDATE blocks SET columns = ? WHERE rowid = ?').run(writeBlock(samples), row.rowid);
  };

  it.each<[string, (db: Database.Database) => void, string]>([
    ['one sample by one count', (db) => oneCountLower(db, 1234), 'take 1, meter 1, from sample 32768'],
    ['one sample\'s time by a microsecond', (db) => {
      const columns = db.prepare('SELECT columns FROM blocks WHERE take = 2 AND meter = 0').pluck().get() as Buffer;
      const samples = readBlock(columns);
      samples.timeUs[7]!++;
      db.prepare('UPDATE blocks SET columns = ? WHERE take = 2 AND meter = 0').run(writeBlock(samples));
    }, 'take 2, meter 0, from sample 0'],
    ['a block taken out', (db) => db.exec('DELETE FROM blocks WHERE take = 1 AND meter = 0 AND first_sample = 0'), 'take 1, meter 0, from sample 0'],
    ['a block of noise', (db) => db.exec("UPDATE blocks SET columns = x'0102030405' WHERE take = 2 AND meter = 1"), 'take 2, meter 1, from sample 0'],
    ['a limit of the check', (db) => db.exec("UPDATE takes SET record = json_set(record, '$.check.limits.low', 9.0) WHERE take = 1"), 'take 1'],
    ['the verdict', (db) => db.exec("UPDATE takes SET judgement = json_set(judgement, '$.verdict', 'pass') WHERE take = 2"), 'take 2'],
    ['the verdict, for readers that take the first of two', (db) => db.exec("UPDATE takes SET judgement = replace(judgement, '\"verdict\":', '\"verdict\":\"pass\",\"verdict\":') WHERE take = 2"), 'take 2'],
    ['a mark', (db) => db.exec("UPDATE marks SET record = json_set(record, '$.text', 'nothing') WHERE mark = 1"), 'take 1'],
    ['an added mark', (db) => db.exec("INSERT INTO marks (mark, record) VALUES (9, json_object('id', 9, 'take', 2, 'at', 1, 'text', 'x'))"), 'take 2'],
    ['the list of events', (db) => db.exec("DELETE FROM events WHERE kind = 'dropout' AND take = 1"), 'take 1'],
    ['the overview that is drawn', (db) => {
      db.exec('UPDATE overview SET columns = (SELECT o.columns FROM overview o WHERE o.take = 1 AND o.meter = 1 AND o.level = 7 AND o.chunk = 0) WHERE take = 1 AND meter = 0 AND level = 7 AND chunk = 0');
    }, 'take 1, meter 0'],
    ['when the session began', (db) => db.exec("UPDATE session SET record = json_set(record, '$.startedAtUs', 1)"), 'seal 1'],
    ['a seal taken out', (db) => db.exec('DELETE FROM seals WHERE position = 3'), 'seal 4'],
    ['a whole take taken out', (db) => db.exec('DELETE FROM events WHERE take = 2; DELETE FROM takes WHERE take = 2'), 'take 2'],
    ['samples added afterwards', (db) => {
      const bytes = canonicalBatch(meterSamples(2, randomNumbers(1)));
      db.prepare('INSERT INTO tail VALUES (2, 0, 300, 2, 1, 2, ?)').run(bytes);
    }, 'take 2, meter 0'],
    ['a document', (db) => db.exec("UPDATE documents SET content = json_set(content, '$.circuits[0]', 'third') WHERE name = 'chart'"), 'document chart'],
    ['a document back to what it was before', (db) => db.exec("UPDATE documents SET content = json_object('circuits', json_array('first')) WHERE name = 'chart'"), 'document chart'],
    ['a document only in its spaces', (db) => db.exec("UPDATE documents SET content = content || ' ' WHERE name = 'search'"), 'document search'],
    ['a document taken out', (db) => db.exec("DELETE FROM documents WHERE name = 'search'"), 'document search'],
    ['a document added', (db) => db.exec("INSERT INTO documents VALUES ('battery', '[]')"), 'document battery'],
    ['a document that was taken out put back', (db) => db.exec("INSERT INTO documents VALUES ('photo-1', json_object('base64', 'AAAA'))"), 'document photo-1'],
    ['the vehicle', (db) => db.exec("UPDATE session SET record = json_set(record, '$.vehicle', 'Birch 2')"), 'title, vehicle and complaint'],
    ['what is known of a meter', (db) => db.exec("UPDATE meters SET record = json_set(record, '$.leadOhms', 5) WHERE meter = 0"), 'meter 0'],
    ['a loss made smaller', (db) => db.exec('UPDATE losses SET samples = 1'), 'loss 1'],
    ['a loss kept quiet about', (db) => db.exec('DELETE FROM losses'), 'loss 1'],
    ['the last seal of a document taken out', (db) => db.exec("DELETE FROM seals WHERE kind = 'document' AND name = 'search'"), 'document search'],
  ])('says where it was changed: %s', (_name, change, where) => {
    const path = join(freshFolder(), 'changed.sqlite');
    copyFileSync(original, path);
    const db = new Database(path);
    change(db);
    db.close();
    const { state, findings } = verify(path);
    expect(state).toBe('changed');
    expect(findings.map((finding) => finding.where)).toContain(where);
  });

  // Files of the first format there was: whatever comes after it reads them as they were sealed.
  it('finds the recording that comes with the project as it was sealed', () => {
    const path = join(freshFolder(), 'demo.sqlite');
    copyFileSync(new URL('../../recordings/demo.sqlite', import.meta.url), path);
    const db = new Database(path, { readonly: true });
    expect(db.pragma('user_version', { simple: true })).toBe(1);
    db.close();
    const verification = verify(path);
    expect(verification).toMatchObject({ state: 'unchanged', findings: [], unsealedSamples: 0, unsealedRecords: ['title, vehicle and complaint', 'meter 0', 'document chart'] });
    expect(verification.sealedSamples).toBeGreaterThan(500);
  });

  it('and the same when this version writes to it: old seals and hash stay, documents are sealed from then on, and a change to them shows', async () => {
    const folder = freshFolder();
    const path = join(folder, 'demo.sqlite');
    copyFileSync(new URL('../../recordings/demo.sqlite', import.meta.url), path);
    const before = verify(path);
    const all = () => {
      const reader = openSession(path);
      const held = { takes: reader.takes(), marks: reader.marks(), documents: reader.documents(), samples: reader.samples(1, 0, 0, Infinity), info: reader.info() };
      reader.close();
      return held;
    };
    const held = all();
    await startJob({ type: 'note', folder, session: 'demo', note: { id: 'a', text: 'Looked at again', take: null, at: null, writtenAt: 0 } as never }).done;
    const { documents: { notes: _, ...documents }, ...others } = all();
    expect({ ...others, documents }).toEqual(held);
    const after = verify(path, before.hash!);
    expect(after).toMatchObject({ state: 'unchanged', findings: [], reported: 'earlier', unsealedRecords: [], sealedSamples: before.sealedSamples });
    expect(after.writtenSince).toContain('document notes');
    expect(after.seals).toBe(before.seals + 4);
    const db = new Database(path);
    expect(db.pragma('user_version', { simple: true })).toBe(SCHEMA_VERSION);
    db.exec("UPDATE documents SET content = json_set(content, '$.name', 'x') WHERE name = 'chart'");
    db.close();
    expect(verify(path).findings.map(({ where }) => where)).toEqual(['document chart']);
  });

  it('takes what is said later within Loomtrace as a new revision, not as a change, and seals nothing over what somebody else wrote', async () => {
    const folder = freshFolder();
    const path = join(folder, 'later.sqlite');
    copyFileSync(original, path);
    const { hash } = verify(path);
    await startJob({ type: 'describe', folder, session: 'later', change: { title: 'Clutch, mended' } }).done;
    await startJob({ type: 'document', folder, session: 'later', name: 'search', content: { open: [] } }).done;
    expect(verify(path, hash!)).toMatchObject({ state: 'unchanged', reported: 'earlier', writtenSince: ['title, vehicle and complaint', 'document search'] });
    const db = new Database(path);
    db.exec("UPDATE session SET record = json_set(record, '$.vehicle', 'Birch 2')");
    db.close();
    await expect(startJob({ type: 'describe', folder, session: 'later', change: { title: 'Another' } }).done).rejects.toMatchObject({ code: 'SESSION_DAMAGED' });
    expect(verify(path).findings.map(({ where }) => where)).toEqual(['title, vehicle and complaint']);
  });

  it('says so, and never that all is well, when a byte of a record makes it unreadable', () => {
    for (const [table, column] of [['takes', 'judgement'], ['takes', 'record'], ['marks', 'record']] as const) {
      const path = join(freshFolder(), 'broken.sqlite');
      copyFileSync(original, path);
      const db = new Database(path);
      db.unsafeMode(true).pragma('writable_schema = ON');
      db.pragma('ignore_check_constraints = ON');
      const [rowid, text] = db.prepare(`SELECT rowid, ${column} FROM ${table}`).raw().get() as [number, string];
      for (const broken of [text.replace('":', '" '), text.replace(/"dropouts"|"id"/, '"xx"')]) {
        try {
          db.prepare(`UPDATE ${table} SET ${column} = ? WHERE rowid = ?`).run(broken, rowid);
        } catch {
          // SQLite itself refuses to store it: the record stays as it was.
          continue;
        }
        expect(verify(path), `${table}.${column}`).toMatchObject({ state: 'changed' });
      }
      db.close();
    }
  });

  // A flipped bit anywhere in the file: found, or in a place that says nothing (free space of a page, what is not sealed).
  it(`gives a verdict, not an error, whatever bit of the file is flipped (seed ${seed})`, () => {
    const random = randomNumbers(seed);
    const bytes = readFileSync(original);
    const path = join(freshFolder(), 'flipped.sqlite');
    for (let round = 0; round < 60; round++) {
      const at = Math.floor(random() * bytes.length);
      const flipped = Buffer.from(bytes);
      flipped[at]! ^= 1 << Math.floor(random() * 8);
      writeFileSync(path, flipped);
      try {
        verify(path);
      } catch (error) {
        expect(error, `byte ${at}`).toMatchObject({ code: expect.stringMatching(/^SESSION_/) });
      }
    }
  });

  it('lets title, vehicle and complaint be corrected, but not whose and when the session was', () => {
    const reader = openSession(original);
    expect(reader.info()).toEqual({ ...INFO, vehicle: 'Alder 7, second one' });
    reader.close();
  });

  it('on the command line: exit 0 unchanged, 1 changed or another hash, 2 unreadable or misused', async () => {
    const { hash } = verify(original);
    const ok = await runVerify(original, '--hash', hash!);
    expect(ok).toMatchObject({ code: 0, err: '' });
    expect(ok.out).toContain('the recording that the report was made from');
    expect(JSON.parse((await runVerify(original, '--json')).out)).toMatchObject({ schema: 'verify/1', state: 'unchanged', hash });
    expect((await runVerify(original, '--hash', '1'.repeat(64))).code).toBe(1);
    const path = join(freshFolder(), 'changed.sqlite');
    copyFileSync(original, path);
    const db = new Database(path);
    oneCountLower(db, 0);
    db.close();
    const changed = await runVerify(path);
    expect(changed.code).toBe(1);
    expect(changed.out).toContain('take 1, meter 1, from sample 32768');
    for (const args of [[], ['/nowhere.sqlite'], [original, '--hash', 'xyz'], [original, '--what']]) {
      const { code, err } = await runVerify(...args);
      expect({ code, isSaid: err.startsWith('verify: ') }).toEqual({ code: 2, isSaid: true });
    }
  });
});
