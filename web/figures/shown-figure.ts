/** A figure copied from a display: its value, and what its last digit stands for. Pure. */
import type { ShownFigure } from '../../server/session/case-distance.ts';
import { typedNumber } from '../check-words.ts';

/**
 * @returns null for an empty text
 * @throws {RangeError} for anything but a number
 * @example shownFigure('0,4') gives { value: 0.4, count: 0.1 }
 */
export function shownFigure(text: string): ShownFigure | null {
  const value = typedNumber(text);
  if (value === null) return null;
  const decimals = /[.,](\d+)$/.exec(text.trim())?.[1]?.length ?? 0;
  return { value, count: 10 ** -decimals };
}
