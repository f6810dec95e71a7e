import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Devices, PAIRED_DAYS } from '../../../server/live/access/devices.ts';
import { SharingError } from '../../../server/live/access/sharing-error.ts';

const DAY_MS = 86_400_000;
const start = new Date('2026-03-01T08:00:00Z');
const after = (days: number) => new Date(start.getTime() + days * DAY_MS);

let parent: string;
let folder: string;
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'loomtrace-test-'));
  folder = join(parent, 'settings');
});
afterEach(() => rmSync(parent, { recursive: true, force: true }));

const codeOf = (found: ReturnType<Devices['identify']>) => ('kind' in found ? found.code : found.name);

describe('Devices', () => {
  it('knows a device by its token, also after a restart', () => {
    const { token } = Devices.open(folder, start).pair('Phone', 'watch', start);
    const found = Devices.open(folder, after(1)).identify(token, after(1));
    expect(found).toMatchObject({ name: 'Phone', role: 'watch', lastSeenAt: after(1).toISOString() });
  });

  it('keeps no token that could be used, in a file that only its owner reads', () => {
    const { token } = Devices.open(folder, start).pair('Phone', 'control', start);
    const file = join(folder, 'devices.json');
    expect(readFileSync(file, 'utf8')).not.toContain(token.split('.')[1]!);
    expect(statSync(file).mode & 0o777).toBe(0o600);
    expect(statSync(folder).mode & 0o777).toBe(0o700);
    chmodSync(file, 0o644);
    Devices.open(folder, start);
    expect(statSync(file).mode & 0o777).toBe(0o600);
  });

  it('refuses a token that is missing, cut, another device’s, or made up', () => {
    const devices = Devices.open(folder, start);
    const { token, device } = devices.pair('Phone', 'control', start);
    const [otherId, otherSecret] = devices.pair('Tablet', 'control', start).token.split('.') as [string, string];
    const secret = token.split('.')[1]!;
    for (const wrong of [undefined, '', '.', device.id, `${device.id}.`, token.slice(0, -1), `${device.id}.${otherSecret}`, `${otherId}.${secret}`,
      `${device.id}.${device.tokenHash}`, `__proto__.${secret}`]) {
      expect(codeOf(devices.identify(wrong, start)), String(wrong)).toBe('NOT_PAIRED');
    }
  });

  it('gives every device another token', () => {
    const devices = Devices.open(folder, start);
    const tokens = Array.from({ length: 20 }, () => devices.pair('Phone', 'watch', start).token);
    expect(new Set(tokens.map((token) => token.split('.')[1])).size).toBe(20);
    // RFC 6750 asks for tokens that can't be guessed; NIST SP 800-63B 5.1.4.2 for at least 112 bits. 32 bytes are 43 letters of base64url.
    for (const token of tokens) expect(token.split('.')[1]).toMatch(/^[\w-]{43}$/);
  });

  it('withdraws at once and for good, and tells the device so', () => {
    const devices = Devices.open(folder, start);
    const { token, device } = devices.pair('Phone', 'control', start);
    expect(devices.withdraw(device.id, start)).toBe(true);
    expect(codeOf(devices.identify(token, start))).toBe('WITHDRAWN');
    expect(devices.list()).toEqual([]);
    expect(codeOf(Devices.open(folder, after(1)).identify(token, after(1)))).toBe('WITHDRAWN');
    expect(devices.withdraw(device.id, start)).toBe(false);
    // Whoever can't show the token does not learn that there was one.
    expect(codeOf(devices.identify(`${device.id}.x`, start))).toBe('NOT_PAIRED');
  });

  it('withdraws at once even when that can’t be saved, and says that it could not', () => {
    const devices = Devices.open(folder, start);
    const { token, device } = devices.pair('Phone', 'control', start);
    rmSync(folder, { recursive: true });
    writeFileSync(folder, 'a file in the place of the folder');
    expect(() => devices.withdraw(device.id, start)).toThrow(SharingError);
    expect(codeOf(devices.identify(token, start))).toBe('WITHDRAWN');
  });

  it('does not let a device in that can’t be saved', () => {
    writeFileSync(join(parent, 'settings-file'), '');
    const devices = Devices.open(folder, start);
    writeFileSync(folder, 'a file in the place of the folder');
    expect(() => devices.pair('Phone', 'control', start)).toThrow(SharingError);
    expect(devices.list()).toEqual([]);
  });

  it(`asks to pair anew after ${PAIRED_DAYS} days`, () => {
    const devices = Devices.open(folder, start);
    const { token } = devices.pair('Phone', 'control', start);
    expect(codeOf(devices.identify(token, after(PAIRED_DAYS - 0.01)))).toBe('Phone');
    expect(codeOf(devices.identify(token, after(PAIRED_DAYS)))).toBe('PAIRING_EXPIRED');
  });

  it('changes what a device may do', () => {
    const devices = Devices.open(folder, start);
    const { token, device } = devices.pair('Phone', 'control', start);
    expect(devices.setRole(device.id, 'watch')).toBe(true);
    expect(Devices.open(folder, start).identify(token, start)).toMatchObject({ role: 'watch' });
    expect(devices.setRole('nobody12', 'watch')).toBe(false);
  });

  it('keeps a bounded number of devices', () => {
    const devices = Devices.open(folder, start);
    for (let i = 0; i < 64; i++) devices.pair(`Phone ${i}`, 'watch', start);
    expect(() => devices.pair('One more', 'watch', start)).toThrow(/Withdraw one/);
  });

  it.each(['', '{', '{"version":2,"devices":[]}', '{"version":1,"devices":[{"id":"x"}]}'])('says what to do about a damaged file: %s', (text) => {
    Devices.open(folder, start).pair('Phone', 'watch', start);
    writeFileSync(join(folder, 'devices.json'), text);
    expect(() => Devices.open(folder, start)).toThrow(/damaged.*Delete it/);
  });
});
