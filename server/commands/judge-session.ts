/** `judge SESSION.sqlite`: every ended take of a recording judged again, all that it proves, and what differs from what the file says. */
import { judgeWhole, readSession } from '../recordings/index.ts';
import type { JudgedAgain } from '../session/judged-again.ts';
import type { TakeRecord } from '../session/session.ts';
import { judgementAsJson } from './judge-output.ts';
import type { MarksSaid } from './judge-output.ts';
import { judgementAsText } from './judge-text.ts';

/** @throws {RecordingError} for a file that is no session or can't be read */
export function judgeSession(path: string, asJson: boolean): string {
  return readSession(path, (reader) => {
    const takes = reader.takes().filter(({ judgement }) => judgement !== null).map(({ take }) => ({ take, ...judgeWhole(reader, take.id) }));
    if (asJson) {
      return `${JSON.stringify({
        schema: 'judge-session/1',
        takes: takes.map(({ take, zones, road, again: { before, now, changes, differences, judgement } }) => ({
          take: take.id, start_s: take.start, kind: take.check.kind, watching: take.watching, algorithm_before: before, algorithm: now, changes, differences, judgement: judgementAsJson(judgement, { zones, road }),
        })),
      })}\n`;
    }
    return takes.length === 0 ? 'No take of this session was ended.\n' : takes.map(({ take, again, zones, road }) => say(take, again, { zones, road })).join('\n');
  });
}

function say({ id, start, check: { kind }, watching }: TakeRecord, { before, now, changes, differences, judgement }: JudgedAgain, said: MarksSaid): string {
  const lines = [
    `Take ${id} (${kind}, ${watching}): ${judgementAsText(judgement, said, start).trimEnd()}`,
    '',
    before === now ? `  Judged by version ${now} before and now.` : `  Judged by version ${before}; this is version ${now}.`,
    ...changes.map((change) => `  ${change}`),
    ...(differences.length === 0 ? ['  Nothing differs.'] : differences.map((difference) => `  ${difference}`)),
  ];
  return `${lines.join('\n')}\n`;
}
