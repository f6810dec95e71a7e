/**
 * Wall time of a session that is gone on with. Its clock never falls and never starts again: it leaps over the pause, so that
 * all takes lie on one axis. Wall time is stored once for each stretch, at its beginning. Pure.
 */
import type { SessionInfo } from './session.ts';

/** Least step of the clock from one stretch to the next, s: no take of the one touches a take of the other. */
const LEAST_PAUSE = 1;
/** A pause longer than this is a clock that was wrong before or is wrong now, s: ten years. */
const LONGEST_PAUSE = 10 * 365.25 * 86_400;

/** @param at  session clock, s @returns microseconds since 1970-01-01 UTC */
export function wallTimeUs({ startedAtUs, stretches = [] }: Pick<SessionInfo, 'startedAtUs' | 'stretches'>, at: number): number {
  const stretch = stretches.findLast((own) => own.at <= at);
  return stretch === undefined ? startedAtUs + at * 1e6 : stretch.startedAtUs + (at - stretch.at) * 1e6;
}

/**
 * The session with a stretch that begins now. Its clock leaps by the pause as the wall clock has it; where that was set back, or is
 * plainly wrong, by a second.
 * @param newest  session clock, s, of the latest of anything in it
 * @param nowUs  microseconds since 1970-01-01 UTC
 */
export function withStretch(info: SessionInfo, newest: number, nowUs: number): { readonly info: SessionInfo; readonly at: number } {
  const pause = (nowUs - wallTimeUs(info, newest)) / 1e6;
  const at = Math.ceil(newest + (pause >= LEAST_PAUSE && pause <= LONGEST_PAUSE ? pause : LEAST_PAUSE));
  return { info: { ...info, stretches: [...(info.stretches ?? []), { at, startedAtUs: nowUs }] }, at };
}
