/**
 * What comes next. A reading that contradicts the others is made again before anything else; once something was read, the search for the fault
 * knows the check that leads to it at the least expected cost, or that it is found; while nothing is known, the list of checks goes on. Pure.
 */
import type { LiveState } from '../server/live/protocol.ts';
import type { Watching } from '../server/diagnosis/judgement.ts';
import type { SearchReading, SearchResult } from '../server/session/fault-search.ts';
import type { Check, TakeRecord } from '../server/session/session.ts';

type Now = Pick<LiveState, 'check' | 'checks' | 'watching'> & { readonly take: Pick<TakeRecord, 'id'> | null };
type Found = Pick<SearchResult, 'readings' | 'located'>;

export type NextStep =
  | {
      readonly kind: 'check';
      readonly check: Check;
      readonly watching: Watching;
      /** Why the search asks for it: what its readings would point to. Empty where the list goes on. */
      readonly why: string;
      readonly isSearched: boolean;
      /** It was made already, and its reading contradicts the others. */
      readonly isRepeat: boolean;
    }
  /** Nothing is left to measure: the place is known. `words`: the fault and where. */
  | { readonly kind: 'found'; readonly words: string };

/**
 * @param passedOver  ids of the checks that were skipped since the last result: the search does not insist on them
 * @returns null when the list holds nothing else
 */
export function nextStepOf(now: Now, search: Found | null, passedOver: readonly string[] = []): NextStep | null {
  return byDoubt(now, search, passedOver) ?? bySearch(now, search, passedOver) ?? byList(now);
}

/** The reading that goes least with the others, as long as it was not made again and no two faults explain it; with what is said of it. Null where there is none. */
export function doubtedReading({ readings, located }: Found): { readonly reading: SearchReading; readonly words: string } | null {
  const doubted = located.contradictions.find(({ isUrgent }) => isUrgent);
  const reading = doubted === undefined ? undefined : readings[doubted.reading];
  return doubted === undefined || reading === undefined || reading.isRepeated ? null : { reading, words: doubted.words };
}

function byDoubt(now: Now, search: Found | null, passedOver: readonly string[]): NextStep | null {
  const doubted = search === null ? null : doubtedReading(search);
  if (doubted === null) return null;
  const { check, watching, take } = doubted.reading;
  // At hand already: it is being repeated, or only has to be started.
  const isAtHand = check.id === now.check.id && watching === now.watching && now.take?.id !== take;
  return isAtHand || passedOver.includes(check.id) ? null : { kind: 'check', check, watching, why: doubted.words, isSearched: true, isRepeat: true };
}

function bySearch({ check, watching }: Now, search: Found | null, passedOver: readonly string[]): NextStep | null {
  if (search === null || search.readings.length === 0) return null;
  const { located } = search;
  const words = located.double?.words ?? located.faults[0]?.words;
  // A circuit that is sound as far as anyone can tell is no find: the list goes on.
  if (located.isFound && words !== undefined && (located.double !== null || located.faults[0]?.kind !== 'none')) return { kind: 'found', words };
  const next = located.next.find(({ take }) => !passedOver.includes(take.check.id) && (take.check.id !== check.id || take.watching !== watching));
  return next === undefined ? null : { kind: 'check', check: next.take.check, watching: next.take.watching, why: next.why, isSearched: true, isRepeat: false };
}

/** The check that follows the chosen one in the list, the first after the last. */
function byList({ check, checks, watching }: Now): NextStep | null {
  const at = checks.findIndex(({ id }) => id === check.id);
  const next = checks[(at + 1) % checks.length];
  return next === undefined || next.id === check.id ? null : { kind: 'check', check: next, watching, why: '', isSearched: false, isRepeat: false };
}

/** The first thing that the search says of it, short enough to be spoken: "About 1.75 V points to S3 to C2/4 (41 %)." */
export function firstReason(why: string): string {
  const [first = ''] = why.split(';');
  return first === '' || first.endsWith('.') ? first : `${first}.`;
}
