/** Resistance of a copper wire, from what is printed on it. */

/** Resistivity of annealed copper at 20 degC, ohm mm2/m: 1/58 exactly, 100 % IACS (IEC 60028). */
export const COPPER_RESISTIVITY = 1 / 58;
/** Temperature coefficient of that resistance at 20 degC, 1/degC (100 % IACS copper). */
export const COPPER_TEMPERATURE_COEFFICIENT = 0.00393;

/**
 * Resistance of a copper wire: `length / (58 crossSection) (1 + 0.00393 (temperature - 20))`.
 * @param length  m (>= 0)
 * @param crossSection  mm2 (> 0)
 * @param temperature  of the conductor, degC
 * @returns ohm
 * @throws {RangeError} for a length or cross-section outside its range
 * @example wireOhms(2.4, 2.5) // 0.01655
 */
export function wireOhms(length: number, crossSection: number, temperature = 20): number {
  if (!(length >= 0 && Number.isFinite(length))) throw new RangeError(`length must be at least 0 m, got ${length}`);
  if (!(crossSection > 0 && Number.isFinite(crossSection))) throw new RangeError(`cross-section must be above 0 mm2, got ${crossSection}`);
  return (COPPER_RESISTIVITY * length / crossSection) * (1 + COPPER_TEMPERATURE_COEFFICIENT * (temperature - 20));
}

/**
 * Cross-section of a solid wire by its American wire gauge: diameter `0.127 mm * 92^((36 - gauge)/39)` (ASTM B258).
 * @param gauge  AWG number; 0 for 1/0, -1 for 2/0 and so on, down to -3 for 4/0
 * @returns mm2
 * @throws {RangeError} for a gauge that is no whole number from -3 to 40
 */
export function crossSectionOfGauge(gauge: number): number {
  if (!Number.isInteger(gauge) || gauge < -3 || gauge > 40) throw new RangeError(`AWG must be a whole number from -3 to 40, got ${gauge}`);
  const diameter = 0.127 * 92 ** ((36 - gauge) / 39);
  return (Math.PI / 4) * diameter ** 2;
}
