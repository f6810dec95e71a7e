/** A line of text cut into what can be meant by pointing at it: numbers, and words that are units. Pure. */
import { tokenize } from '../decoders/text-tokens.ts';
import { knownWord } from '../decoders/units.ts';

export interface LinePart {
  readonly text: string;
  /** Which value of the line this is, counted from 1, as decoders count; null for what is no number. */
  readonly field: number | null;
  /** True for the name of a unit. */
  readonly isUnit: boolean;
}

/** @param line  as Latin-1, without its end @returns parts that make up the whole line, in order */
export function partsOfLine(line: string): LinePart[] {
  const begin = line.length - line.trimStart().length;
  const tokenized = tokenize(line.trim(), 'auto');
  const parts: LinePart[] = [];
  let at = 0;
  let field = 0;
  const plain = (to: number): void => {
    for (const piece of line.slice(at, to).split(/([A-Za-z\u00b5\u00ea\u00b0%\u2126]+)/)) {
      if (piece !== '') parts.push({ text: piece, field: null, isUnit: knownWord(piece)?.kind === 'unit' });
    }
    at = to;
  };
  for (const token of tokenized.kind === 'tokens' ? tokenized.tokens : []) {
    if (token.kind === 'word' && token.word.kind === 'over-range') field++;
    if (token.kind !== 'number') continue;
    field++;
    // In a line with signs that were spelled out, places are not known.
    if (token.start < 0) continue;
    plain(begin + token.start);
    parts.push({ text: line.slice(at, begin + token.end), field, isUnit: false });
    at = begin + token.end;
  }
  plain(line.length);
  return parts;
}
