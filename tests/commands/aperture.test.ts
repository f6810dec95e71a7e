import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { apertureCommand } from '../../server/commands/aperture.ts';
import { Random } from '../signals/random.ts';

let folder = '';
beforeAll(() => { folder = mkdtempSync(join(tmpdir(), 'loomtrace-aperture-')); });
afterAll(() => { rmSync(folder, { recursive: true }); });

async function run(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  let out = '';
  let err = '';
  const code = await apertureCommand(args, {
    stdout: { write: (text: string) => { out += text; return true; } },
    stderr: { write: (text: string) => { err += text; return true; } },
  });
  return { code, out, err };
}

/** A file of taps on a 12.4 V battery, by a meter that averages over 0.15 s of every 0.3 s. */
function tapFile(taps: number): string {
  const random = new Random(taps);
  const changes = [3];
  while (changes.length < 2 * taps) changes.push((changes.at(-1) as number) + random.between(1.2, 3));
  const rows: string[] = [];
  for (let i = 1; i * 0.3 < (changes.at(-1) as number) + 2; i++) {
    const end = i * 0.3;
    let on = 0;
    for (let k = -1; k < changes.length; k += 2) on += Math.max(0, Math.min(end, changes[k + 1] ?? Infinity) - Math.max(end - 0.15, changes[k] ?? -Infinity));
    rows.push(`${end.toFixed(3)},${(12.4 * (on / 0.15) + 0.01 * random.gauss()).toFixed(3)},V`);
  }
  const path = join(folder, `taps-${taps}.csv`);
  writeFileSync(path, `time,value,unit\n${rows.join('\n')}\n`);
  return path;
}

describe('aperture FILE.csv', () => {
  it('measures the aperture of the meter that recorded the taps', async () => {
    const { code, out } = await run(tapFile(60), '--json');
    expect(code).toBe(0);
    const result = JSON.parse(out) as { schema: string; interval_s: number; edges: number; averaging: boolean; aperture_s: { low: number; high: number } };
    expect(result).toMatchObject({ schema: 'aperture/1', edges: 120, averaging: false });
    expect(result.interval_s).toBeCloseTo(0.3, 6);
    expect(result.aperture_s.low).toBeLessThan(0.15);
    expect(result.aperture_s.high).toBeGreaterThan(0.15);
    expect(result.aperture_s.high - result.aperture_s.low).toBeLessThan(0.07);
  });
  it('says in words what it found and how many more taps help', async () => {
    const { code, out } = await run(tapFile(20));
    expect(code).toBe(0);
    expect(out).toMatch(/^Aperture [\d.]+ ms of a 300 ms interval/);
    expect(out).toMatch(/About \d+ more taps/);
  });
  it('asks for more taps when there are too few, and exits 1', async () => {
    const { code, err } = await run(tapFile(3));
    expect(code).toBe(1);
    expect(err).toContain('6 usable edges');
  });
  it('exits 2 for a missing file, a file without readings, and no file', async () => {
    const bad = join(folder, 'bad.csv');
    writeFileSync(bad, 'time,value,unit\n1,x,V\n');
    expect((await run(join(folder, 'none.csv'))).code).toBe(2);
    expect((await run(bad)).code).toBe(2);
    expect((await run()).code).toBe(2);
  });
});
