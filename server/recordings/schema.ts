/**
 * The session file: an SQLite database with these tables, documented one by one in DEVELOPERS.md.
 *
 * Records (session, meters, takes, marks, documents) are JSON documents, exactly as the program holds them, with the
 * parts worth searching as generated columns. Samples lie in `tail` as they are committed and move to `blocks`
 * when 32,768 of them are together or the take ends; a sample is always in exactly one of the two.
 */
import Database from 'better-sqlite3';
import { RecordingError } from './errors.ts';
import { sealStoredRecords } from './seal-chain.ts';

/** "Loom" in ASCII: names the file type to `file` and SQLite. */
export const APPLICATION_ID = 0x4c6f6f6d;
/** Version of the tables. A file of an earlier version is migrated when it is next written, and read as it is. */
export const SCHEMA_VERSION = 2;

const FIRST_TABLES = `
CREATE TABLE session (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  record TEXT NOT NULL CHECK (json_valid(record)),
  closed INTEGER NOT NULL DEFAULT 0 CHECK (closed IN (0, 1)),
  session_id TEXT GENERATED ALWAYS AS (record ->> '$.id'),
  started_at_us INTEGER GENERATED ALWAYS AS (record ->> '$.startedAtUs'),
  title TEXT GENERATED ALWAYS AS (record ->> '$.title'),
  vehicle TEXT GENERATED ALWAYS AS (record ->> '$.vehicle'),
  complaint TEXT GENERATED ALWAYS AS (record ->> '$.complaint')
) STRICT;

CREATE TABLE meters (
  meter INTEGER PRIMARY KEY,
  record TEXT NOT NULL CHECK (json_valid(record)),
  label TEXT GENERATED ALWAYS AS (record ->> '$.label'),
  address TEXT GENERATED ALWAYS AS (record ->> '$.address'),
  interval_s REAL GENERATED ALWAYS AS (record ->> '$.interval')
) STRICT;

CREATE TABLE takes (
  take INTEGER PRIMARY KEY,
  record TEXT NOT NULL CHECK (json_valid(record)),
  meter_record TEXT CHECK (meter_record IS NULL OR json_valid(meter_record)),
  judgement TEXT CHECK (judgement IS NULL OR json_valid(judgement)),
  meter INTEGER GENERATED ALWAYS AS (record ->> '$.meter'),
  watching TEXT GENERATED ALWAYS AS (record ->> '$.watching'),
  kind TEXT GENERATED ALWAYS AS (record ->> '$.check.kind'),
  red TEXT GENERATED ALWAYS AS (record ->> '$.check.red'),
  black TEXT GENERATED ALWAYS AS (record ->> '$.check.black'),
  limit_low REAL GENERATED ALWAYS AS (record ->> '$.check.limits.low'),
  limit_high REAL GENERATED ALWAYS AS (record ->> '$.check.limits.high'),
  start_s REAL GENERATED ALWAYS AS (record ->> '$.start'),
  end_s REAL GENERATED ALWAYS AS (record ->> '$.end'),
  ending TEXT GENERATED ALWAYS AS (record ->> '$.ending'),
  verdict TEXT GENERATED ALWAYS AS (judgement ->> '$.verdict')
) STRICT;

CREATE TABLE marks (
  mark INTEGER PRIMARY KEY,
  record TEXT NOT NULL CHECK (json_valid(record)),
  take INTEGER GENERATED ALWAYS AS (record ->> '$.take'),
  at_s REAL GENERATED ALWAYS AS (record ->> '$.at'),
  text TEXT GENERATED ALWAYS AS (record ->> '$.text')
) STRICT;

CREATE TABLE events (
  take INTEGER NOT NULL REFERENCES takes (take),
  number INTEGER NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('dropout', 'sag', 'shift', 'gap')),
  start_s REAL NOT NULL,
  end_s REAL NOT NULL,
  count INTEGER,
  depth REAL,
  over_range INTEGER,
  duration_s REAL,
  PRIMARY KEY (take, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE documents (
  name TEXT PRIMARY KEY,
  content TEXT NOT NULL CHECK (json_valid(content))
) STRICT;

CREATE TABLE tail (
  take INTEGER NOT NULL,
  meter INTEGER NOT NULL,
  first_sample INTEGER NOT NULL,
  samples INTEGER NOT NULL,
  first_us INTEGER NOT NULL,
  last_us INTEGER NOT NULL,
  columns BLOB NOT NULL,
  PRIMARY KEY (take, meter, first_sample)
) STRICT;

CREATE TABLE blocks (
  take INTEGER NOT NULL,
  meter INTEGER NOT NULL,
  first_sample INTEGER NOT NULL,
  samples INTEGER NOT NULL,
  first_us INTEGER NOT NULL,
  last_us INTEGER NOT NULL,
  last_seq INTEGER NOT NULL,
  columns BLOB NOT NULL,
  PRIMARY KEY (take, meter, first_sample)
) STRICT;
CREATE INDEX blocks_by_time ON blocks (take, meter, first_us, last_us, samples);

CREATE TABLE overview (
  take INTEGER NOT NULL,
  meter INTEGER NOT NULL,
  level INTEGER NOT NULL,
  chunk INTEGER NOT NULL,
  first_us INTEGER NOT NULL,
  last_us INTEGER NOT NULL,
  columns BLOB NOT NULL,
  PRIMARY KEY (take, meter, level, chunk)
) STRICT;
CREATE INDEX overview_by_time ON overview (take, meter, level, first_us, last_us);

CREATE TABLE seals (
  position INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('samples', 'take')),
  take INTEGER NOT NULL,
  meter INTEGER,
  first_sample INTEGER,
  content_hash BLOB NOT NULL CHECK (length(content_hash) = 32),
  chain_hash BLOB NOT NULL CHECK (length(chain_hash) = 32)
) STRICT;

CREATE TABLE losses (
  loss INTEGER PRIMARY KEY,
  first_seq INTEGER NOT NULL,
  last_seq INTEGER NOT NULL,
  samples INTEGER NOT NULL,
  from_s REAL NOT NULL,
  to_s REAL NOT NULL,
  why TEXT NOT NULL
) STRICT;
`;

