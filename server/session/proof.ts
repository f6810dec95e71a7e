/**
 * Whether a repair is proved: the checks that failed before are made again, in the same way, under the
 * condition that failed, and before is held against after. Anything less is "not yet proved", with what is missing.
 */
import { CLAIM_CONFIDENCE, compareBeforeAfter } from '../diagnosis/claims.ts';
import type { Comparison, Count } from '../diagnosis/claims.ts';
import type { Watching } from '../diagnosis/judgement.ts';
import { joinWords } from './path-words.ts';
import type { Check, TakeSummary } from './session.ts';
import type { Provocation } from './take-account.ts';

/** What was done about the fault. */
export interface Repair {
  /** Session clock, s: takes that began later count as after it. */
  readonly at: number;
  /** In the user's words. */
  readonly text: string;
  /** Span or component that it was done at; empty when not said. */
  readonly place: string;
  /** Names of pictures that are kept with the session. */
  readonly photos: readonly string[];
}

/** One check, before and after. */
export interface ProofRow {
  readonly check: Check;
  readonly watching: Watching;
  readonly before: TakeSummary;
  /** The newest take of the same check since the repair; null while there is none. */
  readonly after: TakeSummary | null;
  readonly state: ProofState;
  /** Sentences: what is still missing, or what speaks against it. */
  readonly missing: readonly string[];
  /** Dropouts before against after; null where there were none before. */
  readonly comparison: (Comparison & { readonly per: 'flex' | 's'; readonly before: Count; readonly after: Count }) | null;
}

export type ProofState = 'proved' | 'not-yet' | 'failed';

export interface Proof {
  /** `none`: no repair is noted, or nothing had failed before it. */
  readonly state: ProofState | 'none';
  readonly words: string;
  readonly rows: readonly ProofRow[];
}

/**
 * @param takes  ended takes of the session, in any order
 * @param repair  the last repair; null when none is noted
 */
export function proofOf(takes: readonly TakeSummary[], repair: Repair | null): Proof {
  if (repair === null) return { state: 'none', words: 'No repair is noted yet.', rows: [] };
  const before = takes.filter((take) => take.start < repair.at);
  const after = takes.filter((take) => take.start >= repair.at);
  const rows = failedChecks(before).map((take) => rowOf(take, latest(after.filter((own) => isSameCheck(own.check, take.check)))));
  if (rows.length === 0) return { state: 'none', words: 'No check had failed before the repair, so none can show that it helped.', rows };
  const state = rows.some((row) => row.state === 'failed') ? 'failed' : rows.every((row) => row.state === 'proved') ? 'proved' : 'not-yet';
  return { state, words: wordsOf(state, rows), rows };
}

/** The newest take of each check that failed or was intermittent, and has not passed since in the same way of watching. */
function failedChecks(before: readonly TakeSummary[]): TakeSummary[] {
  const byCheck = new Map<string, TakeSummary>();
  for (const take of [...before].sort((left, right) => left.start - right.start)) {
    const key = `${take.check.kind} ${take.check.red} ${take.check.black}`;
    const known = byCheck.get(key);
    const isBad = take.verdict === 'fail' || take.verdict === 'intermittent';
    // A spot that passes does not clear a wiggle take that dropped out; a bad one stands until it is repeated as hard.
    if (isBad && (known === undefined || rank(take.watching) >= rank(known.watching) || known.verdict !== 'intermittent')) byCheck.set(key, take);
    else if (take.verdict === 'pass' && known !== undefined && rank(take.watching) >= rank(known.watching)) byCheck.delete(key);
  }
  return [...byCheck.values()];
}

