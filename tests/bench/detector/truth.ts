/** Which simulated dropouts a detector is asked for, and which alarms answer them. */
import { badDirection, depthOfInterest } from '../../../server/diagnosis/index.ts';
import type { SimulatedStream, TrueDropout } from '../../signals/index.ts';

export interface Alarm { readonly start: number; readonly end: number }

/** A dropout by the definitions: short, or deep enough; a shallow plateau is a sag, and one at a load's edge can't be told from it. */
export function isAsked(truth: TrueDropout, stream: SimulatedStream, noise: number): boolean {
  const p = stream.parameters;
  if (truth.touched === 0 || truth.end > stream.clock - 2 - 4 * p.interval) return false;
  if (p.levelOverRange) return Math.abs(p.level + truth.seen) < p.fullScale;
  if (truth.touched > 2 && Math.abs(truth.seen) < 1.02 * depthOfInterest(p.quantity, truth.level) + 3 * noise) return false;
  const near = 4 * p.interval;
  return !stream.loadEdges.some((edge) => edge > truth.start - near && edge < truth.end + near);
}

/**
 * An alarm answers a dropout when it begins with it or within it: one that was on already answers nothing. Readings may show a
 * dropout a little late, by the aperture; what lies within the merge time before may have been joined to it.
 */
export function answers(alarm: Alarm, truth: TrueDropout, stream: SimulatedStream): boolean {
  const { interval } = stream.parameters;
  const merge = Math.max(2.5 * interval, 0.1);
  return alarm.start <= truth.end + 2 * interval && alarm.start >= truth.start - merge - interval;
}

/** A level has stood for as long as a shift takes, s (definitions). */
const STOOD = 10;

/**
 * True where the loads of the stream itself took it the bad way to the depth of interest and back: by the definitions that is a dropout,
 * whatever made it. A load that went off from a level that had stood, and comes back before the one without it has, is none.
 */
function isDeepLoad(alarm: Alarm, stream: SimulatedStream): boolean {
  const p = stream.parameters;
  // Steps closer together than this can't be told apart, as in `isAsked`.
  const close = 4 * p.interval;
  const from = alarm.start - close;
  const isDown = badDirection(p.check, p.quantity, { low: null, high: null }, p.level) === 'down';
  const badly = (time: number): number => (isDown ? -1 : 1) * stream.loadAt(time);
  const lasts = alarm.end - alarm.start > 2.5 * p.interval;
  // Nor can two loads that switch so close together.
  const hadStood = (time: number): boolean => !stream.loadEdges.some((edge) => edge > time - STOOD && edge < time + close && edge !== time);
  const isAlone = (time: number): boolean => !stream.loadEdges.some((edge) => Math.abs(edge - time) < close && edge !== time);
  const returning = isDown || !lasts ? [] : stream.loads.filter((load) => (
    load.start < from && load.end >= from && load.end <= alarm.end && load.end - load.start < STOOD - close && hadStood(load.start) && isAlone(load.end)
  ));
  const risen = (time: number): number => badly(time) - badly(from) - returning.reduce((sum, load) => (load.end <= time ? sum - load.depth : sum), 0);
  const times = [...stream.loadEdges.filter((edge) => edge >= from && edge <= alarm.end), alarm.end];
  return Math.max(...times.map(risen)) >= depthOfInterest(p.quantity, p.level + stream.loadAt(from));
}

/** Alarms that answer no dropout at all, asked for or not. */
export function countFalse(alarms: readonly Alarm[], stream: SimulatedStream): number {
  let count = 0;
  let from = 0;
  const truths = stream.dropouts;
  for (const alarm of alarms) {
    // Both lists rise in time; a dropout lasts seconds, so a look back of a minute is ample.
    while (from < truths.length && (truths[from] as TrueDropout).end < alarm.start - 60) from++;
    let isFalse = true;
    for (let i = from; i < truths.length && (truths[i] as TrueDropout).start < alarm.end + 60; i++) {
      if (answers(alarm, truths[i] as TrueDropout, stream)) { isFalse = false; break; }
    }
    if (isFalse && !isDeepLoad(alarm, stream)) count++;
  }
  return count;
}
