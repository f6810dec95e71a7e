import type { Figures } from './reading-text.ts';

/** Widths in parts of the size of the digits, in the broadest of the typefaces that may stand in for ours. */
const DIGIT = 0.7;
const POINT = 0.38;
const MINUS = 0.84;
const UNIT_CHARACTER = 0.4;
const SPACE = 0.3;

/** How broad a reading is when shown large, in parts of the size of its digits: so that it can be as large as it has room. */
export function figureWidth({ digits, unit }: Figures): number {
  const characters = [...digits].map((character) => (character === '.' ? POINT : character === '−' ? MINUS : DIGIT));
  return characters.reduce((sum, width) => sum + width, SPACE + unit.length * UNIT_CHARACTER);
}
