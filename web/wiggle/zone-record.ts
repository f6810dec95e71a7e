/** The zones of a wiggle take as its marks tell them. Pure. */
import { findSourceZone, type WiggleRecord, type ZoneReport } from '../../server/diagnosis/zones.ts';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import type { MarkRecord } from '../../server/session/session.ts';

/** Zone that is flexed now, as marked last; null for none. */
export function zoneNow(marks: readonly MarkRecord[]): string | null {
  return marks.findLast((mark) => mark.kind === 'zone')?.text || null;
}

/** How the circuit is provoked now, as marked last; null for never said. */
export function provocationNow(marks: readonly MarkRecord[]): string | null {
  return marks.findLast((mark) => mark.kind === 'provocation')?.text ?? null;
}

/**
 * @param named  zones in order along the harness; those that only the marks name are put at the end
 * @param end  session clock, s
 */
export function wiggleRecord(named: readonly string[], marks: readonly MarkRecord[], judgement: Judgement, end: number): WiggleRecord {
  const changes = marks.filter((mark) => mark.kind === 'zone').map((mark) => ({ at: mark.at, zone: mark.text === '' ? null : mark.text }));
  const zones = [...new Set([...named, ...changes.flatMap(({ zone }) => (zone === null ? [] : [zone]))])];
  return { zones, changes, dropouts: judgement.dropouts.map((dropout) => dropout.start), end, gaps: judgement.gaps };
}

/** What the take says about the zones; null while none has been flexed. */
export function zoneReport(record: WiggleRecord): ZoneReport | null {
  return record.zones.length === 0 || record.changes.length === 0 ? null : findSourceZone(record);
}
