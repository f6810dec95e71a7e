import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { describe, expect, it } from 'vitest';
import { Recorder, verifySession } from '../../server/recordings/index.ts';
import type { RecordingSpace, RecordingTrouble } from '../../server/recordings/index.ts';
import { SessionReader } from '../../server/recordings/session-reader.ts';
import { freshFolder } from './support/folder.ts';
import { integrityOf } from './support/kill.ts';
import { knownBatch, valueAt } from './support/known-sequence.ts';
import { INFO, JUDGEMENT, METER, takeRecord } from './support/samples.ts';
import { canMount, smallDisk } from './support/small-disk.ts';

/** Records the known sequence until told to stop. */
class Recording {
  readonly troubles: RecordingTrouble[] = [];
  readonly spaces: RecordingSpace[] = [];
  recovered = 0;
  readonly continued: string[][] = [];
  acknowledged = 0;
  sent = 0;
  readonly session: string;
  readonly recorder: Recorder;
  readonly #sending: NodeJS.Timeout;

  constructor(folder: string, batch = 100, memoryLimit = 64 * 2 ** 20) {
    this.recorder = Recorder.open({
      folder, memoryLimit,
      onAcknowledged: (seq) => { this.acknowledged = seq; },
      onTrouble: (trouble) => this.troubles.push(trouble),
      onRecovered: () => { this.recovered++; },
      onContinued: (from, to) => this.continued.push([from, to]),
      onSpace: (space) => this.spaces.push(space),
    });
    this.session = this.recorder.startSession(INFO, [METER]);
    this.recorder.putDocument('chart', CHART);
    this.recorder.putDocument('search', { open: ['panel 2'] });
    this.recorder.putDocument('search', null);
    this.recorder.startTake(takeRecord(1));
    this.recorder.addMark({ id: 1, take: 1, at: 0, text: 'Leads hold' });
    this.#sending = setInterval(() => {
      this.recorder.appendSamples(knownBatch(this.sent + 1, batch, 0, 1));
      this.sent += batch;
    }, 10);
  }

  async stop(): Promise<void> {
    clearInterval(this.#sending);
    this.recorder.endTake(takeRecord(1, { end: this.sent / 1000, ending: 'stopped' }), JUDGEMENT);
    await this.recorder.close();
  }
}

const CHART = { circuits: [{ id: 'lamp' }] };

function storedSequence(path: string): Float64Array {
  const reader = new SessionReader(path);
  const { seq, value } = reader.samples(1, 0, 0, Infinity);
  reader.close();
  for (let i = 0; i < seq.length; i++) if (!Object.is(value[i], valueAt(seq[i]!))) expect.fail(`sample ${seq[i]} was changed`);
  return seq;
}

const wholeSequence = (n: number) => Float64Array.from({ length: n }, (_, i) => i + 1);

describe.skipIf(!canMount)('a disk that runs full (a real small file system; skipped where mounting is not allowed)', () => {
  it('is told at once, loses nothing while memory lasts, and goes on by itself when there is room', async () => {
    const disk = smallDisk(6 * 2 ** 20);
    const recording = new Recording(disk.folder);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(1000);
    disk.fill(0);
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('DISK_FULL');
    expect(recording.troubles[0]!.message).toMatch(/^NOT SAVING: .* full/);
    const atTrouble = recording.acknowledged;
    await delay(1200);
    expect(recording.acknowledged, 'nothing more is acknowledged').toBe(atTrouble);
    expect(recording.troubles.at(-1)!.waiting).toBeGreaterThan(0);
    disk.empty();
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    const path = join(disk.folder, `${recording.session}.sqlite`);
    expect(integrityOf(path)).toBe('ok');
    expect(storedSequence(path)).toEqual(wholeSequence(recording.sent));
  });

  it('leaves what was committed intact when it stays full', async () => {
    const disk = smallDisk(6 * 2 ** 20);
    const recording = new Recording(disk.folder);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(1000);
    disk.fill(0);
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('DISK_FULL');
    await recording.stop();
    disk.empty();
    const path = join(disk.folder, `${recording.session}.sqlite`);
    expect(integrityOf(path)).toBe('ok');
    const stored = storedSequence(path);
    expect(stored.length).toBeGreaterThanOrEqual(recording.acknowledged);
    expect(stored).toEqual(wholeSequence(stored.length));
  });

  it('keeps to its memory limit, gives up the oldest that wait, and notes what was lost', async () => {
    const disk = smallDisk(16 * 2 ** 20);
    const recording = new Recording(disk.folder, 1000, 2 * 2 ** 20);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(1000);
    disk.fill(0);
    // On a busy machine some may be given up before the disk has refused for the first time: those are not meant.
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('DISK_FULL');
    const { lost: before } = recording.troubles.at(-1)!;
    await expect.poll(() => recording.troubles.at(-1)!.lost, { timeout: 60_000 }).toBeGreaterThan(before);
    expect(recording.troubles.at(-1)!.waiting * 43).toBeLessThanOrEqual(2 * 2 ** 20);
    disk.empty();
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    const path = join(disk.folder, `${recording.session}.sqlite`);
    const stored = storedSequence(path);
    const reader = new SessionReader(path);
    const losses = reader.losses();
    expect(verifySession(reader)).toMatchObject({ state: 'unchanged', findings: [] });
    reader.close();
    const lost = losses.reduce((sum, { samples }) => sum + samples, 0);
    expect(lost).toBeGreaterThan(0);
    expect(stored.length + lost).toBe(recording.sent);
    const isLost = (seq: number) => losses.some(({ firstSeq, lastSeq }) => seq >= firstSeq && seq <= lastSeq);
    expect(stored.some(isLost)).toBe(false);
    expect(losses.map(({ why }) => why)).toContain('DISK_FULL');
  });

  it('lives on a reserve at first, and says so', async () => {
    const disk = smallDisk(64 * 2 ** 20);
    const recording = new Recording(disk.folder);
    await expect.poll(() => existsSync(join(disk.folder, '.reserve')), { timeout: 60_000 }).toBe(true);
    disk.fill(0);
    await expect.poll(() => existsSync(join(disk.folder, '.reserve')), { timeout: 60_000 }).toBe(false);
    const before = recording.acknowledged;
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(before);
    expect(recording.troubles).toEqual([]);
    await expect.poll(() => recording.spaces.at(-1)?.message, { timeout: 60_000 }).toContain('reserve');
    await recording.stop();
  });

  it('that may not be written at first is told, and the recording begins when it may', async () => {
    const disk = smallDisk(6 * 2 ** 20);
    disk.remount('ro');
    const recording = new Recording(disk.folder);
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('FOLDER_READ_ONLY');
    await expect.poll(() => recording.spaces.at(-1)?.message, { timeout: 60_000 }).toContain('may not be written to');
    disk.remount('rw');
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    expect(storedSequence(join(disk.folder, `${recording.session}.sqlite`))).toEqual(wholeSequence(recording.sent));
  });
});

