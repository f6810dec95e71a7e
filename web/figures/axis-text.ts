/** Numbers on the axis of a trace. Pure. */
import type { Quantity } from '../../drivers/reading.ts';
import { displayPower, readingFigures } from './reading-text.ts';

/** A number on an axis whose largest is `top`: all in one unit, with the digits that its steps need. */
export function axisText(quantity: Quantity, value: number, step: number, top: number): string {
  const size = Math.abs(step);
  const { digits, unit } = readingFigures(quantity, value, size, displayPower(quantity, top, size / 10));
  return unit === '' ? digits : `${digits} ${unit}`;
}
