/** `judge SESSION.sqlite`: every ended take of a recording judged again, and what differs from what the file says. */
import { judgeAgain, openSession } from '../recordings/index.ts';
import type { JudgedAgain } from '../session/judged-again.ts';
import { judgementAsJson } from './judge-output.ts';

/** @throws {RecordingError} for a file that is no session or can't be read */
export function judgeSession(path: string, asJson: boolean): string {
  const reader = openSession(path);
  try {
    const takes = reader.takes().filter(({ judgement }) => judgement !== null).map(({ take }) => ({ take, again: judgeAgain(reader, take.id) }));
    if (asJson) {
      return `${JSON.stringify({
        schema: 'judge-session/1',
        takes: takes.map(({ take, again: { before, now, changes, differences, judgement } }) => ({
          take: take.id, algorithm_before: before, algorithm: now, changes, differences, judgement: judgementAsJson(judgement),
        })),
      })}\n`;
    }
    return takes.length === 0 ? 'No take of this session was ended.\n' : takes.map(({ take, again }) => say(take.id, again)).join('');
  } finally {
    reader.close();
  }
}

function say(take: number, { before, now, changes, differences, judgement }: JudgedAgain): string {
  const lines = [
    `Take ${take}: ${judgement.verdict.toUpperCase()}`,
    before === now ? `  Judged by version ${now} before and now.` : `  Judged by version ${before}; this is version ${now}.`,
    ...changes.map((change) => `  ${change}`),
    ...(differences.length === 0 ? ['  Nothing differs.'] : differences.map((difference) => `  ${difference}`)),
  ];
  return `${lines.join('\n')}\n`;
}
