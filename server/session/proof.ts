/**
 * Whether a repair is proved: the checks that failed before are made again, in the same way, under the condition that failed, and before
 * is held against after. Anything less is "not yet proved", with what is missing. Pure.
 *
 * Repairs cut the session into stretches. A check that dropped out in one stays bad in it whatever a later take reads: an intermittent comes
 * and goes by itself. Only another repair, and a proof after it, ends that.
 */
import { compareBeforeAfter, SIGNIFICANT } from '../diagnosis/claims.ts';
import type { Comparison, Count } from '../diagnosis/claims.ts';
import { dropoutsIn } from '../diagnosis/judgement.ts';
import type { Claim, Watching } from '../diagnosis/judgement.ts';
import { defaultClaim } from '../diagnosis/silence.ts';
import { joinWords, tidyBeside } from '../diagnosis/wording.ts';
import type { Repair, SetAside } from './repair.ts';
import { isSameCheck, type Check, type TakeSummary } from './session.ts';
import type { Provocation } from './take-account.ts';

/** One check, before and after. */
export interface ProofRow {
  readonly check: Check;
  readonly watching: Watching;
  readonly before: TakeSummary;
  /** The take after the repair that decides: a bad one, else the newest that is as hard; null while there is none. */
  readonly after: TakeSummary | null;
  readonly state: ProofState;
  /** Sentences: what is still missing, or what speaks against it. */
  readonly missing: readonly string[];
  /** Dropouts before against after, over all takes of the same kind and condition; null where there were none before. */
  readonly comparison: (Comparison & { readonly per: 'flex' | 's'; readonly before: Count; readonly after: Count }) | null;
}

export type ProofState = 'proved' | 'not-yet' | 'failed';

export interface Proof {
  /** Null: none is noted. */
  readonly repair: Repair | null;
  /** `none`: no repair is noted, or nothing had failed before it. */
  readonly state: ProofState | 'none';
  readonly words: string;
  readonly rows: readonly ProofRow[];
  /** Takes of checks that fail now and had not failed before. */
  readonly fresh: readonly TakeSummary[];
  /** Checks that would be among these but were set aside, each with the take that failed. */
  readonly aside: readonly { readonly take: TakeSummary; readonly reason: string }[];
}

const NONE: Proof = { repair: null, state: 'none', words: 'No repair is noted yet.', rows: [], fresh: [], aside: [] };

/**
 * The proof of the last repair.
 * @param takes  ended takes of the session, in any order
 * @param repairs  in order
 * @param aside  checks that failed for another reason
 */
export function proofOf(takes: readonly TakeSummary[], repairs: readonly Repair[], aside: readonly SetAside[] = []): Proof {
  return proofsOf(takes, repairs, aside).at(-1) ?? NONE;
}

/** The proof of each repair, as it stood when the next one was made. */
export function proofsOf(takes: readonly TakeSummary[], repairs: readonly Repair[], aside: readonly SetAside[] = []): Proof[] {
  const stretches = [...repairs, null].map((_, order) => {
    const [from, to] = [repairs[order - 1]?.at ?? -Infinity, repairs[order]?.at ?? Infinity];
    return takes.filter(({ start }) => start >= from && start < to).sort((left, right) => left.start - right.start);
  });
  const proofs: Proof[] = [];
  let open = badTakes(stretches[0] ?? []);
  for (const [order, repair] of repairs.entries()) {
    const after = stretches[order + 1] ?? [];
    const bad = badTakes(after);
    const rows = open.map((take) => rowOf(take, stretches.find((own) => own.includes(take)) ?? [], after, bad.find((own) => isSameCheck(own.check, take.check)) ?? null));
    const fresh = bad.filter((take) => !open.some((own) => isSameCheck(own.check, take.check)));
    const until = repairs[order + 1]?.at ?? Infinity;
    const excuseOf = (take: TakeSummary): SetAside | undefined => aside.findLast(({ check, at }) => at < until && take.start <= at && isSameCheck(check, take.check));
    const excused = [...rows.filter((row) => row.state !== 'proved').map(badTakeOf), ...fresh].flatMap((take) => {
      const excuse = excuseOf(take);
      return excuse === undefined ? [] : [{ take, reason: excuse.reason }];
    });
    const counts = (take: TakeSummary): boolean => !excused.some((own) => own.take === take);
    proofs.push(proofFrom(repair, rows.filter((row) => counts(badTakeOf(row))), fresh.filter(counts), excused));
    open = [...rows.filter((row) => row.state !== 'proved').map(badTakeOf), ...fresh];
  }
  return proofs;
}

