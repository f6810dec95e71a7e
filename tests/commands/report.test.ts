/** The report and the whole-session copy without a screen, on the recording that comes with the project. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { exportCommand } from '../../server/commands/export.ts';
import { importCommand } from '../../server/commands/import.ts';
import { reportCommand } from '../../server/commands/report.ts';
import { openSession } from '../../server/recordings/index.ts';

const DEMO = fileURLToPath(new URL('../../recordings/demo.sqlite', import.meta.url));
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'loomtrace-report-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function run(command: typeof reportCommand, ...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const code = await command(args, { stdout: { write: (text: string) => Boolean((said.out += text)) }, stderr: { write: (text: string) => Boolean((said.err += text)) } } as Parameters<typeof reportCommand>[1]);
  return { code, ...said };
}

describe('report FILE', () => {
  it('makes a page of a recording, to a file or to standard output', async () => {
    const target = join(folder, 'report.html');
    expect(await run(reportCommand, DEMO, '--out', target)).toMatchObject({ code: 0, out: `${target} written\n`, err: '' });
    const page = readFileSync(target, 'utf8');
    const reader = openSession(DEMO);
    const hash = Buffer.from(reader.seals().at(-1)!.chainHash).toString('hex');
    reader.close();
    for (const words of ['3 of 3 takes failed or dropped out', 'SIMULATED METER', hash, '<svg']) expect(page).toContain(words);
    const printed = await run(reportCommand, DEMO);
    expect(printed.out.startsWith('<!doctype html>')).toBe(true);
  });

  it.each<[string, string[], RegExp]>([
    ['no file', [], /give one session file/],
    ['a file that is not there', [join('/', 'nowhere', 'x.sqlite')], /report: .+/],
    ['a file of something else', [fileURLToPath(import.meta.url)], /report: .+/],
    ['an option that it does not know', [DEMO, '--pdf'], /pdf/],
  ])('says what is wrong with %s', async (_, args, words) => {
    const { code, err } = await run(reportCommand, ...args);
    expect(code).toBe(2);
    expect(err).toMatch(words);
  });
});

describe('export FILE COPY.sqlite, import COPY.sqlite', () => {
  it('takes the whole session over into another folder', async () => {
    const copy = join(folder, 'copy.sqlite');
    const elsewhere = mkdtempSync(join(folder, 'elsewhere-'));
    expect(await run(exportCommand, DEMO, copy, '--quiet')).toMatchObject({ code: 0 });
    const added = await run(importCommand, copy, '--recordings', elsewhere);
    expect(added).toMatchObject({ code: 0, err: '' });
    const session = /^Brought in as session (\S+): 3 takes, unchanged since it was sealed$/m.exec(added.out)?.[1];
    const [own, other] = [DEMO, join(elsewhere, `${session}.sqlite`)].map((path) => {
      const reader = openSession(path);
      const all = { info: reader.info(), takes: reader.takes(), seals: reader.seals().length, documents: reader.documents() };
      reader.close();
      return all;
    });
    expect(other).toEqual(own);
    expect(await run(importCommand, copy, '--recordings', elsewhere)).toMatchObject({ code: 2, err: expect.stringContaining('is here already') as string });
  });

  it('is all its takes and meters', async () => {
    expect(await run(exportCommand, DEMO, join(folder, 'part.sqlite'), '--take', '1')).toMatchObject({ code: 2, err: expect.stringContaining('leave --take and --meter out') as string });
  });

  it('does not take a table for a session, nor a torn session for a whole one', async () => {
    const torn = join(folder, 'torn.sqlite');
    writeFileSync(torn, readFileSync(DEMO).subarray(0, 40_000));
    expect((await run(importCommand, torn, '--recordings', folder)).code).toBe(2);
    const table = join(folder, 'table.csv');
    writeFileSync(table, 'time,value,unit\n0,1,V\n1,1,V\n2,1,V\n');
    expect(await run(importCommand, table, '--recordings', folder, '--quiet')).toMatchObject({ code: 0 });
  });
});
