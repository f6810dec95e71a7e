/** A way through the chart in words: "2.4 m of 2.5 mm² at 20 °C and two joints". */
import { joinWords } from '../diagnosis/wording.ts';
import type { Chart } from './chart.ts';
import type { ChartPart } from './chart-paths.ts';
import { isSpan } from './chart-paths.ts';

const NUMBERS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];

/** @param joints  points inside the way @param temperature  degC */
export function wayWords(way: readonly ChartPart[], joints: number, temperature: number): string {
  const byCrossSection = new Map<number, number>();
  for (const part of way) if (isSpan(part)) byCrossSection.set(part.crossSection, (byCrossSection.get(part.crossSection) ?? 0) + part.length);
  const wires = [...byCrossSection].map(([crossSection, length]) => `${figure(length)} m of ${figure(crossSection)} mm²`);
  const components = way.flatMap((part) => (isSpan(part) ? [] : [part.name]));
  const words = [...(wires.length > 0 ? [`${joinWords(wires)} at ${figure(temperature)} °C`] : []), ...components];
  if (joints > 0) words.push(`${NUMBERS[joints] ?? joints} ${joints === 1 ? 'joint' : 'joints'}`);
  return joinWords(words);
}

/** A number for a sentence: three figures, no trailing noughts, no exponent in the range of a workshop. */
export function figure(value: number): string {
  if (!Number.isFinite(value)) return 'over-range';
  if (value === 0) return '0';
  const decimals = Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))));
  return String(Number(value.toFixed(Math.min(decimals, 6))));
}

/** Ohms in a sentence: "0.042 ohm", "1.2 kohm", "over-range". */
export function ohmsWords(ohms: number): string {
  if (!Number.isFinite(ohms)) return 'over-range';
  if (ohms >= 1e6) return `${figure(ohms / 1e6)} Mohm`;
  if (ohms >= 1e3) return `${figure(ohms / 1e3)} kohm`;
  return `${Number(ohms.toPrecision(2))} ohm`;
}

/** Volts in a sentence, to the hundredth. */
export function voltsWords(volts: number): string {
  return `${Number(volts.toFixed(2))} V`;
}

/** Names of loads for a sentence. */
export function loadNames(chart: Chart, ids: readonly string[]): string {
  return joinWords(ids.map((id) => chart.components.find((component) => component.id === id)?.name ?? id));
}
