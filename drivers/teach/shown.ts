/** What a user types off the display, taken apart: "-12.34 mV DC", "0.L kOhm", "1.5". Pure. */
import { tokenize } from '../decoders/text-tokens.ts';

export type Shown =
  | { readonly kind: 'number'; readonly negative: boolean; /** As typed, without sign and point; leading zeros kept. */ readonly digits: string; readonly decimals: number; readonly words: readonly string[] }
  | { readonly kind: 'over-range'; readonly negative: boolean; readonly words: readonly string[] };

/** @returns null for text with no number and no over-range in it */
export function readShownText(text: string): Shown | null {
  const tokenized = tokenize(text.trim(), 'auto');
  if (tokenized.kind === 'unreadable') return null;
  const words: string[] = [];
  let shown: Shown | null = null;
  for (const token of tokenized.tokens) {
    if (token.kind === 'number' && shown === null && token.exponent <= 0) {
      shown = { kind: 'number', negative: token.negative, digits: token.digits, decimals: -token.exponent, words };
    } else if (token.kind === 'word' && token.word.kind === 'over-range' && shown === null) {
      shown = { kind: 'over-range', negative: token.negative, words };
    } else if (token.kind === 'word' && token.word.kind !== 'over-range') {
      words.push(token.text);
    } else {
      return null;
    }
  }
  return shown;
}