/** Seals of records beside those of samples and takes. */
const RECORD_SEALS = `
CREATE TABLE new_seals (
  position INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('samples', 'take', 'session', 'meter', 'document', 'loss')),
  take INTEGER,
  meter INTEGER,
  first_sample INTEGER,
  name TEXT,
  revision INTEGER,
  content_hash BLOB NOT NULL CHECK (length(content_hash) = 32),
  chain_hash BLOB NOT NULL CHECK (length(chain_hash) = 32)
) STRICT;
INSERT INTO new_seals (position, kind, take, meter, first_sample, content_hash, chain_hash)
  SELECT position, kind, take, meter, first_sample, content_hash, chain_hash FROM seals;
DROP TABLE seals;
ALTER TABLE new_seals RENAME TO seals;
CREATE UNIQUE INDEX seals_of_records ON seals (kind, name, revision) WHERE name IS NOT NULL;
`;

/** What turns a file of version n (the index) into version n + 1. */
const MIGRATIONS: readonly ((db: Database.Database) => void)[] = [
  (db) => db.exec(FIRST_TABLES),
  (db) => {
    db.exec(RECORD_SEALS);
    sealStoredRecords(db);
  },
];

/** Creates the tables of a version in an empty file. */
export function createTables(db: Database.Database, version = SCHEMA_VERSION): void {
  for (const step of MIGRATIONS.slice(0, version)) step(db);
}

/** The tables and indexes of a version as SQLite notes them, by type and name: what a session file of it may hold. */
export function schemaObjects(version: number): ReadonlyMap<string, string> {
  const db = new Database(':memory:');
  try {
    createTables(db, version);
    return new Map((db.prepare('SELECT type, name, sql FROM sqlite_schema').all() as { type: string; name: string; sql: string }[]).map(({ type, name, sql }) => [`${type} ${name}`, sql]));
  } finally {
    db.close();
  }
}

/** Creates the tables, or brings those of an earlier version up to date, all or nothing. */
export function migrate(db: Database.Database): void {
  const version = schemaVersion(db);
  if (version === SCHEMA_VERSION) return;
  db.transaction(() => {
    for (const step of MIGRATIONS.slice(version)) step(db);
    db.pragma(`application_id = ${APPLICATION_ID}`);
    db.pragma(`user_version = ${SCHEMA_VERSION}`);
  }).immediate();
}

/**
 * Version of an open file; 0 for an empty one.
 * @throws {RecordingError} SESSION_FOREIGN for a database of something else, SESSION_NEWER for one of a later version
 */
export function schemaVersion(db: Database.Database): number {
  const version = db.pragma('user_version', { simple: true }) as number;
  const application = db.pragma('application_id', { simple: true }) as number;
  const isEmpty = version === 0 && db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() === 0;
  if (isEmpty) return 0;
  if (application !== APPLICATION_ID || version < 1) {
    throw new RecordingError('SESSION_FOREIGN', 'This is an SQLite file, but not one of a Loomtrace session.');
  }
  if (version > SCHEMA_VERSION) {
    throw new RecordingError('SESSION_NEWER', `This session was saved by a later version (format ${version}, this version reads up to ${SCHEMA_VERSION}). Update Loomtrace to open it.`);
  }
  return version;
}
