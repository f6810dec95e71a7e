/** `verify FILE`: whether a session file is as it was recorded. Exit 0 unchanged, 1 changed, 2 can't be read. */
import { readSession, RecordingError, type Verification, verifySession } from '../recordings/index.ts';
import type { CommandIo } from './command.ts';
import { parseOptions } from './parse-options.ts';
import { progressBar } from './progress-bar.ts';

export const VERIFY_USAGE = `verify FILE.sqlite [options]

  --hash HASH   the hash printed on a report: is this the recording that the report was made from?
  --json        one JSON object instead of the summary
`;

/** @returns the exit code */
export async function verifyCommand(args: string[], io: CommandIo): Promise<number> {
  let options;
  try {
    options = parseOptions({ args, allowPositionals: true, options: { hash: { type: 'string' }, json: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } } });
  } catch (error) {
    io.stderr.write(`verify: ${(error as Error).message}\n\n${VERIFY_USAGE}`);
    return 2;
  }
  const { values, positionals: [file, ...others] } = options;
  if (values.help === true) {
    io.stdout.write(VERIFY_USAGE);
    return 0;
  }
  const isHash = values.hash === undefined || /^[0-9a-f]{64}$/i.test(values.hash);
  if (file === undefined || others.length > 0 || !isHash) {
    io.stderr.write(`verify: ${isHash ? 'give one session file' : 'a hash has 64 digits from 0-9 and a-f'}\n\n${VERIFY_USAGE}`);
    return 2;
  }
  try {
    const bar = progressBar(io.stderr, 'verifying');
    const verification = readSession(file, (reader) => verifySession(reader, { reportedHash: values.hash, onProgress: (share) => bar.show(share) }));
    bar.end();
    io.stdout.write(values.json === true ? `${JSON.stringify({ schema: 'verify/1', ...verification })}\n` : summary(file, verification));
    return verification.state === 'unchanged' && verification.reported !== 'unknown' ? 0 : 1;
  } catch (error) {
    if (!(error instanceof RecordingError)) throw error;
    io.stderr.write(`verify: ${file}: ${error.message}\n`);
    return 2;
  }
}

function summary(file: string, { state, findings, seals, sealedSamples, unsealedSamples, unsealedRecords, writtenSince, hash, reported }: Verification): string {
  const lines = state === 'unchanged'
    ? [`${file}: unchanged since it was sealed (${sealedSamples} samples, ${seals} seals).`]
    : [`${file}: CHANGED since it was sealed.`, ...findings.map(({ where, what }) => `  ${where}: ${what}`)];
  if (unsealedSamples > 0) lines.push(`${unsealedSamples} samples are not sealed: they belong to a take that is running or was interrupted.`);
  if (hash !== null) lines.push(`Last hash: ${hash}`);
  if (reported === 'last') lines.push('This is the recording that the report was made from.');
  if (reported === 'earlier') lines.push(`The report was made from this recording before it went on${state === 'unchanged' ? ': the takes and samples of that time are as they were' : ''}.`);
  if (writtenSince.length > 0) lines.push(`Written since the report, or first sealed since: ${writtenSince.join(', ')}.`);
  if (reported === 'unknown') lines.push('The hash of the report does not occur in this recording: it is another one, or was changed and sealed again.');
  if (reported === null && state === 'unchanged') {
    lines.push('That proves nothing against someone who changes a recording and seals it again: only the hash on a report does. Compare it: --hash HASH.');
  }
  if (unsealedRecords.length > 0) lines.push(`Not sealed, as it was recorded by an earlier version: ${unsealedRecords.join(', ')}.`);
  return `${lines.join('\n')}\n`;
}
