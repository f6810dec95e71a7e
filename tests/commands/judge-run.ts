/** Runs `judge` on text that is written to a file of its own. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect } from 'vitest';
import { judgeCommand } from '../../server/commands/judge.ts';

const folder = mkdtempSync(join(tmpdir(), 'loomtrace-judge-'));
afterAll(() => { rmSync(folder, { recursive: true, force: true }); });

let files = 0;
export function file(text: string): string {
  const path = join(folder, `take-${++files}.csv`);
  writeFileSync(path, text);
  return path;
}

export async function judge(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  let out = '';
  let err = '';
  const code = await judgeCommand(args, {
    stdout: { write: (text: string) => { out += text; return true; } },
    stderr: { write: (text: string) => { err += text; return true; } },
  });
  return { code, out, err };
}

export async function judgeJson(text: string, ...args: string[]): Promise<Record<string, unknown>> {
  const { code, out, err } = await judge(file(text), '--json', ...args);
  expect(err).toBe('');
  expect(code).toBe(0);
  expect(out.trimEnd().split('\n')).toHaveLength(1);
  return JSON.parse(out) as Record<string, unknown>;
}

export const row = (i: number, value: string, unit = 'V', flag = ''): string => `${(i * 0.1).toFixed(1)},${value},${unit},${flag}`;
export const table = (rows: readonly string[]): string => `time,value,unit,flag\n${rows.join('\n')}\n`;
