/**
 * Exact limits of counts and chances, and the entry threshold that follows from an alarm budget.
 *
 * All limits here are one-sided: `confidence` 0.95 for an upper limit means that at most 5 % of such limits lie below the truth.
 * For a two-sided 95 % interval take both limits at 0.975.
 */
import { betaLower, betaQuantile, betaUpperQuantile } from './beta.ts';
import { gammaQuantile, gammaUpper, gammaUpperQuantile } from './gamma.ts';
import { normalQuantile } from './normal.ts';

export { betaLower, betaQuantile, betaUpper, betaUpperQuantile } from './beta.ts';
export { chiSquareQuantile, gammaLower, gammaQuantile, gammaUpper, gammaUpperQuantile, logGamma } from './gamma.ts';
export { normalCdf, normalDensity, normalQuantile, normalUpper } from './normal.ts';

function checkConfidence(confidence: number): void {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`a confidence lies between 0 and 1, not ${confidence}`);
}

function checkCount(name: string, count: number): void {
  if (!(Number.isInteger(count) && count >= 0)) throw new RangeError(`${name} is a whole number from 0 on, not ${count}`);
}

/** Highest mean of a Poisson count still believable after `count` events (Garwood 1936). 2.996 for 0 events at 95 %. */
export function poissonUpperLimit(count: number, confidence: number): number {
  checkCount('count', count);
  checkConfidence(confidence);
  return gammaUpperQuantile(count + 1, 1 - confidence);
}

/** Lowest mean of a Poisson count still believable after `count` events; 0 for none. */
export function poissonLowerLimit(count: number, confidence: number): number {
  checkCount('count', count);
  checkConfidence(confidence);
  return count === 0 ? 0 : gammaQuantile(count, 1 - confidence);
}

/** Chance of at most `count` events when `mean` are expected. */
export function poissonCdf(count: number, mean: number): number {
  checkCount('count', count);
  return gammaUpper(count + 1, mean);
}

function checkTrials(events: number, trials: number): void {
  checkCount('events', events);
  checkCount('trials', trials);
  if (events > trials) throw new RangeError(`${events} events in ${trials} trials`);
}

/** Highest chance per trial still believable after `events` in `trials` (Clopper & Pearson 1934); 1 without trials. */
export function binomialUpperLimit(events: number, trials: number, confidence: number): number {
  checkTrials(events, trials);
  checkConfidence(confidence);
  return events === trials ? 1 : betaUpperQuantile(events + 1, trials - events, 1 - confidence);
}

/** Lowest chance per trial still believable after `events` in `trials`; 0 when none was seen. */
export function binomialLowerLimit(events: number, trials: number, confidence: number): number {
  checkTrials(events, trials);
  checkConfidence(confidence);
  return events === 0 ? 0 : betaQuantile(events, trials - events + 1, 1 - confidence);
}

/** Chance of at most `events` in `trials` when each has chance `p`. */
export function binomialCdf(events: number, trials: number, p: number): number {
  checkTrials(events, trials);
  return events === trials ? 1 : betaLower(trials - events, events + 1, 1 - p);
}

/** How often a clean signal may set off the detector, per hour: the alarm budget of the definitions. */
export const ALARM_BUDGET_PER_HOUR = 0.01;

/**
 * Entry threshold in noise deviations: what a reading of a clean signal with Gaussian noise exceeds `falseAlarmsPerHour`
 * times an hour. About 4.7 at 2.5 readings/s, 5.8 at 1,000/s, 6.6 at 100,000/s.
 * @param interval  sample interval, s (> 0)
 * @param sides  2 when departures in both directions count
 * @throws {RangeError} for an interval or budget that is not positive
 */
export function entryThresholdZ(interval: number, falseAlarmsPerHour: number = ALARM_BUDGET_PER_HOUR, sides: 1 | 2 = 1): number {
  if (!(interval > 0)) throw new RangeError(`a sample interval is above 0 s, not ${interval}`);
  if (!(falseAlarmsPerHour > 0)) throw new RangeError(`an alarm budget is above 0 per hour, not ${falseAlarmsPerHour}`);
  // A meter so slow that the budget exceeds its readings needs no threshold from this side.
  const chancePerReading = Math.min(0.5, (falseAlarmsPerHour * interval) / 3600 / sides);
  return -normalQuantile(chancePerReading);
}
