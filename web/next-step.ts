/**
 * What comes next. Once something was read, the search for the fault knows the check that leads to it at the least expected cost, or that it is
 * found; while nothing is known, the list of checks goes on. Pure.
 */
import type { LiveState } from '../server/live/protocol.ts';
import type { Watching } from '../server/diagnosis/judgement.ts';
import type { SearchResult } from '../server/session/fault-search.ts';
import type { Check } from '../server/session/session.ts';

export type NextStep =
  | {
      readonly kind: 'check';
      readonly check: Check;
      readonly watching: Watching;
      /** Why the search asks for it: what its readings would point to. Empty where the list goes on. */
      readonly why: string;
      readonly isSearched: boolean;
    }
  /** Nothing is left to measure: the place is known. `words`: the fault and where. */
  | { readonly kind: 'found'; readonly words: string };

/**
 * @param passedOver  ids of the checks that were skipped since the last result: the search does not insist on them
 * @returns null when the list holds nothing else
 */
export function nextStepOf(now: Pick<LiveState, 'check' | 'checks' | 'watching'>, search: Pick<SearchResult, 'readings' | 'located'> | null, passedOver: readonly string[] = []): NextStep | null {
  return bySearch(now, search, passedOver) ?? byList(now);
}

function bySearch({ check, watching }: Pick<LiveState, 'check' | 'watching'>, search: Pick<SearchResult, 'readings' | 'located'> | null, passedOver: readonly string[]): NextStep | null {
  if (search === null || search.readings.length === 0) return null;
  const { located } = search;
  const words = located.double?.words ?? located.faults[0]?.words;
  // A circuit that is sound as far as anyone can tell is no find: the list goes on.
  if (located.isFound && words !== undefined && (located.double !== null || located.faults[0]?.kind !== 'none')) return { kind: 'found', words };
  const next = located.next.find(({ take }) => !passedOver.includes(take.check.id) && (take.check.id !== check.id || take.watching !== watching));
  return next === undefined ? null : { kind: 'check', check: next.take.check, watching: next.take.watching, why: next.why, isSearched: true };
}

/** The check that follows the chosen one in the list, the first after the last. */
function byList({ check, checks, watching }: Pick<LiveState, 'check' | 'checks' | 'watching'>): NextStep | null {
  const at = checks.findIndex(({ id }) => id === check.id);
  const next = checks[(at + 1) % checks.length];
  return next === undefined || next.id === check.id ? null : { kind: 'check', check: next, watching, why: '', isSearched: false };
}

/** The first thing that the search says of it, short enough to be spoken: "About 1.75 V points to S3 to C2/4 (41 %)." */
export function firstReason(why: string): string {
  const [first = ''] = why.split(';');
  return first === '' || first.endsWith('.') ? first : `${first}.`;
}
