/**
 * The session: chart, checks, takes and what the operator does in them, as data and rules. Pure: no clock, file, socket or page; times
 * come in with the data. May import diagnosis, the Reading type of the drivers and zod. Read session.ts first (the records), then
 * take-watch.ts (how a take is judged, live and from its file) and checks.ts (what is offered for a chart).
 */
export { hasSourceMoved, sayBeforeAfter } from './battery-reference.ts';
export { cautionOf, cautionsFor, refusalOf } from './cautions.ts';
export { readChart, problemText } from './chart-validation.ts';
export { SampleClock } from './clock.ts';
export { zonesAlong } from './harness-zones.ts';
export { judgeSetup, LiveSession } from './live-session.ts';
export { offeredChecks } from './offered-checks.ts';
export { PACE_TIME, paceZones, sayPace } from './pacing.ts';
export { SessionPapers } from './papers.ts';
export { Plausibility, WARNING_CODES } from './plausibility.ts';
export { Revised } from './revised.ts';
export { rigStanding } from './rig.ts';
export { channelRecord, channelSamples, ROAD_CHANNELS } from './road-channels.ts';
export { roadReport } from './road-report.ts';
export { MARK_KINDS } from './session.ts';
export { accountOf, exposureOf, PROOF_TIME, PROVOCATIONS, zoneNow } from './take-account.ts';
export { TakeWatch } from './take-watch.ts';
export { WiggleGuide } from './wiggle-guide.ts';

export type { BatteryReading, SourceStanding } from './battery-reference.ts';
export type { Caution, CautionSituation, Refusal } from './cautions.ts';
export type { Chart, ChartCircuit, ChartComponent, ChartPoint, ChartSpan } from './chart.ts';
export type { TakeAim } from './live-session.ts';
export type { Pace } from './pacing.ts';
export type { Acknowledged, Description, Reseat } from './papers.ts';
export type { ReadingWarning, WarningCode } from './plausibility.ts';
export type { RigStanding } from './rig.ts';
export type { RoadChannel } from './road-channels.ts';
export type { RoadReport, RoadStretch } from './road-report.ts';
export type {
  Check, Loss, MarkKind, MarkRecord, MeterRecord, SampleBatch, SessionContents, SessionInfo, SessionListing, TakeRecord, TakeSummary,
} from './session.ts';
export type { Provocation, RigProof, TakeAccount } from './take-account.ts';
export type { TakeView } from './take-watch.ts';
