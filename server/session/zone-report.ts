/** What the dropouts of a wiggle take say about its zones: the same live, from the file and on the review screen. Pure. */
import type { Judgement } from '../diagnosis/judgement.ts';
import { findSourceZone } from '../diagnosis/zones.ts';
import type { ZoneReport } from '../diagnosis/zones.ts';
import { isWhileProving } from './rig.ts';
import type { TakeRecord } from './session.ts';
import type { TakeAccount } from './take-account.ts';

/**
 * Dropouts while only the leads were tugged say nothing about a zone.
 * @param end  of the take or of what is known of it, session clock, s
 * @returns null where no zone was flexed
 */
export function zoneReport(take: Pick<TakeRecord, 'watching' | 'zones'>, account: TakeAccount, { dropouts, gaps }: Pick<Judgement, 'dropouts' | 'gaps'>, end: number): ZoneReport | null {
  const named = account.zoneChanges.flatMap(({ zone }) => (zone === null ? [] : [zone]));
  if (take.watching !== 'wiggle' || named.length === 0) return null;
  const counted = dropouts.map(({ start }) => start).filter((at) => !isWhileProving(account, at));
  return findSourceZone({ zones: [...new Set([...(take.zones ?? []), ...named])], changes: account.zoneChanges, dropouts: counted, end, gaps });
}
