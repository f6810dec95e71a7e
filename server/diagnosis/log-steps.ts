/** Values in steps of a factor: what lies within one counts as the same. */

/** The nearest whole power of `exp(step)`. @param value  > 0 @param step  natural logarithm of the factor, > 0 */
export function inLogSteps(value: number, step: number): number {
  return Math.exp(Math.round(Math.log(value) / step) * step);
}
