/** The wall clock is set back by an hour while a real service records. The clock of this one process is bent by libfaketime; the machine's is left alone. */
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { SessionReader } from '../../server/recordings/session-reader.ts';
import { sessionPath } from '../../server/recordings/names.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

const INTERVAL = 0.05;
const folder = mkdtempSync(join(tmpdir(), 'loomtrace-clock-'));
const offset = join(folder, 'offset');

/** Wall time as the service has it: it dates its answers. */
async function wallTime(service: StartedService): Promise<number> {
  return Date.parse((await fetch(service.address)).headers.get('date')!);
}

function startBent(): Promise<StartedService> {
  writeFileSync(offset, '+0');
  const library = readdirSync('/usr/lib').map((system) => `/usr/lib/${system}/faketime/libfaketimeMT.so.1`).find(existsSync);
  const bent = { LD_PRELOAD: library, FAKETIME_TIMESTAMP_FILE: offset, FAKETIME_NO_CACHE: '1', FAKETIME_DONT_FAKE_MONOTONIC: '1', DONT_FAKE_MONOTONIC: '1' };
  Object.assign(process.env, bent);
  try {
    return startService(['--meter', `simulated:alder7?interval=${INTERVAL}`]);
  } finally {
    for (const name of Object.keys(bent)) delete process.env[name];
  }
}

describe('a recording during which the clock is set back by an hour', () => {
  let service: StartedService | null = null;
  afterAll(async () => {
    await service?.dispose();
    rmSync(folder, { recursive: true });
  });

  it('dates its samples as if nothing had happened, and stays one session that is being recorded', async () => {
    service = await startBent();
    const dashboard = await Dashboard.open(service.address);
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    await dashboard.until(() => dashboard.values().length > 40, 'readings before');
    const before = await wallTime(service);
    writeFileSync(offset, '-1h');
    await expect.poll(() => wallTime(service!)).toBeLessThan(before - 3_500_000);
    const seen = dashboard.values().length;
    await dashboard.until(() => dashboard.values().length > seen + 40, 'readings afterwards');
    const name = dashboard.state.recording.file!;
    await dashboard.ask({ type: 'mark', text: 'afterwards' });
    await dashboard.ask({ type: 'stop-take' });
    dashboard.close();
    await service.stop();

    const reader = new SessionReader(sessionPath(service.recordings, name));
    const { timeUs, arrivalUs } = reader.samples(1, 0, 0, Infinity);
    const steps = [...timeUs.subarray(1)].map((at, i) => (at - timeUs[i]!) / 1e6);
    // A busy machine may deliver late, but the grid of the meter is kept; an hour would be 72,000 intervals.
    expect(Math.min(...steps)).toBeGreaterThan(0);
    expect(Math.max(...steps)).toBeLessThan(20);
    const [{ take }] = reader.takes() as [ReturnType<SessionReader['takes']>[number]];
    // A sample belongs to the take that runs when it arrives.
    expect(take.start).toBeLessThanOrEqual(arrivalUs[0]! / 1e6 + 1e-6);
    expect(take.end).toBeGreaterThanOrEqual(timeUs.at(-1)! / 1e6 - 1);
    expect(reader.marks().at(-1)!.at).toBeGreaterThan(timeUs[0]! / 1e6 + 2);
    expect(Math.abs(reader.info().startedAtUs / 1000 - before)).toBeLessThan(600_000);
    reader.close();
  });
});
