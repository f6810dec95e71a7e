/** Whether the level is within its limits: now, before, and most of the time. */
import type { Quantity } from '../../drivers/reading.ts';
import { guardedLevelVerdict } from './accuracy.ts';
import type { LevelDecision, MissingKnowledge, Remedy } from './accuracy.ts';
import { isShortCheck } from './check-traits.ts';
import type { Accuracy, JudgeSetup, LevelDoubt, LevelVerdict } from './judgement.ts';
import { accuracyAt } from './range-accuracy.ts';
import type { SteadyStretch } from './steadiness.ts';
import { joinWords, sayBeside, sayLimit, sayValue } from './wording.ts';

/** Remembered decisions: stretches don't change once they have ended. */
export type DecisionMemory = WeakMap<SteadyStretch, LevelDecision>;

/** What a reading is judged with. */
export interface LevelContext {
  readonly setup: JudgeSetup;
  readonly quantity: Quantity;
  /** Value of one count, SI; null when not known. */
  readonly count: number | null;
}

/** Leads that nobody nulled may add as much as this, ohm (common practice, no source). */
const UNKNOWN_LEADS = 0.5;
/** Where the display's counts are not known, a finer range is offered up to so many counts (common practice, no source). */
const USUAL_COUNTS = 6000;

/** Verdict on one steady value; the resistance of the leads is taken off ohms, or allowed for where it is not known. */
export function judgeStretch(stretch: SteadyStretch, { setup, quantity }: LevelContext): LevelDecision {
  const { coupling } = stretch;
  const count = stretch.count > 0 ? stretch.count : null;
  const leads = quantity !== 'resistance' ? 0 : setup.leadOhms ?? UNKNOWN_LEADS;
  const isNulled = quantity !== 'resistance' || setup.leadOhms !== null;
  // Leads can only add: what is measured lies between the reading and the reading less all of them.
  const value = stretch.value - (isNulled ? leads : leads / 2);
  const stated = (one: number | null): Accuracy | null => accuracyAt(setup, { quantity, coupling, value: stretch.value, count: one });
  const isShownFiner = count !== null && Math.abs(stretch.value) < (count / 10) * (setup.displayCounts ?? USUAL_COUNTS);
  return guardedLevelVerdict({
    value, accuracy: stated(count), resolution: count,
    noise: stretch.readings < 2 ? null : Math.max(stretch.spread, (count ?? 0) / Math.sqrt(12)),
    // Neighbouring readings share drift and hum: more than a hundred say no more than a hundred.
    readings: Math.min(stretch.readings, 100),
    leadBound: isNulled ? 0 : leads / 2,
    finer: isShownFiner ? { accuracy: stated(count / 10), resolution: count / 10 } : null,
  }, setup.limits);
}

/** How sure a decision is; null where it rests on nothing. */
export function doubtOf(decision: LevelDecision): LevelDoubt | null {
  const { uncertainty, conformance, wrongChance, margin } = decision;
  if (uncertainty.kind === 'unknown' || conformance === null || margin === null) return null;
  return { uncertainty: uncertainty.expanded, insideChance: conformance, wrongChance, remedies: remediesOf(decision) };
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
export function sayLevel(stretch: SteadyStretch, decision: LevelDecision, { setup, quantity, count: newest }: LevelContext): string {
  const count = stretch.count > 0 ? stretch.count : newest;
  const { low, high } = setup.limits;
  const value = quantity === 'resistance' ? stretch.value - (setup.leadOhms ?? 0) : stretch.value;
  // A tenth of a count is the finest that a mean of readings deserves.
  const fine = count === null ? null : count / 10;
  const { uncertainty } = decision;
  const hasLeads = uncertainty.kind === 'known' && uncertainty.parts.some(({ source }) => source === 'leads');
  const withLeads = hasLeads && value < 20 * UNKNOWN_LEADS ? `, of which the leads may be up to ${sayValue(UNKNOWN_LEADS, quantity, null)}` : '';
  if (low === null && high === null) return `Reads ${sayValue(value, quantity, count)}${withLeads}; no limits are set.`;
  const limit = low !== null && (high === null || value - low < high - value) ? { at: low, name: 'lowest' } : { at: high as number, name: 'highest' };
  const reads = `Reads ${sayBeside(limit.at, value, quantity, count)}${withLeads}`;
  const isInside = (low === null || value >= low) && (high === null || value <= high);
  const place = `${limit.name === 'lowest' ? (isInside ? 'above' : 'below') : isInside ? 'below' : 'above'} the ${limit.name} limit of ${sayLimit(limit.at, quantity)}`;
  if (uncertainty.kind === 'unknown') return `${reads}, ${place}, but undecided: ${uncertainty.missing.map((m) => MISSING[m]).join(' and ')}.`;
  const assumed = setup.accuracy?.isAssumed === true ? ' (with an assumed accuracy)' : '';
  const within = `${sayValue(uncertainty.expanded, quantity, fine)}${assumed}`;
  if (decision.verdict === 'undecided') {
    const inside = sayChance(decision.conformance as number);
    return `${reads}, ${place}, too close for a measuring uncertainty of ${within}: inside with a chance of ${inside}. ${sayRemedies(decision)}`;
  }
  return `${reads}, ${place} by more than the measuring uncertainty of ${within}; the chance that this is wrong is ${sayChance(decision.wrongChance as number)}.`;
}

/** "12 %", "below 0.1 %", "above 99.9 %". */
function sayChance(chance: number): string {
  return chance < 0.001 ? 'below 0.1 %' : chance > 0.999 ? 'above 99.9 %' : `${Number((100 * chance).toPrecision(chance > 0.9 ? 3 : 2))} %`;
}

function sayRemedies(decision: LevelDecision): string {
  const remedies = remediesOf(decision);
  return remedies.length > 0 ? `What would decide it: ${remedies.join(', or ')}.` : 'It lies on the limit: no better measurement would decide it.';
}

/** What would decide an undecided level, as a technician would say it. */
export function remediesOf({ remedies, together, betterBy }: LevelDecision): string[] {
  const said = (remedy: Remedy): string => (remedy === 'a better meter' ? `a meter ${betterBy ?? 10} times as accurate` : remedy);
  return together.length === 0 ? remedies.map(said) : [`${joinWords(together.map(said))} together`];
}

const MISSING: Record<MissingKnowledge, string> = {
  accuracy: "the meter's accuracy isn't known for this range (its manual gives it)",
  resolution: "the meter's resolution isn't known",
  noise: 'the noise of the reading is not known yet',
  'second reading': 'there is only one reading',
};
