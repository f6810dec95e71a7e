/**
 * The normal distribution to full double precision. Every threshold, length and verdict rests on these two functions.
 */

/* Coefficients of W. J. Cody, "Rational Chebyshev approximation for the error function", Math. Comp. 23 (1969) 631-637, rounded to doubles. */
const NEAR_TOP = [0.18577770618460315, 3.1611237438705655, 113.86415415105016, 377.485237685302, 3209.3775891384694];
const NEAR_BOTTOM = [1, 23.601290952344122, 244.02463793444417, 1282.6165260773723, 2844.236833439171];
const MIDDLE_TOP = [
  2.1531153547440383e-8, 0.5641884969886701, 8.883149794388377, 66.11919063714163, 298.6351381974001,
  881.952221241769, 1712.0476126340707, 2051.0783778260716, 1230.3393547979972,
];
const MIDDLE_BOTTOM = [
  1, 15.744926110709835, 117.6939508913125, 537.1811018620099, 1621.3895745666903, 3290.7992357334597,
  4362.619090143247, 3439.3676741437216, 1230.3393548037495,
];
const FAR_TOP = [
  0.016315387137302097, 0.30532663496123236, 0.36034489994980445, 0.12578172611122926, 0.016083785148742275,
  0.0006587491615298378,
];
const FAR_BOTTOM = [
  1, 2.568520192289822, 1.8729528499234673, 0.5279051029514285, 0.06051834131244132, 0.0023352049762686918,
];

/** Horner's rule; the first coefficient belongs to the highest power. */
function polynomial(coefficients: readonly number[], x: number): number {
  let sum = 0;
  for (const coefficient of coefficients) sum = sum * x + coefficient;
  return sum;
}

/** exp(-y * y) without the rounding of y * y: y is split so that the square of its first part is exact (Cody). */
function expOfMinusSquare(y: number): number {
  const head = Math.trunc(y * 16) / 16;
  return Math.exp(-head * head) * Math.exp(-(y - head) * (y + head));
}

/** Complementary error function for x >= 0. */
function upperErrorFunction(x: number): number {
  if (x <= 0.46875) {
    const square = x * x;
    return 1 - (x * polynomial(NEAR_TOP, square)) / polynomial(NEAR_BOTTOM, square);
  }
  if (x <= 4) return (expOfMinusSquare(x) * polynomial(MIDDLE_TOP, x)) / polynomial(MIDDLE_BOTTOM, x);
  // Below the smallest double.
  if (x > 28) return 0;
  const inverse = 1 / (x * x);
  const fraction = (inverse * polynomial(FAR_TOP, inverse)) / polynomial(FAR_BOTTOM, inverse);
  return (expOfMinusSquare(x) / x) * (1 / Math.sqrt(Math.PI) - fraction);
}

/** Chance that a standard normal value is above `z`: exact far into the tail, where 1 - normalCdf(z) would be 0. */
export function normalUpper(z: number): number {
  if (z >= 0) return upperErrorFunction(z * Math.SQRT1_2) / 2;
  const x = -z * Math.SQRT1_2;
  return x <= 0.46875 ? 0.5 + (0.5 - upperErrorFunction(x) / 2) : 1 - upperErrorFunction(x) / 2;
}

/** Chance that a standard normal value is below `z`. */
export function normalCdf(z: number): number {
  return normalUpper(-z);
}

/** Density of the standard normal distribution at `z`. */
export function normalDensity(z: number): number {
  return expOfMinusSquare(Math.abs(z) * Math.SQRT1_2) / Math.sqrt(2 * Math.PI);
}

/* Coefficients of M. J. Wichura, "Algorithm AS 241: the percentage points of the normal distribution" (PPND16), Applied Statistics 37 (1988) 477-484, rounded to doubles. */
const CENTRE_TOP = [
  2509.0809287301227, 33430.57558358813, 67265.7709270087, 45921.95393154987, 13731.69376550946,
  1971.5909503065513, 133.14166789178438, 3.3871328727963665,
];
const CENTRE_BOTTOM = [
  5226.495278852854, 28729.085735721943, 39307.89580009271, 21213.794301586597, 5394.196021424751,
  687.1870074920579, 42.31333070160091, 1,
];
const TAIL_TOP = [
  0.0007745450142783414, 0.022723844989269184, 0.2417807251774506, 1.2704582524523684, 3.6478483247632045,
  5.769497221460691, 4.630337846156546, 1.4234371107496835,
];
const TAIL_BOTTOM = [
  1.0507500716444169e-9, 0.0005475938084995345, 0.015198666563616457, 0.14810397642748008, 0.6897673349851,
  1.6763848301838038, 2.053191626637759, 1,
];
const END_TOP = [
  2.0103343992922881e-7, 2.7115555687434876e-5, 0.0012426609473880784, 0.026532189526576124, 0.29656057182850487,
  1.7848265399172913, 5.463784911164114, 6.657904643501103,
];
const END_BOTTOM = [
  2.0442631033899397e-15, 1.421511758316446e-7, 1.8463183175100548e-5, 0.0007868691311456133, 0.014875361290850615,
  0.1369298809227358, 0.599832206555888, 1,
];

/**
 * The z that a standard normal value stays below with chance `p`. For a small upper tail `q` use `-normalQuantile(q)`.
 * @returns -Infinity for 0, Infinity for 1
 * @throws {RangeError} for a chance outside 0..1
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`a chance lies within 0..1, not ${p}`);
  const centred = p - 0.5;
  if (Math.abs(centred) <= 0.425) {
    const r = 0.180625 - centred * centred;
    return (centred * polynomial(CENTRE_TOP, r)) / polynomial(CENTRE_BOTTOM, r);
  }
  const tail = centred < 0 ? p : 1 - p;
  if (tail === 0) return centred < 0 ? -Infinity : Infinity;
  const r = Math.sqrt(-Math.log(tail));
  const size = r <= 5
    ? polynomial(TAIL_TOP, r - 1.6) / polynomial(TAIL_BOTTOM, r - 1.6)
    : polynomial(END_TOP, r - 5) / polynomial(END_BOTTOM, r - 5);
  return centred < 0 ? -size : size;
}
