/** Pacing of a wiggle take: which zone to flex now, and until when. Pure: the caller brings the time (s on the session clock). */

export interface Pace {
  /** Zone to flex now. */
  readonly zone: string;
  /** When it is the next one's turn. */
  readonly until: number;
}

/** Time in each zone, s (common practice, no source). */
export const PACE_TIME = 20;

/**
 * The step of the plan that holds at `now`. Zones are flexed for equal times, in order along the harness; where the evidence asks for
 * one of them (the least flexed of those still in question), that one comes next.
 * @param zones  in order along the harness
 * @param seconds  time in each zone, s
 * @param current  the step before, null at the beginning
 * @param wanted  the zone that the evidence asks for, or null
 * @returns the same step while its time lasts; null without zones
 */
export function paceZones(zones: readonly string[], seconds: number, current: Pace | null, now: number, wanted: string | null): Pace | null {
  if (zones.length === 0) return null;
  if (current !== null && now < current.until && zones.includes(current.zone)) return current;
  const following = zones[(zones.indexOf(current?.zone ?? '') + 1) % zones.length] as string;
  const zone = wanted !== null && wanted !== current?.zone && zones.includes(wanted) ? wanted : following;
  return { zone, until: now + seconds };
}

/** "Zone 3, over the gantry hinge: flex for 20 s." */
export function sayPace(zones: readonly string[], { zone }: Pace, seconds: number): string {
  return `Zone ${zones.indexOf(zone) + 1}, ${zone}: flex for ${seconds} s.`;
}
