import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { accuracyOf, createMeter, LAYOUTS, layoutFolder, nullLeads, parseProfile, type Profile, profileFolder, type Reading } from '../../../drivers/index.ts';

const folders: string[] = [];
afterEach(async () => {
  for (const folder of folders.splice(0)) await rm(folder, { recursive: true, force: true });
});
async function newFolder(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'loomtrace-profiles-'));
  folders.push(folder);
  return folder;
}

function profile(changes: object = {}): Profile {
  const parsed = parseProfile({
    profile: 'meter/1', name: 'bench', label: 'Bench meter', address: 'serial:*?serial-number=A1',
    accuracy: [
      { quantity: 'voltage', coupling: 'dc', upTo: 6, fraction: 0.005, counts: 2 }, { quantity: 'voltage', coupling: 'dc', fraction: 0.008, counts: 3 },
      { quantity: 'voltage', fraction: 0.012, counts: 5 }, { quantity: 'resistance', upTo: 600, fraction: 0.01, counts: 3 },
    ],
    ...changes,
  });
  if (parsed.kind === 'unusable') throw new Error(parsed.faults.join('; '));
  return parsed.profile;
}
function ohms(value: number): Reading {
  return { quantity: 'resistance', coupling: 'none', value, resolution: 0.01, flags: 0 };
}

describe('accuracyOf(profile, reading)', () => {
  it('takes the row of the smallest range that holds the reading, the coupling named before any', () => {
    const bench = profile();
    const volts = (value: number, coupling: 'dc' | 'ac'): object | null => accuracyOf(bench, { quantity: 'voltage', coupling, value });
    expect(volts(5, 'dc')).toEqual({ fraction: 0.005, counts: 2 });
    expect(volts(-12, 'dc')).toEqual({ fraction: 0.008, counts: 3 });
    expect(volts(5, 'ac')).toEqual({ fraction: 0.012, counts: 5 });
    expect(accuracyOf(bench, ohms(1000))).toBeNull();
    expect(accuracyOf(bench, ohms(NaN))).toBeNull();
  });
});

describe('parseProfile(data)', () => {
  it('names each fault with its place', () => {
    const parsed = parseProfile({ profile: 'meter/1', name: 'Bench Meter', label: 'x', address: 'y', interval: 0.1, aperture: 0.2, calibratedOn: 'yesterday', acuracy: [] });
    if (parsed.kind !== 'unusable') throw new Error('accepted');
    expect(parsed.faults.join('\n')).toMatch(/name: [^]*calibratedOn: [^]*acuracy/);
  });
  it('leaves what is not known as null', () => {
    expect(profile({ accuracy: [] })).toMatchObject({ counts: null, interval: null, leadOhms: null, isolated: null, calibratedOn: null });
  });
});

describe('nullLeads(readings)', () => {
  it('is the middle of eight readings that agree', () => {
    expect(nullLeads([0.31, 0.3, 0.3, 0.31, 0.32, 0.3, 0.31, 0.31].map(ohms))).toEqual({ kind: 'nulled', leadOhms: expect.closeTo(0.31, 9) });
  });
  it.each([
    ['too few', [0.3, 0.3].map(ohms), '8 readings'],
    ['tips apart', [...Array(7).fill(0.3), NaN].map(ohms), 'came apart'],
    ['not steady', [0.3, 0.3, 0.9, 0.3, 0.4, 0.3, 0.3, 0.5].map(ohms), 'not steady'],
    ['broken leads', Array(8).fill(7.2).map(ohms), 'too much for leads'],
    ['volts', Array(8).fill({ ...ohms(0), quantity: 'voltage' }), 'to ohms first'],
  ])('is refused with %s', (_, readings, why) => {
    expect(nullLeads(readings as Reading[])).toEqual({ kind: 'refused', why: expect.stringContaining(why) });
  });
});

describe('folders of profiles and layouts', () => {
  it('give back what was saved, and tell what is wrong with a file without losing the others', async () => {
    const folder = await newFolder();
    const profiles = profileFolder(folder);
    await profiles.save(profile());
    await profiles.save(profile({ name: 'pocket', isolated: true }));
    await writeFile(join(folder, 'broken.json'), '{');
    await writeFile(join(folder, 'other.json'), await readFile(join(folder, 'bench.json')));
    const { things, unusable } = await profiles.list();
    expect(things).toEqual([profile(), profile({ name: 'pocket', isolated: true })]);
    expect(unusable.map(({ file }) => file)).toEqual(['broken.json', 'other.json']);
    await profiles.remove('pocket');
    expect(await readdir(folder)).toEqual(['bench.json', 'broken.json', 'other.json']);
  });
  it('are empty where there is no folder, and refuse names that leave it', async () => {
    const profiles = profileFolder(join(await newFolder(), 'none'));
    expect(await profiles.list()).toEqual({ things: [], unusable: [] });
    await expect(profiles.remove('../bench')).rejects.toThrow(RangeError);
    await expect(profiles.save({ ...profile(), name: '../bench' })).rejects.toThrow(RangeError);
  });
  it('keep layouts that a meter address can then name', async () => {
    const layouts = layoutFolder(await newFolder());
    await layouts.save({ ...(LAYOUTS[0] as (typeof LAYOUTS)[0]), name: 'mine' });
    const { things } = await layouts.list();
    expect(() => createMeter('serial:/dev/ttyUSB0?decoder=frame&layout=mine')).toThrow('write one of');
    expect(createMeter('serial:/dev/ttyUSB0?decoder=frame&layout=mine', { layouts: things }).traits.address).toContain('layout=mine');
  });
});
