/** Scales of a trace: a range of values that holds what matters and marks at round numbers. Pure. */

export interface Range { readonly low: number; readonly high: number }

/** The range that holds both. */
export function joined(one: Range | null, other: Range | null): Range | null {
  if (one === null || other === null) return one ?? other;
  return { low: Math.min(one.low, other.low), high: Math.max(one.high, other.high) };
}

/**
 * @param extent values in view; null when there are none
 * @param limits of the check; one that is far away from the values is left out, so that the trace is not flattened
 * @param leastSpan never zoom in further than this, SI (twenty counts of the meter, say)
 */
export function valueRange(extent: Range | null, limits: readonly (number | null)[], leastSpan: number): Range {
  const known = limits.filter((limit) => limit !== null);
  let low = extent?.low ?? Math.min(...known, 0);
  let high = extent?.high ?? (Math.max(...known, 0) || 1);
  const span = Math.max(high - low, leastSpan, Math.abs(high) * 0.02);
  for (const limit of known) {
    if (limit < low && low - limit < 1.5 * span) low = limit;
    if (limit > high && limit - high < 1.5 * span) high = limit;
  }
  // A span this small is opened evenly round its middle.
  const missing = Math.max(leastSpan, Math.abs(high) * 0.02) - (high - low);
  if (missing > 0) [low, high] = [low - missing / 2, high + missing / 2];
  const step = roundStep((high - low) / 4);
  // Nothing stands at the edge before there is a value.
  const pad = extent === null ? 0 : (high - low) * 0.04;
  const bottom = Math.floor((low - pad) / step) * step;
  // A reading that never is negative gets a sliver below zero, so that a line at zero is seen, but no negative half.
  return { low: low >= 0 && bottom < 0 ? (extent === null ? 0 : -0.03 * high) : bottom, high: Math.ceil((high + pad) / step) * step };
}

/**
 * A range that grows at once and shrinks only when it has been too wide for a while, so that the trace does not breathe.
 */
export class SteadyRange {
  #range: Range | null = null;
  #wideSince: number | null = null;

  /** @param now monotonic, s */
  next(wanted: Range, now: number): Range {
    const range = this.#range;
    if (range === null || wanted.low < range.low || wanted.high > range.high) {
      this.#wideSince = null;
      return (this.#range = range === null ? wanted : { low: Math.min(wanted.low, range.low), high: Math.max(wanted.high, range.high) });
    }
    if (wanted.high - wanted.low > 0.6 * (range.high - range.low)) {
      this.#wideSince = null;
      return range;
    }
    this.#wideSince ??= now;
    if (now - this.#wideSince < 2) return range;
    this.#wideSince = null;
    return (this.#range = wanted);
  }

  reset(): void {
    this.#range = null;
    this.#wideSince = null;
  }
}

/** The round number (1, 2 or 5 times a power of ten) not below `step`. */
export function roundStep(step: number): number {
  const power = 10 ** Math.floor(Math.log10(step));
  const lead = step / power;
  return (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10) * power;
}

/** Steps of time in which a clock is read, s. */
const TIME_STEPS = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200];

/** A step of time such that about `most` of them, at most, cover `span` seconds. */
export function timeStep(span: number, most: number): number {
  const wanted = span / most;
  if (wanted <= 0.5) return roundStep(wanted);
  return TIME_STEPS.find((step) => step >= wanted) ?? Math.ceil(wanted / 86400) * 86400;
}

/** Multiples of `step` from `from` to `to`, counted from `origin`. */
export function timeMarks(from: number, to: number, step: number, origin: number): number[] {
  const marks: number[] = [];
  for (let k = Math.ceil((from - origin) / step - 1e-9); origin + k * step <= to + step * 1e-9; k++) marks.push(origin + k * step);
  return marks;
}

/** Digits after the second that tell marks apart that are `step` seconds apart. */
export function stepDecimals(step: number): number {
  return step >= 1 ? 0 : Math.min(6, Math.ceil(-Math.log10(step) - 1e-9));
}
