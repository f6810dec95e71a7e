/**
 * Diagnosis: what the samples of a take prove. Pure: no clock, file, socket or page; time comes in with the samples.
 * Imports nothing but the Reading type of the drivers and ml-matrix. Read take-judge.ts first, then detector.ts.
 */
export { ALGORITHM, judgeAll, TakeJudge } from './take-judge.ts';
export { CHECK_KINDS, WATCHINGS } from './judgement.ts';
export { badDirection, depthOfInterest, expectedQuantities, isShortCheck } from './check-traits.ts';
export type {
  Accuracy, CheckKind, Claim, Dropout, DurationEstimate, Exposure, Gap, JudgeSetup, Judgement, LevelVerdict, Limits, Sag, Shift, SteadyReading,
  Verdict, Watching,
} from './judgement.ts';
export { sayTime, sayTimes, sayValue } from './wording.ts';
export type { SampleColumns } from './samples.ts';
export type { BadDirection } from './check-traits.ts';
