import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { locateCommand } from '../../server/commands/locate.ts';
import { alder7Chart } from '../../server/demo/index.ts';

let folder = '';
beforeAll(() => { folder = mkdtempSync(join(tmpdir(), 'locate-')); });
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const file = (name: string, content: unknown): string => {
  const path = join(folder, name);
  writeFileSync(path, typeof content === 'string' ? content : JSON.stringify(content));
  return path;
};
/** In this process; the first test below goes through the real command line. */
const run = async (...args: string[]): Promise<{ status: number; stdout: string; stderr: string }> => {
  const said = { stdout: '', stderr: '' };
  const into = (name: 'stdout' | 'stderr') => ({ write: (text: string) => { said[name] += text; return true; } });
  const status = await locateCommand(args, { stdout: into('stdout'), stderr: into('stderr') });
  return { status, ...said };
};

/** Figures of the demo scenario with its hidden fault, as printed there. */
const readings = [{ check: 'ground CL-', value: 1.9 }, { check: 'supply CL+', value: 12.17 }, { check: 'drop S3 to C2/4', value: 1.75 }];

describe('locate CASE.json', () => {
  it('prints one JSON object with faults, next checks and contradictions', () => {
    const path = file('case.json', { chart: alder7Chart, symptoms: [{ load: 'CL', works: false }, { load: 'LP', works: false }], readings });
    const output = execFileSync('npm', ['run', '--silent', 'loomtrace', '--', 'locate', path, '--json'], { encoding: 'utf8' });
    const located = JSON.parse(output) as { schema: string; found: boolean; faults: { kind: string; at: string; chance: number }[]; next: unknown[]; contradictions: unknown[] };
    expect(output.trim().split('\n')).toHaveLength(1);
    expect(located).toMatchObject({ schema: 'locate/1', found: true, next: [], contradictions: [] });
    expect(located.faults[0]).toMatchObject({ kind: 'high-resistance', at: 'S3 to C2/4' });
    expect(located.faults[0]?.chance).toBeGreaterThan(0.98);
  });

  it('says in words what to do next, with the leads and the minutes, while it is not sure', async () => {
    const { stdout, status } = await run(file('early.json', { chart: alder7Chart, symptoms: [{ load: 'CL', works: false }], readings: readings.slice(0, 1) }));
    expect(status).toBe(0);
    expect(stdout).toMatch(/Next \(about \d+ minutes to the end\):\n1\. .*red on .+, black on .+ About \d/);
  });

  it('takes readings by leads, over-range as null, and wiggle takes', async () => {
    const path = file('leads.json', {
      chart: alder7Chart,
      readings: [
        { kind: 'short-to-ground', red: 'K1/87', black: 'B-', value: null }, { kind: 'ground', red: 'CL-', black: 'B-', value: 0.22, flexing: { flexes: 40, dropouts: 6 } },
        { kind: 'ground', red: 'CL-', black: 'B-', value: 0.22, flexing: { flexes: 40, dropouts: 5, parts: ['S3 to C2/4'] } },
      ],
    });
    const located = JSON.parse((await run(path, '--json')).stdout) as { faults: { at: string; intermittent: boolean }[] };
    expect(located.faults[0]).toMatchObject({ at: 'S3 to C2/4', intermittent: true });
  });

  it.each<[string, unknown, RegExp]>([
    ['a file that is no JSON', '{', /is not JSON/],
    ['a chart with a hole', { chart: { ...alder7Chart, spans: [{ ...alder7Chart.spans[0], to: 'Z' }] } }, /chart\.spans\[0\]\.to: expected the id of a point, got "Z"/],
    ['a reading of no check', { chart: alder7Chart, readings: [{ check: 'gone', value: 1 }] }, /readings\[0\]\.check: expected the id of a check of the circuit, got "gone"/],
    ['a name that it does not know', { chart: alder7Chart, reading: [] }, /reading: expected nothing by this name, got \[\]/],
    ['a figure in quotes', { chart: alder7Chart, readings: [{ check: 'ground CL-', value: '1.9' }] }, /readings\[0\]\.value: expected number, got "1\.9"/],
    ['a load that is not there', { chart: alder7Chart, symptoms: [{ load: 'K1', works: false }] }, /symptoms\[0\]\.load: expected the id of a load, got "K1"/],
  ])('refuses %s with exit 2 and names the place', async (_, content, message) => {
    const { stderr, status } = await run(file('bad.json', content));
    expect(status).toBe(2);
    expect(stderr).toMatch(message);
  });

  it('refuses a file that is not there', async () => {
    const { stderr, status } = await run(join(folder, 'gone.json'));
    expect(status).toBe(2);
    expect(stderr).toBe(`locate: there is no file or folder ${join(folder, 'gone.json')}\n`);
  });
});