describe('a folder that vanishes', () => {
  it('is told within two seconds; put back, the recording goes on in its file', async () => {
    const folder = join(freshFolder(), 'recordings');
    const recording = new Recording(folder);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(1000);
    renameSync(folder, `${folder}-elsewhere`);
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('FOLDER_GONE');
    renameSync(`${folder}-elsewhere`, folder);
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    expect(storedSequence(join(folder, `${recording.session}.sqlite`))).toEqual(wholeSequence(recording.sent));
  });

  it('with its file, and comes back empty: everything is written again from what is still open', async () => {
    const folder = join(freshFolder(), 'recordings');
    const recording = new Recording(folder);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(40_000);
    rmSync(folder, { recursive: true, maxRetries: 5 });
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('FOLDER_GONE');
    mkdirSync(folder);
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    const path = join(folder, `${recording.session}.sqlite`);
    expect(integrityOf(path)).toBe('ok');
    expect(storedSequence(path)).toEqual(wholeSequence(recording.sent));
    expect(readdirSync(folder)).toContain(`${recording.session}.sqlite`);
  });

  it('and another disk in its place, on which that file is another: the recording goes on beside it with all that was said of the session', async () => {
    const folder = join(freshFolder(), 'recordings');
    const recording = new Recording(folder);
    await expect.poll(() => recording.acknowledged, { timeout: 60_000 }).toBeGreaterThan(1000);
    const file = `${recording.session}.sqlite`;
    mkdirSync(`${folder}-other`);
    writeFileSync(join(`${folder}-other`, file), 'of somebody else');
    renameSync(folder, `${folder}-elsewhere`);
    await expect.poll(() => recording.troubles.at(-1)?.code, { timeout: 60_000 }).toBe('FOLDER_GONE');
    renameSync(`${folder}-other`, folder);
    await expect.poll(() => recording.recovered, { timeout: 60_000 }).toBeGreaterThan(0);
    await recording.stop();
    expect(recording.continued).toEqual([[recording.session, `${recording.session}-2`]]);
    expect(readFileSync(join(folder, file), 'utf8')).toBe('of somebody else');
    const path = join(folder, `${recording.session}-2.sqlite`);
    const stored = storedSequence(path);
    expect(stored).toEqual(wholeSequence(recording.sent).slice(stored[0]! - 1));
    const before = storedSequence(join(`${folder}-elsewhere`, file));
    expect(before).toEqual(wholeSequence(stored[0]! - 1));
    const reader = new SessionReader(path);
    expect(reader.documents()).toEqual({ chart: CHART, continuation: { of: file } });
    expect(reader.marks()).toMatchObject([{ take: 1, text: 'Leads hold' }]);
    expect(verifySession(reader)).toMatchObject({ state: 'unchanged', findings: [] });
    reader.close();
  });
});

describe('space', () => {
  it('is reported with the rate of the recording and the time left', async () => {
    const recording = new Recording(freshFolder());
    await expect.poll(() => recording.spaces.length, { timeout: 60_000 }).toBeGreaterThan(1);
    await recording.stop();
    const { freeBytes, bytesPerSecond, secondsLeft } = recording.spaces.at(-1)!;
    expect(freeBytes).toBeGreaterThan(0);
    expect(bytesPerSecond).toBeGreaterThan(0);
    expect(secondsLeft! * bytesPerSecond).toBeLessThanOrEqual(freeBytes!);
  });
});
