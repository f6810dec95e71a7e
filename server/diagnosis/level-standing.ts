/** Whether the level is within its limits: now, before, and most of the time. */
import type { Quantity } from '../../drivers/reading.ts';
import { guardedLevelVerdict } from './accuracy.ts';
import type { LevelDecision, MissingKnowledge } from './accuracy.ts';
import { isShortCheck } from './check-traits.ts';
import type { JudgeSetup, LevelVerdict } from './judgement.ts';
import type { SteadyStretch } from './steadiness.ts';
import { sayValue } from './wording.ts';

/** Remembered decisions: stretches don't change once they have ended. */
export type DecisionMemory = WeakMap<SteadyStretch, LevelDecision>;

/** What a reading is judged with. */
export interface LevelContext {
  readonly setup: JudgeSetup;
  readonly quantity: Quantity;
  /** Value of one count, SI; null when not known. */
  readonly count: number | null;
}

/** Verdict on one steady value; the resistance of the leads is taken off ohms. */
export function judgeStretch(stretch: SteadyStretch, { setup, quantity, count }: LevelContext): LevelDecision {
  const value = quantity === 'resistance' && setup.leadOhms !== null ? stretch.value - setup.leadOhms : stretch.value;
  return guardedLevelVerdict({
    value, accuracy: setup.accuracy, resolution: count,
    noise: stretch.readings < 2 ? null : Math.max(stretch.spread, count === null ? 0 : count / Math.sqrt(12)),
    // Neighbouring readings share drift and hum: more than a hundred say no more than a hundred.
    readings: Math.min(stretch.readings, 100),
  }, setup.limits);
}

/** Verdict on a level that is over-range: an open circuit, healthy in a short check. */
export function judgeOverRange({ setup, quantity }: LevelContext): { verdict: LevelVerdict; reason: string } {
  if (quantity === 'resistance') {
    if (isShortCheck(setup.kind)) {
      return setup.limits.high === null ? { verdict: 'pass', reason: 'Over-range: nothing touches.' } : { verdict: 'fail', reason: 'Over-range, above the highest limit.' };
    }
    return { verdict: 'fail', reason: 'Over-range: the circuit is open.' };
  }
  if (setup.limits.high !== null) return { verdict: 'fail', reason: 'Over-range, above the highest limit.' };
  return { verdict: 'undecided', reason: 'Over-range: choose a higher range.' };
}

/** Time spent in each verdict over all stretches. */
export interface LevelHistory { pass: number; fail: number; undecided: number }

export function levelHistory(stretches: readonly SteadyStretch[], context: LevelContext, memory: DecisionMemory): LevelHistory {
  const time: LevelHistory = { pass: 0, fail: 0, undecided: 0 };
  for (const stretch of stretches) {
    let decision = memory.get(stretch);
    if (decision === undefined) {
      decision = judgeStretch(stretch, context);
      memory.set(stretch, decision);
    }
    time[decision.verdict] += stretch.end - stretch.start;
  }
  return time;
}

/** The sentence for a level's verdict. */
export function sayLevel(stretch: SteadyStretch, decision: LevelDecision, { setup, quantity, count }: LevelContext): string {
  const { low, high } = setup.limits;
  const value = quantity === 'resistance' && setup.leadOhms !== null ? stretch.value - setup.leadOhms : stretch.value;
  // A tenth of a count is the finest that a mean of readings deserves.
  const fine = count === null ? null : count / 10;
  const reads = `Reads ${sayValue(value, quantity, count)}`;
  const { uncertainty } = decision;
  if (low === null && high === null) return `${reads}; no limits are set.`;
  const limit = low !== null && (high === null || value - low < high - value) ? { at: low, name: 'lowest' } : { at: high as number, name: 'highest' };
  const isInside = (low === null || value >= low) && (high === null || value <= high);
  const place = `${limit.name === 'lowest' ? (isInside ? 'above' : 'below') : isInside ? 'below' : 'above'} the ${limit.name} limit of ${sayValue(limit.at, quantity, null)}`;
  if (uncertainty.kind === 'unknown') return `${reads}, ${place}, but undecided: ${uncertainty.missing.map((m) => MISSING[m]).join(' and ')}.`;
  const within = sayValue(uncertainty.expanded, quantity, fine);
  if (decision.verdict === 'undecided') {
    const remedy = decision.remedies.length > 0 ? ` What would decide it: ${decision.remedies.join(', or ')}.` : '';
    return `${reads}, ${place} by less than the measuring uncertainty of ${within}.${remedy}`;
  }
  return `${reads}, ${place} by more than the measuring uncertainty of ${within}.`;
}

const MISSING: Record<MissingKnowledge, string> = {
  accuracy: "the meter's accuracy isn't known",
  resolution: "the meter's resolution isn't known",
  noise: 'the noise of the reading is not known yet',
  'second reading': 'there is only one reading',
};
