/** The edges in a take of taps: the lead lifted and set down again, many times, each time for three readings or more. */
import type { Edge } from './aperture.ts';

export interface TapEdges {
  readonly edges: readonly Edge[];
  /** Standard deviation of a quiet reading at the noisier of the two levels, SI. */
  readonly noise: number;
  /** Levels with the lead lifted and on, the lower first, SI. */
  readonly levels: readonly [number, number];
  /** How often the reading went from one side to the other at all: more than there are edges where contacts were too short to settle. */
  readonly crossings: number;
}

/** A reading within this part of the step from a level is at it. */
const AT_LEVEL = 0.03;
/** Readings within this part of the step from where a level is looked for tell it, and its noise. */
const NEAR_LEVEL = 0.05;
/** Readings in a row at a level before an edge counts from or to it. */
const SETTLED = 2;

/**
 * Finds the two levels of a take of taps and the edges between them. An edge across a gap, or to or from a contact too short to
 * settle, is left out.
 * @param ends  end of each reading, s, rising
 * @param values  SI; NaN (over-range, blank) belongs to no edge
 * @param interval  sample interval, s
 * @returns null when there aren't two levels
 */
export function findTapEdges(ends: ArrayLike<number>, values: ArrayLike<number>, interval: number): TapEdges | null {
  const sorted = Array.from(values).filter(Number.isFinite).sort((a, b) => a - b);
  if (sorted.length < 4 * SETTLED) return null;
  const divide = ((sorted[Math.floor(0.05 * sorted.length)] as number) + (sorted[Math.floor(0.95 * (sorted.length - 1))] as number)) / 2;
  const lows = sorted.filter((value) => value <= divide);
  const highs = sorted.filter((value) => value > divide);
  if (lows.length < SETTLED || highs.length < SETTLED) return null;
  // What lies between the levels would draw the middle of a half inwards: a meter that averages may show as much of it as of the levels.
  const [bottom, top] = [lows[lows.length >> 2] as number, highs[(3 * highs.length) >> 2] as number];
  const reach = NEAR_LEVEL * (top - bottom);
  const [atLow, atHigh] = [lows.filter((value) => Math.abs(value - bottom) <= reach), highs.filter((value) => Math.abs(value - top) <= reach)];
  const low = middle(atLow);
  const high = middle(atHigh);
  const noise = Math.max(deviation(atLow, low), deviation(atHigh, high));
  const step = high - low;

  const levelOf = (value: number): 'low' | 'high' | null => {
    const part = (value - low) / step;
    return Math.abs(part) <= AT_LEVEL ? 'low' : Math.abs(part - 1) <= AT_LEVEL ? 'high' : null;
  };
  const edges: Edge[] = [];
  let from: { level: 'low' | 'high'; last: number } | null = null; // the last reading at a settled level
  let run = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i] as number;
    if (i > 0 && ((ends[i] as number) - (ends[i - 1] as number) > 1.5 * interval || Number.isNaN(value))) {
      from = null;
      run = 0;
    }
    const level = levelOf(value);
    run = level === null ? 0 : i > 0 && run > 0 && levelOf(values[i - 1] as number) === level ? run + 1 : 1;
    if (level === null || run < SETTLED) continue;
    if (from !== null && from.level !== level) {
      const [before, after] = level === 'high' ? [low, high] : [high, low];
      edges.push({ values: Array.from({ length: i - from.last + SETTLED }, (_, k) => values[(from as { last: number }).last - SETTLED + 1 + k] as number), from: before, to: after });
    }
    from = { level, last: i };
  }
  return { edges, noise, levels: [low, high], crossings: crossingsOf(values, divide) };
}

function crossingsOf(values: ArrayLike<number>, divide: number): number {
  let crossings = 0;
  let wasHigh: boolean | null = null;
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i])) continue;
    const isHigh = (values[i] as number) > divide;
    if (wasHigh !== null && isHigh !== wasHigh) crossings++;
    wasHigh = isHigh;
  }
  return crossings;
}

function middle(sorted: readonly number[]): number {
  return ((sorted[(sorted.length - 1) >> 1] as number) + (sorted[sorted.length >> 1] as number)) / 2;
}

function deviation(sorted: readonly number[], centre: number): number {
  return 1.4826 * middle(sorted.map((value) => Math.abs(value - centre)).sort((a, b) => a - b));
}