/** The take of a check that speaks against the circuit as it is now. */
function badTakeOf({ state, before, after }: ProofRow): TakeSummary {
  return state === 'failed' ? after ?? before : before;
}

function proofFrom(repair: Repair, rows: readonly ProofRow[], fresh: readonly TakeSummary[], aside: Proof['aside']): Proof {
  if (rows.length === 0 && fresh.length === 0) {
    const words = aside.length === 0 ? 'No check had failed before the repair, so none can show that it helped.' : `Nothing can show that the repair helped: every check that failed is set aside. ${asideWords(aside)}`;
    return { repair, state: 'none', words, rows, fresh, aside };
  }
  const state = fresh.length > 0 || rows.some((row) => row.state === 'failed') ? 'failed' : rows.every((row) => row.state === 'proved') ? 'proved' : 'not-yet';
  return { repair, state, words: [wordsOf(state, rows, fresh), ...(aside.length === 0 ? [] : [asideWords(aside)])].join(' '), rows, fresh, aside };
}

/**
 * Of one stretch, the newest bad take of each check. A steady failure is undone by a later take that passes as hard (a lead that slipped);
 * dropouts are not. Where a check failed both held by hand and with the leads fixed, the harder one stands for both.
 * @param takes  in order
 */
function badTakes(takes: readonly TakeSummary[]): TakeSummary[] {
  const bad: TakeSummary[] = [];
  for (const take of takes) {
    if (take.verdict === 'undecided') continue;
    const known = bad.findIndex((own) => isSameCheck(own.check, take.check) && isAsHard(take.watching, own.watching));
    const isCleared = take.verdict === 'pass' && known >= 0 && bad[known]?.verdict === 'fail';
    if (take.verdict === 'pass' && !isCleared) continue;
    if (known >= 0) bad.splice(known, 1);
    const isCovered = bad.some((own) => isSameCheck(own.check, take.check) && isAsHard(own.watching, take.watching));
    if (take.verdict !== 'pass' && !isCovered) bad.push(take);
  }
  return bad;
}

/** @param stretch  in which the bad take lies @param after  takes since the repair, in order @param bad  the one of them that is bad, if any */
function rowOf(before: TakeSummary, stretch: readonly TakeSummary[], after: readonly TakeSummary[], bad: TakeSummary | null): ProofRow {
  const { check, watching } = before;
  const repeated = after.filter((own) => isSameCheck(own.check, check));
  const decisive = bad ?? repeated.findLast((own) => isAsHard(own.watching, watching)) ?? repeated.at(-1) ?? null;
  const row = { check, watching, before, after: decisive };
  if (decisive === null) return { ...row, state: 'not-yet', missing: [`Repeat "${checkWords(check)}" as a ${watching} take.`], comparison: null };
  const comparison = comparisonOf(pool(stretch, before), pool(repeated, decisive));
  if (decisive.verdict === 'fail' || decisive.verdict === 'intermittent') {
    return { ...row, state: 'failed', missing: [`"${checkWords(check)}" still ${decisive.verdict === 'fail' ? 'fails' : 'drops out'}: ${decisive.judgement.reasons[0] ?? ''}`.trim()], comparison };
  }
  const missing = differences(before, decisive);
  if (comparison !== null && comparison.p > SIGNIFICANT && missing.length === 0) {
    const unit = comparison.per === 'flex' ? 'flexes' : 'seconds';
    missing.push(comparison.needed === null ? 'The dropouts of before are too few to show a difference.' : `${Math.ceil(comparison.needed)} more clean ${unit} show that it made a difference (chance of such a silence without it now ${percent(comparison.p)}).`);
  }
  return { ...row, state: missing.length === 0 ? 'proved' : 'not-yet', missing, comparison };
}

