/** `report FILE`: the report of a session as one HTML page. Exit 0 made, 2 not. */
import { writeFile } from 'node:fs/promises';
import { readSession, sessionReport } from '../recordings/index.ts';
import { VERSION } from '../version.ts';
import type { CommandIo } from './command.ts';
import { errorText } from './file-error.ts';
import { parseOptions } from './parse-options.ts';

export const REPORT_USAGE = `report SESSION.sqlite [options]

  --out FILE.html   writes the page there (default: standard output)

The page needs nothing else: open it in a browser and print it, or save it as PDF from there.
`;

/** @returns the exit code */
export async function reportCommand(args: string[], io: CommandIo): Promise<number> {
  let options;
  try {
    options = parseOptions({ args, allowPositionals: true, options: { out: { type: 'string' }, help: { type: 'boolean', short: 'h' } } });
  } catch (error) {
    io.stderr.write(`report: ${(error as Error).message}\n\n${REPORT_USAGE}`);
    return 2;
  }
  const { values, positionals: [file, ...others] } = options;
  if (values.help === true) {
    io.stdout.write(REPORT_USAGE);
    return 0;
  }
  if (file === undefined || others.length > 0) {
    io.stderr.write(`report: give one session file\n\n${REPORT_USAGE}`);
    return 2;
  }
  try {
    const page = readSession(file, (reader) => sessionReport(reader, { version: VERSION, now: Date.now() }));
    if (values.out === undefined) {
      io.stdout.write(page);
    } else {
      await writeFile(values.out, page);
      io.stdout.write(`${values.out} written\n`);
    }
    return 0;
  } catch (error) {
    if (!(error instanceof Error) || !('code' in error)) throw error;
    io.stderr.write(`report: ${errorText(error)}\n`);
    return 2;
  }
}
