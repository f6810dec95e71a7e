/** A user at a meter that nobody knows: types values off its display as the teaching screen asks for them. */
import { type FramesFound, markBytes, newsOf, teachFrames, type Taught, type TeachExample } from '../../drivers/teach/index.ts';

/** Values that are typed before the first attempt, and at most. */
const FIRST_EXAMPLES = 3;
const MOST_EXAMPLES = 16;

/** Types values as a user would: at first those whose frames show something new, as the screen says of them, then whatever is asked for. */
export function teachByAsking(found: FramesFound, shownOf: (frame: Uint8Array) => string): { taught: Taught; examples: number } {
  const frames = found.frames.map(({ bytes }) => bytes);
  const examples: TeachExample[] = [];
  const isMark = markBytes(found);
  const telling = (): Uint8Array => {
    const kept = examples.map(({ frame }) => frame);
    const left = frames.filter((frame) => !kept.some((own) => Buffer.compare(own, frame) === 0));
    return left.reduce((best, frame) => (newsOf(isMark, kept, frame) > newsOf(isMark, kept, best) ? frame : best), left[0] as Uint8Array);
  };
  const type = (frame: Uint8Array): void => void examples.push({ frame, shown: shownOf(frame) });
  while (examples.length < FIRST_EXAMPLES) type(telling());
  let taught: Taught = { kind: 'failed', why: 'not begun' };
  while (examples.length < MOST_EXAMPLES) {
    type(taught.kind === 'ambiguous' ? taught.ask.frame : telling());
    taught = teachFrames(found, examples, 'unknown', 'a test');
    if (taught.kind === 'taught') break;
  }
  return { taught, examples: examples.length };
}
