import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import Database from 'better-sqlite3';
import { Library, openSession, Recorder } from '../../server/recordings/index.ts';
import { APPLICATION_ID, migrate, SCHEMA_VERSION, schemaVersion } from '../../server/recordings/schema.ts';
import { freshFolder } from './support/folder.ts';
import { knownBatch } from './support/known-sequence.ts';
import { INFO, JUDGEMENT, METER, takeRecord } from './support/samples.ts';

describe('the write-ahead log', () => {
  it('stays small while readers read all the time, and is gone when the session is complete', async () => {
    const folder = freshFolder();
    const acknowledged: number[] = [];
    const recorder = Recorder.open({ folder, onAcknowledged: (seq) => acknowledged.push(seq), onTrouble: ({ message }) => expect.fail(message), onRecovered: () => undefined });
    const session = recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    const library = Library.open({ folder });
    const wal = join(folder, `${session}.sqlite-wal`);
    let largest = 0;
    let sent = 0;
    let pages = 0;
    recorder.appendSamples(knownBatch(1, 4000, 0, 1));
    sent += 4000;
    await expect.poll(() => acknowledged.at(-1), { timeout: 60_000 }).toBe(sent);
    while (sent < 600_000) {
      recorder.appendSamples(knownBatch(sent + 1, 4000, 0, 1));
      sent += 4000;
      const { total } = await library.samples(session, 1, 0, Math.max(0, sent - 20_000), 20_000);
      if (total > 0) pages++;
      await library.trace(session, 1, 0, -Infinity, Infinity, 500);
      largest = Math.max(largest, statSync(wal).size);
    }
    await expect.poll(() => acknowledged.at(-1), { timeout: 60_000 }).toBe(sent);
    expect(pages).toBeGreaterThan(50);
    expect(largest).toBeLessThan(64 * 2 ** 20);
    recorder.endTake(takeRecord(1, { end: 600, ending: 'stopped' }), JUDGEMENT);
    await library.release();
    await recorder.close();
    await library.close();
    expect(existsSync(wal)).toBe(false);
  });

  it('is no trouble when a reader has the file open as the session ends', async () => {
    const folder = freshFolder();
    const recorder = Recorder.open({ folder, onAcknowledged: () => undefined, onTrouble: ({ message }) => expect.fail(message), onRecovered: () => undefined });
    const session = recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    recorder.appendSamples(knownBatch(1, 100, 0, 1));
    const path = join(folder, `${session}.sqlite`);
    await expect.poll(() => statSync(path).size, { timeout: 60_000 }).toBeGreaterThan(0);
    const other = new Database(path, { readonly: true });
    other.prepare('SELECT count(*) FROM sqlite_schema').get();
    recorder.endTake(takeRecord(1, { end: 1, ending: 'stopped' }), JUDGEMENT);
    await recorder.close();
    other.close();
    const reader = openSession(path);
    expect(reader.isClosed()).toBe(true);
    expect(reader.samples(1, 0, 0, 1000).length).toBe(100);
    reader.close();
  });
});

describe('the schema', () => {
  // There is one version so far; a later one adds a migration and a file of this one as its test.
  it('is created in an empty file, and migrating again changes nothing', () => {
    const db = new Database(':memory:');
    expect(schemaVersion(db)).toBe(0);
    migrate(db);
    const tables = db.prepare('SELECT sql FROM sqlite_schema').pluck().all();
    migrate(db);
    expect(db.prepare('SELECT sql FROM sqlite_schema').pluck().all()).toEqual(tables);
    expect([schemaVersion(db), db.pragma('application_id', { simple: true })]).toEqual([SCHEMA_VERSION, APPLICATION_ID]);
    db.close();
  });

  it('of a later version or of something else is refused, and the file stays as it was', () => {
    const db = new Database(':memory:');
    db.exec('CREATE TABLE other (x)');
    expect(() => migrate(db)).toThrow(expect.objectContaining({ code: 'SESSION_FOREIGN' }));
    expect(db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get()).toBe(1);
    db.close();
    const later = new Database(':memory:');
    migrate(later);
    later.pragma(`user_version = ${SCHEMA_VERSION + 1}`);
    expect(() => migrate(later)).toThrow(expect.objectContaining({ code: 'SESSION_NEWER' }));
    later.close();
  });
});
