/** A take with dropouts that are known, through the whole judge: how many it catches, and what it says that it would have. */
import type { ChanceRange } from '../../server/diagnosis/coarse-sight.ts';
import { Detector } from '../../server/diagnosis/detector.ts';
import { TakeJudge } from '../../server/diagnosis/index.ts';
import type { JudgeSetup, SampleColumns } from '../../server/diagnosis/index.ts';

/**
 * @param starts  where dropouts of `length` s begin, s, ascending
 * @returns `said`: the chance that the take states for that length, NaN where it states none; `caught`: the share of them that was found, within 1.5 intervals
 */
export function caughtIn(samples: SampleColumns, starts: readonly number[], of: JudgeSetup & { interval: number }, length: number): { said: ChanceRange; caught: number } {
  const judge = new TakeJudge(of);
  judge.push(samples);
  // The dropouts without their lengths, which take their time.
  const detector = new Detector(of);
  detector.push(samples);
  const found = detector.dropouts();
  let at = 0;
  const caught = starts.filter((start) => {
    while ((found[at]?.end ?? Infinity) < start - 1.5 * of.interval) at++;
    return (found[at]?.start ?? Infinity) < start + length + 1.5 * of.interval;
  });
  return { said: judge.caught(length) ?? { low: Number.NaN, high: Number.NaN }, caught: caught.length / starts.length };
}
