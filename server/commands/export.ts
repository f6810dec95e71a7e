/** `export SESSION.sqlite FILE`: the samples of a session as CSV, JSON or Parquet, or all of it as a copy. Exit 0 written, 2 not. Ctrl-C leaves nothing behind. */
import { exportSession, EXPORT_FORMATS, formatOf, readSession } from '../recordings/index.ts';
import { sayCount } from '../diagnosis/wording.ts';
import type { CommandIo } from './command.ts';
import { errorText } from './file-error.ts';
import { parseOptions } from './parse-options.ts';
import { progressBar } from './progress-bar.ts';

export const EXPORT_USAGE = `export SESSION.sqlite FILE [options]

FILE ends in .csv (with W3C metadata beside it), .json, .parquet, or .sqlite: the whole session as one file, to be
brought in elsewhere with import, also while it is being recorded.

  --take N       only this take
  --meter N      only this meter, counted from 0
  --format F     ${EXPORT_FORMATS.join(', ')} (default: what FILE ends in)
  --quiet        no progress bar
`;

/** @returns the exit code */
export async function exportCommand(args: string[], io: CommandIo): Promise<number> {
  const refuse = (why: string) => {
    io.stderr.write(`export: ${why}\n\n${EXPORT_USAGE}`);
    return 2;
  };
  let parsed;
  try {
    parsed = parseOptions({
      args, allowPositionals: true,
      options: { take: { type: 'string' }, meter: { type: 'string' }, format: { type: 'string' }, quiet: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } },
    });
  } catch (error) {
    return refuse((error as Error).message);
  }
  const { values, positionals: [session, target, ...others] } = parsed;
  if (values.help === true) {
    io.stdout.write(EXPORT_USAGE);
    return 0;
  }
  if (session === undefined || target === undefined || others.length > 0) return refuse('give a session file and the file to write');
  const format = values.format === undefined ? formatOf(target) : EXPORT_FORMATS.find((one) => one === values.format) ?? null;
  if (format === null) return refuse(`the format must be one of ${EXPORT_FORMATS.join(', ')}`);
  const numbers = [values.take, values.meter].map((text) => (text === undefined ? null : Number(text)));
  if (numbers.some((number) => number !== null && !Number.isInteger(number))) return refuse('take and meter are whole numbers');
  const [take = null, meter = null] = numbers;
  if (format === 'sqlite' && (take !== null || meter !== null)) return refuse('a whole session is all its takes and meters: leave --take and --meter out');
  const bar = values.quiet === true ? null : progressBar(io.stderr, 'exporting');
  const stopping = new AbortController();
  const stop = () => stopping.abort();
  process.once('SIGINT', stop);
  try {
    const { samples, files } = await readSession(session, (reader) => (
      exportSession(reader, target, { format, take, meter, signal: stopping.signal, onProgress: (share) => bar?.show(share) })
    ));
    bar?.end();
    io.stdout.write(`${sayCount(samples, 'sample', 'samples')} written to ${files.join(' and ')}\n`);
    return 0;
  } catch (error) {
    bar?.end();
    if (stopping.signal.aborted) {
      io.stderr.write('export: stopped, nothing was written\n');
      return 2;
    }
    if (!(error instanceof Error) || !('code' in error)) throw error;
    io.stderr.write(`export: ${errorText(error)}\n`);
    return 2;
  } finally {
    process.off('SIGINT', stop);
  }
}
