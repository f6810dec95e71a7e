/** Incomplete beta function: what exact limits of a chance per flex are made of. */
import { deviance, stirlingError } from './gamma.ts';
import { invertRising } from './invert.ts';

/** x^a y^b / Beta(a, b) with y = 1 - x, in the saddle-point form of Loader (2000). */
function betaTerm(a: number, b: number, x: number, y: number): number {
  const n = a + b;
  const log = stirlingError(n) - stirlingError(a) - stirlingError(b) - deviance(a, n * x) - deviance(b, n * y);
  return Math.exp(log) * Math.sqrt((a * b) / (2 * Math.PI * n));
}

/** Continued fraction of I_x(a, b) over betaTerm / a (Abramowitz & Stegun 26.5.8), by Lentz's method; quick for x < (a + 1) / (a + b + 2). */
function betaFraction(a: number, b: number, x: number): number {
  const tiny = 1e-300;
  const safe = (value: number): number => (value === 0 ? tiny : value);
  let c = 1;
  let d = 1 / safe(1 - ((a + b) * x) / (a + 1));
  let value = d;
  for (let m = 1; m < 100_000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / safe(1 + even * d);
    c = safe(1 + even / c);
    value *= c * d;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / safe(1 + odd * d);
    c = safe(1 + odd / c);
    const step = c * d;
    value *= step;
    if (Math.abs(step - 1) < 2e-16) break;
  }
  return value;
}

/** I_x(a, b) and its complement, each exact in its own tail; y = 1 - x is given because it may be the smaller. */
function betaPair(a: number, b: number, x: number, y: number): { lower: number; upper: number } {
  if (!(a > 0 && b > 0 && a < Infinity && b < Infinity)) throw new RangeError(`the incomplete beta function needs a, b > 0, not ${a}, ${b}`);
  if (!(x >= 0 && x <= 1)) throw new RangeError(`the incomplete beta function needs x within 0..1, not ${x}`);
  if (x === 0) return { lower: 0, upper: 1 };
  if (y === 0) return { lower: 1, upper: 0 };
  if (x < (a + 1) / (a + b + 2)) {
    const lower = (betaTerm(a, b, x, y) * betaFraction(a, b, x)) / a;
    return { lower, upper: 1 - lower };
  }
  const upper = (betaTerm(a, b, x, y) * betaFraction(b, a, y)) / b;
  return { lower: 1 - upper, upper };
}

/** Regularised incomplete beta function I_x(a, b). @throws {RangeError} for a, b <= 0 or x outside 0..1 */
export function betaLower(a: number, b: number, x: number): number {
  return betaPair(a, b, x, 1 - x).lower;
}

/** 1 - I_x(a, b), exact in the tail. @throws {RangeError} as betaLower */
export function betaUpper(a: number, b: number, x: number): number {
  return betaPair(a, b, x, 1 - x).upper;
}

/** The x with I_x(a, b) = p. @throws {RangeError} as betaLower, or for a chance outside 0..1 */
export function betaQuantile(a: number, b: number, p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`a chance lies within 0..1, not ${p}`);
  if (p === 0 || p === 1) return p;
  return invertRising((x) => betaLower(a, b, x), (x) => betaTerm(a, b, x, 1 - x) / (x * (1 - x)), p, 0, 1, a / (a + b));
}

/** The x with 1 - I_x(a, b) = q: for small upper tails. @throws {RangeError} as betaQuantile */
export function betaUpperQuantile(a: number, b: number, q: number): number {
  if (!(q >= 0 && q <= 1)) throw new RangeError(`a chance lies within 0..1, not ${q}`);
  if (q === 0 || q === 1) return 1 - q;
  return invertRising((x) => -betaUpper(a, b, x), (x) => betaTerm(a, b, x, 1 - x) / (x * (1 - x)), -q, 0, 1, a / (a + b));
}