/** In what the repeated take is not the one that failed. */
function differences(before: TakeSummary, after: TakeSummary): string[] {
  const missing: string[] = [];
  if (!isAsHard(after.watching, before.watching)) missing.push(`It failed in a ${before.watching} take: repeat it as a ${before.watching} take, a ${after.watching} take is not enough.`);
  if (after.verdict === 'undecided') missing.push(after.judgement.reasons[0] ?? 'The take after the repair is undecided.');
  const [asked, done] = [conditionOf(before), conditionOf(after)];
  if (asked !== '' && done !== asked) missing.push(`The condition that failed must be repeated: ${asked}${done === '' ? ' (none was noted after the repair)' : ` (after the repair it was ${done})`}.`);
  const lacking = provocationsOf(before).filter((own) => !provocationsOf(after).includes(own));
  if (lacking.length > 0) missing.push(`Provoke it as before: ${joinWords(lacking)}.`);
  const unflexed = zonesOf(before).filter((own) => !zonesOf(after).includes(own));
  if (unflexed.length > 0) missing.push(`Flex where it dropped out before: ${joinWords(unflexed)}.`);
  if (before.check.limits.low !== after.check.limits.low || before.check.limits.high !== after.check.limits.high) missing.push('The limits are not those of before: repeat the check with the same ones.');
  if (asksLess(after, before)) missing.push('It asks less of a clean take than before: repeat it with the same claim.');
  return missing;
}

/** Takes that count together: same check, way of watching and condition, and dropouts that can be those of the circuit. */
function pool(takes: readonly TakeSummary[], like: TakeSummary): TakeSummary[] {
  const isAlike = (take: TakeSummary): boolean =>
    take.watching === like.watching && isSameCheck(take.check, like.check) && conditionOf(take) === conditionOf(like)
    && provocationsOf(like).every((own) => provocationsOf(take).includes(own))
    && zonesOf(like).every((own) => zonesOf(take).includes(own))
    && (take.verdict !== 'undecided' || dropoutsIn(take.judgement) === 0);
  return takes.filter((take) => take === like || isAlike(take));
}

/** Dropouts over flexes where all takes counted them, else over watched seconds; where zones were named, over the time in those that dropped out. */
function comparisonOf(before: readonly TakeSummary[], after: readonly TakeSummary[]): ProofRow['comparison'] {
  const struck = [...new Set(before.flatMap((take) => (dropoutsIn(take.judgement) > 0 ? zonesOf(take) : [])))];
  const byFlexes = struck.length === 0 && [...before, ...after].every((take) => (take.account?.flexes ?? 0) > 0);
  const countOf = (takes: readonly TakeSummary[]): Count => ({
    dropouts: takes.reduce((sum, take) => sum + dropoutsIn(take.judgement), 0),
    exposure: takes.reduce((sum, take) => sum + (byFlexes ? take.account?.flexes ?? 0 : watchedTime(take, struck)), 0),
  });
  const [first, second] = [countOf(before), countOf(after)];
  if (first.dropouts === 0 || !(first.exposure > 0 && second.exposure > 0)) return null;
  return { ...compareBeforeAfter(first, second), per: byFlexes ? 'flex' : 's', before: first, after: second };
}


