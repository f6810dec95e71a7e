/**
 * Gamma function and incomplete gamma function: what the exact limits of a count of dropouts are made of.
 * Prefactors follow C. Loader, "Fast and accurate computation of binomial probabilities" (2000): the saddle-point form keeps
 * full precision where exp(a ln x - x - lnGamma(a)) loses a digit for each power of ten in `a`.
 */
import { invertRising } from './invert.ts';

const HALF_LOG_TWO_PI = 0.9189385332046728;
/** Terms of Stirling's series, B(2k) / (2k (2k - 1)). */
const STIRLING = [1 / 12, -1 / 360, 1 / 1260, -1 / 1680, 1 / 1188, -691 / 360360, 1 / 156];

function stirlingSeries(x: number): number {
  const inverseSquare = 1 / (x * x);
  let sum = 0;
  for (let k = STIRLING.length - 1; k >= 0; k--) sum = sum * inverseSquare + (STIRLING[k] as number);
  return sum / x;
}

/** Natural logarithm of the gamma function. @throws {RangeError} for x <= 0 */
export function logGamma(x: number): number {
  if (!(x > 0)) throw new RangeError(`logGamma needs x > 0, not ${x}`);
  // Stirling's series is exact to double precision from 15 on; smaller arguments are lifted by x Gamma(x) = Gamma(x + 1).
  let lifted = x;
  let product = 1;
  while (lifted < 15) product *= lifted++;
  return (lifted - 0.5) * Math.log(lifted) - lifted + HALF_LOG_TWO_PI + stirlingSeries(lifted) - Math.log(product);
}

/** ln x! minus the leading part of Stirling's formula, ln(sqrt(2 pi x) (x / e)^x). @param x > 0 */
export function stirlingError(x: number): number {
  return x >= 15 ? stirlingSeries(x) : logGamma(x + 1) - (x + 0.5) * Math.log(x) + x - HALF_LOG_TWO_PI;
}

/** x ln(x / m) + m - x without cancellation near x = m (Loader's deviance). @param x > 0 @param m > 0 */
export function deviance(x: number, m: number): number {
  if (Math.abs(x - m) >= 0.1 * (x + m)) return x * Math.log(x / m) + m - x;
  const v = (x - m) / (x + m);
  const square = v * v;
  let sum = (x - m) * v;
  let term = 2 * x * v;
  for (let j = 1; ; j++) {
    term *= square;
    const next = sum + term / (2 * j + 1);
    if (next === sum) return next;
    sum = next;
  }
}

/** x^a e^-x / Gamma(a + 1). @param a > 0 @param x > 0 */
function gammaTerm(a: number, x: number): number {
  return Math.exp(-stirlingError(a) - deviance(a, x)) / Math.sqrt(2 * Math.PI * a);
}

function checkArguments(a: number, x: number): void {
  if (!(a > 0 && a < Infinity)) throw new RangeError(`the incomplete gamma function needs a > 0, not ${a}`);
  if (!(x >= 0)) throw new RangeError(`the incomplete gamma function needs x >= 0, not ${x}`);
}

/** Sum of x^n / ((a+1)...(a+n)), n from 0: P(a, x) over gammaTerm (Abramowitz & Stegun 6.5.29). */
function lowerSeries(a: number, x: number): number {
  let sum = 1;
  let term = 1;
  for (let n = 1; ; n++) {
    term *= x / (a + n);
    if (sum + term === sum) return sum;
    sum += term;
  }
}

/** Continued fraction of Q(a, x) over x^a e^-x / Gamma(a) (Abramowitz & Stegun 6.5.31), by Lentz's method. */
function upperFraction(a: number, x: number): number {
  const tiny = 1e-300;
  let b = x + 1 - a;
  let c = 1 / tiny;
  let d = 1 / b;
  let value = d;
  for (let n = 1; n < 100_000; n++) {
    const numerator = -n * (n - a);
    b += 2;
    d = numerator * d + b;
    d = 1 / (d === 0 ? tiny : d);
    c = b + numerator / c;
    if (c === 0) c = tiny;
    const step = c * d;
    value *= step;
    if (Math.abs(step - 1) < 2e-16) break;
  }
  return value;
}

/** Regularised lower incomplete gamma function P(a, x). @throws {RangeError} for a <= 0 or x < 0 */
export function gammaLower(a: number, x: number): number {
  checkArguments(a, x);
  if (x === 0) return 0;
  if (x === Infinity) return 1;
  return x < a + 1 ? gammaTerm(a, x) * lowerSeries(a, x) : 1 - gammaTerm(a, x) * a * upperFraction(a, x);
}

/** Regularised upper incomplete gamma function Q(a, x) = 1 - P(a, x), exact in the tail. @throws {RangeError} for a <= 0 or x < 0 */
export function gammaUpper(a: number, x: number): number {
  checkArguments(a, x);
  if (x === 0) return 1;
  if (x === Infinity) return 0;
  return x < a + 1 ? 1 - gammaTerm(a, x) * lowerSeries(a, x) : gammaTerm(a, x) * a * upperFraction(a, x);
}

function checkChance(p: number): void {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`a chance lies within 0..1, not ${p}`);
}

/** The x with P(a, x) = p. @throws {RangeError} for a <= 0 or a chance outside 0..1 */
export function gammaQuantile(a: number, p: number): number {
  checkArguments(a, 0);
  checkChance(p);
  if (p === 0) return 0;
  if (p === 1) return Infinity;
  return invertRising((x) => gammaLower(a, x), (x) => (gammaTerm(a, x) * a) / x, p, 0, Infinity, a);
}

/** The x with Q(a, x) = q: for small upper tails. @throws {RangeError} for a <= 0 or a chance outside 0..1 */
export function gammaUpperQuantile(a: number, q: number): number {
  checkArguments(a, 0);
  checkChance(q);
  if (q === 0) return Infinity;
  if (q === 1) return 0;
  return invertRising((x) => -gammaUpper(a, x), (x) => (gammaTerm(a, x) * a) / x, -q, 0, Infinity, a);
}

/** The value that a chi-square variable with `freedom` degrees of freedom stays below with chance `p`. @throws {RangeError} as gammaQuantile */
export function chiSquareQuantile(freedom: number, p: number): number {
  return 2 * gammaQuantile(freedom / 2, p);
}