function rowOf(before: TakeSummary, after: TakeSummary | null): ProofRow {
  const row = { check: before.check, watching: before.watching, before, after };
  if (after === null) return { ...row, state: 'not-yet', missing: [`Repeat "${checkWords(before.check)}" as a ${before.watching} take.`], comparison: null };
  if (after.verdict === 'fail' || after.verdict === 'intermittent') {
    return { ...row, state: 'failed', missing: [`"${checkWords(before.check)}" still ${after.verdict === 'fail' ? 'fails' : 'drops out'}: ${after.judgement.reasons[0] ?? ''}`.trim()], comparison: comparisonOf(before, after) };
  }
  const missing: string[] = [];
  if (rank(after.watching) < rank(before.watching)) missing.push(`It failed in a ${before.watching} take: repeat it as a ${before.watching} take, a ${after.watching} take is not enough.`);
  if (after.verdict === 'undecided') missing.push(after.judgement.reasons[0] ?? 'The take after the repair is undecided.');
  const [asked, done] = [conditionOf(before), conditionOf(after)];
  if (asked !== '' && done !== asked) missing.push(`The condition that failed must be repeated: ${asked}${done === '' ? ' (none was noted after the repair)' : ` (after the repair it was ${done})`}.`);
  const lacking = provocationsOf(before).filter((own) => !provocationsOf(after).includes(own));
  if (lacking.length > 0) missing.push(`Provoke it as before: ${joinWords(lacking)}.`);
  if (before.check.limits.low !== after.check.limits.low || before.check.limits.high !== after.check.limits.high) missing.push('The limits are not those of before: repeat the check with the same ones.');
  const comparison = comparisonOf(before, after);
  if (comparison !== null && comparison.p > 1 - CLAIM_CONFIDENCE && missing.length === 0) {
    const unit = comparison.per === 'flex' ? 'flexes' : 's';
    missing.push(comparison.needed === null ? 'The dropouts of before are too few to show a difference.' : `${Math.ceil(comparison.needed)} more clean ${unit} show that it made a difference (chance of such a silence without it now ${percent(comparison.p)}).`);
  }
  return { ...row, state: missing.length === 0 ? 'proved' : 'not-yet', missing, comparison };
}

/** Dropouts over flexes where both takes counted them, else over watched seconds. */
function comparisonOf(before: TakeSummary, after: TakeSummary): ProofRow['comparison'] {
  const dropouts = before.judgement.dropouts.length;
  if (dropouts === 0) return null;
  const byFlexes = (before.account?.flexes ?? 0) > 0 && (after.account?.flexes ?? 0) > 0;
  const exposure = (take: TakeSummary): number => (byFlexes ? take.account?.flexes ?? 0 : watchedTime(take));
  const counts = [before, after].map((take): Count => ({ dropouts: take.judgement.dropouts.length, exposure: exposure(take) }));
  const [first, second] = counts as [Count, Count];
  if (!(first.exposure > 0 && second.exposure > 0)) return null;
  return { ...compareBeforeAfter(first, second), per: byFlexes ? 'flex' : 's', before: first, after: second };
}

/** Time with data in it, s; where flexing was noted, only that. */
function watchedTime(take: TakeSummary): number {
  const gaps = take.judgement.gaps.reduce((sum, gap) => sum + gap.end - gap.start, 0);
  const flexing = take.account?.flexing?.reduce((sum, stretch) => sum + stretch.end - stretch.start, 0);
  return Math.max(0, flexing ?? take.judgement.elapsed - gaps);
}

function provocationsOf(take: TakeSummary): Provocation[] {
  return [...new Set((take.account?.provocations ?? []).flatMap((own) => own.provocations))];
}

function conditionOf(take: TakeSummary): string {
  return take.account?.condition ?? '';
}

function isSameCheck(a: Check, b: Check): boolean {
  return a.kind === b.kind && a.red === b.red && a.black === b.black;
}

function latest(takes: readonly TakeSummary[]): TakeSummary | null {
  return takes.reduce<TakeSummary | null>((newest, take) => (newest === null || take.start > newest.start ? take : newest), null);
}

/** A way of watching counts for those that ask less. */
function rank(watching: Watching): number {
  return { spot: 0, wiggle: 1, road: 1 }[watching];
}

export function checkWords(check: Check): string {
  return `${check.kind.replaceAll('-', ' ')}, red on ${check.red}, black on ${check.black}`;
}

function wordsOf(state: ProofState, rows: readonly ProofRow[]): string {
  const done = rows.filter((row) => row.state === 'proved').length;
  switch (state) {
    case 'proved':
      return rows.length === 1 ? 'Proved: the check that failed passes under the condition that failed.' : `Proved: all ${rows.length} checks that failed pass under the condition that failed.`;
    case 'failed':
      return 'Not repaired: a check that failed before fails again.';
    case 'not-yet':
      return `Not yet proved: ${done} of ${rows.length} ${rows.length === 1 ? 'check' : 'checks'} shown, ${rows.flatMap((row) => row.missing)[0] ?? ''}`.trim();
  }
}

/** "3.1 %", to two figures. */
export function percent(chance: number): string {
  return `${Number((100 * chance).toPrecision(2))} %`;
}