/** Time with data in it, s; where flexing was noted, only that, and only in `zones` unless that is empty. */
function watchedTime({ start, end, account, judgement }: TakeSummary, zones: readonly string[]): number {
  const until = end ?? start + judgement.elapsed;
  const changes = account?.zoneChanges ?? [];
  const flexed = changes.flatMap(({ at, zone }, order) =>
    zone === null || (zones.length > 0 && !zones.includes(zone)) ? [] : [{ start: at, end: Math.max(at, changes[order + 1]?.at ?? until) }]);
  const watched = changes.length > 0 ? flexed : account?.flexing ?? [{ start, end: start + judgement.elapsed }];
  return watched.reduce((sum, stretch) => sum + stretch.end - stretch.start - judgement.gaps.reduce((lost, gap) => lost + Math.max(0, Math.min(gap.end, stretch.end) - Math.max(gap.start, stretch.start)), 0), 0);
}

function provocationsOf(take: TakeSummary): Provocation[] {
  return [...new Set((take.account?.provocations ?? []).flatMap((own) => own.provocations))];
}

/** Zones in which it dropped out, where zones were named; all that were flexed when it did not drop out. */
function zonesOf({ account, judgement }: TakeSummary): string[] {
  const changes = account?.zoneChanges ?? [];
  const flexed = changes.flatMap(({ zone }) => (zone === null ? [] : [zone]));
  const struck = judgement.dropouts.flatMap(({ start }) => changes.findLast(({ at }) => at <= start)?.zone ?? []);
  return [...new Set(judgement.dropouts.length > 0 ? struck : flexed)];
}

function conditionOf(take: TakeSummary): string {
  return take.account?.condition ?? '';
}

/** Leads fixed is harder than held by hand; wiggling and driving can't stand for one another. */
function isAsHard(watching: Watching, asked: Watching): boolean {
  return asked === 'spot' || watching === asked;
}

/** Where none was chosen, the usual one counts. */
function asksLess(after: TakeSummary, before: TakeSummary): boolean {
  const claimOf = ({ claim, watching, account }: TakeSummary): Claim => claim ?? defaultClaim(watching === 'road' ? 'road' : 'wiggle', (account?.flexes ?? 0) > 0);
  if (before.watching === 'spot' || (after.claim === undefined && before.claim === undefined)) return false;
  const [claim, asked] = [claimOf(after), claimOf(before)];
  return claim.per !== asked.per || claim.rate > asked.rate || claim.length > asked.length;
}

export function checkWords(check: Check): string {
  return `${check.kind.replaceAll('-', ' ')}, red on ${check.red}, black on ${check.black}`;
}

function asideWords(aside: Proof['aside']): string {
  return `Set aside as failing for another reason: ${aside.map(({ take: { check }, reason }) => `"${checkWords(check)}" (${reason})`).join('; ')}.`;
}

function wordsOf(state: ProofState, rows: readonly ProofRow[], fresh: readonly TakeSummary[]): string {
  const done = rows.filter((row) => row.state === 'proved').length;
  switch (state) {
    case 'proved':
      return rows.length === 1 ? 'Proved: the check that failed passes under the condition that failed.' : `Proved: ${rows.length === 2 ? 'both' : `all ${rows.length}`} checks that failed pass under the condition that failed.`;
    case 'failed':
      return fresh[0] !== undefined && rows.every((row) => row.state !== 'failed')
        ? `Not in order: "${checkWords(fresh[0].check)}" fails now, and had not failed before the repair.`
        : 'Not repaired: a check that failed before fails again.';
    case 'not-yet':
      return `Not yet proved: ${done} of ${rows.length} ${rows.length === 1 ? 'check' : 'checks'} shown. ${rows.flatMap((row) => row.missing)[0] ?? ''}`.trim();
  }
}

/** "3.1 %", to two figures; more where it would read like the bound of a proof without being it. */
export function percent(chance: number): string {
  const figures = Number((100 * chance).toPrecision(2));
  return chance < 1e-4 ? 'under 0.01 %' : `${figures === 100 * SIGNIFICANT ? tidyBeside(100 * SIGNIFICANT, 100 * chance) : figures} %`;
}
