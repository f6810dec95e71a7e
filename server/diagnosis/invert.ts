/**
 * Where a rising function reaches a value: Newton's steps, held inside a bracket that shrinks at every step, so that it
 * can't run away.
 * @param slope  derivative of `rising`; 0 or not finite makes the step a bisection
 * @param low  `rising(low)` is at most `target`
 * @param high  `rising(high)` is at least `target`; may be Infinity
 * @param guess  strictly between the two
 */
export function invertRising(
  rising: (x: number) => number, slope: (x: number) => number, target: number, low: number, high: number, guess: number,
): number {
  let x = guess;
  for (let step = 0; step < 400; step++) {
    const miss = rising(x) - target;
    if (miss === 0) return x;
    if (miss > 0) high = x;
    else low = x;
    let next = x - miss / slope(x);
    if (!(next > low && next < high)) next = high === Infinity ? 2 * x + 1 : between(low, high);
    if (next === x || Math.abs(next - x) <= 1e-16 * Math.abs(x)) return next;
    x = next;
  }
  return x;
}

/** Middle of a bracket: geometric where it spans powers of ten, so that a tiny root is found as fast as a large one. */
function between(low: number, high: number): number {
  if (low > 0 && high > 4 * low) return Math.sqrt(low) * Math.sqrt(high);
  if (low === 0 && high > 1e-300) return high / 1024;
  return low + (high - low) / 2;
}
