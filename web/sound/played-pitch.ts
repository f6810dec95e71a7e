/** What a recorded take sounds like at one moment of its playback. Pure. */
import { Flag } from '../../drivers/reading.ts';
import type { TakeSummary } from '../../server/session/session.ts';
import { judgedQuantity } from '../check-words.ts';
import { firstFrom, type Series } from '../trace/columns.ts';
import { typicalSpacing } from '../trace/trace-buffer.ts';
import { HIGHEST_HZ, pitchOf } from './pitch.ts';

/** After the last sample the tone goes on for this many intervals. */
const SILENT_INTERVALS = 3;

/**
 * @param samples  all of the part that is seen, or extremes of it: those may lie many intervals apart and still be joined
 * @param at  session clock, s
 * @returns Hz; null where nothing is heard: in a gap, where the display was blank, before and after the samples
 */
export function playedPitch({ judgement, check }: Pick<TakeSummary, 'judgement' | 'check'>, samples: Series, at: number): number | null {
  const next = firstFrom(samples.time, samples.length, at);
  const before = next - 1;
  if (before < 0) return null;
  const spacing = Math.max(judgement.interval ?? 0.5, typicalSpacing(samples.time, samples.length) ?? 0);
  const isSilent = next < samples.length ? samples.breakBefore[next] === 1 : at - samples.time[before]! > SILENT_INTERVALS * spacing;
  if (isSilent) return null;
  const flags = samples.flags[before]!;
  if ((flags & Flag.overRange) !== 0) return HIGHEST_HZ;
  return (flags & Flag.blank) !== 0 ? null : pitchOf(judgedQuantity(judgement, check), samples.value[before]!, check.supply);
}
