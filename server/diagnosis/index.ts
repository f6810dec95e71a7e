/**
 * Diagnosis: what the samples of a take prove. Pure: no clock, file, socket or page; time comes in with the samples.
 * Imports nothing but the Reading type of the drivers and ml-matrix. Read take-judge.ts first, then detector.ts.
 */
export { ALGORITHM, ALGORITHM_CHANGES } from './algorithm.ts';
export { judgeAll, TakeJudge } from './take-judge.ts';
export { CHECK_KINDS, WATCHINGS } from './judgement.ts';
export { badDirection, depthOfInterest, expectedQuantities, isShortCheck } from './check-traits.ts';
export type {
  Accuracy, CheckKind, CheckLoad, Claim, ClaimMade, Dropout, DurationEstimate, Exposure, Gap, JudgeSetup, Judgement, LevelDoubt, LevelVerdict, Limits, RangeAccuracy, Sag, Shift, SteadyReading,
  Verdict, Watching,
} from './judgement.ts';
export { sayLimit, sayShare, sayTime, sayTimes, sayValue } from './wording.ts';
export { TOLD_LENGTHS } from './sight.ts';
export type { Sight, VisibleSeries } from './sight.ts';
export type { SampleColumns } from './samples.ts';
export type { BadDirection } from './check-traits.ts';
export { claimStanding, compareBeforeAfter, perFlexUpperLimit, rateLimitPerHour } from './claims.ts';
export { accuracyAt } from './range-accuracy.ts';
export { guardedLevelVerdict, measurementUncertainty } from './accuracy.ts';
export { catchChance, lengthCaughtWith, shortestVisibleDropout, smallestVisibleSeriesOhms, sureDropout } from './visibility.ts';
export { findSourceZone } from './zones.ts';
export { associate, associateMarks, associateMotion } from './road.ts';
export { sayMarkAssociation } from './road-words.ts';
export { findBreak } from './coincidence.ts';
export { measureAperture } from './aperture.ts';
export { findTapEdges } from './tap-edges.ts';
export type { ClaimStanding, Comparison, Count } from './claims.ts';
export type { LevelDecision, Measured, Remedy, Uncertainty } from './accuracy.ts';
export type { MeterView } from './visibility.ts';
export type { ReactionLag, WiggleRecord, ZoneChange, ZoneFinding, ZoneReport } from './zones.ts';
export type { Association, MarkAssociation, Motion, RoadOptions, Stretch } from './road.ts';
export type { BreakPlace, Chain, Coincidence, CoincidenceReport, WatchingMeter } from './coincidence.ts';
export type { Edge, MeasuredAperture } from './aperture.ts';
export type { TapEdges } from './tap-edges.ts';
