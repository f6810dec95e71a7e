/** All that belongs to one session: its file and its desks, opened together and left together. */
import type { Judgement, Watching } from '../diagnosis/judgement.ts';
import type { LiveLocation } from '../live/protocol.ts';
import type { Recorder } from '../recordings/index.ts';
import type { SessionSoFar } from '../session/live-session.ts';
import type { BesideLeads, Check, MeterRecord } from '../session/session.ts';
import { BatteryDesk } from './battery-desk.ts';
import { BesideDesk } from './beside-desk.ts';
import { HarnessDesk } from './harness-desk.ts';
import type { Hands } from './harness-desk.ts';
import { LocateDesk } from './locate-desk.ts';
import type { LocateThread } from './locate-thread.ts';
import type { PaperDesk } from './paper-desk.ts';
import { RepairDesk } from './repair-desk.ts';
import { RoadDesk } from './road-desk.ts';
import { SessionFile } from './session-file.ts';
import { TakeDesk } from './take-desk.ts';

export interface SessionDesks {
  readonly file: SessionFile;
  readonly take: TakeDesk;
  readonly paper: PaperDesk;
  readonly repair: RepairDesk;
  readonly harness: HarnessDesk;
  readonly battery: BatteryDesk;
  readonly beside: BesideDesk;
  readonly road: RoadDesk;
  readonly locate: LocateDesk;
}

/** What desks need of what outlasts a session. */
export interface DeskParts {
  readonly recorder: Recorder;
  /** Session clock, s. */
  readonly now: () => number;
  /** All that the session has or had. */
  readonly meters: () => readonly MeterRecord[];
  /** Index of the meter that the next take is judged by. */
  readonly judgedMeter: () => number;
  readonly onHands: (hands: Hands) => void;
  /** Where the leads of further meters go (a simulation follows). */
  readonly onBeside: (leads: readonly BesideLeads[]) => void;
  readonly onJudged: (take: number, judgement: Judgement) => void;
  /** At once, before anything is judged: it has left its level and returned once more. */
  readonly onDeparture: (take: number, departures: number) => void;
  readonly locateThread: LocateThread;
  readonly onLocated: (location: LiveLocation) => void;
}

/** What a session begins with, or goes on with. */
export interface Beginning {
  /** Null: the first that is offered. */
  readonly check: Check | null;
  readonly watching: Watching;
  /** Index of the meter across the battery; null for none. */
  readonly reference?: number | null;
  readonly leads?: readonly BesideLeads[];
  readonly soFar?: SessionSoFar;
}

/** @param papersFor  description, chart and the like, to be kept in this file @param beginAgain  a new take like the running one, which is ended */
export function openDesks(parts: DeskParts, papersFor: (file: SessionFile) => PaperDesk, beginning: Beginning, beginAgain: () => void): SessionDesks {
  const { recorder, now, onJudged, onDeparture, onHands, onBeside, onLocated, meters, judgedMeter, locateThread: thread } = parts;
  const { check, watching, reference = null, leads = [], soFar } = beginning;
  const meter = (index: number): MeterRecord | undefined => meters().find((own) => own.index === index);
  const file = new SessionFile(recorder);
  const paper = papersFor(file);
  const take = new TakeDesk({ recorder, now, onJudged, onDeparture, onCaptured: () => locate.changed() }, check ?? paper.checks()[0]!, watching, soFar);
  const harness = new HarnessDesk({ desk: take, chart: () => paper.chart, onHands, beginAgain });
  const battery = new BatteryDesk({ desk: take, paper, meter, judgedMeter }, reference);
  const beside = new BesideDesk({ desk: take, paper, meter, judgedMeter, onChanged: onBeside }, leads);
  const locate = new LocateDesk({ desk: take, paper, thread, meters, onLocated });
  return { file, paper, take, repair: new RepairDesk(file, paper.papers, take), harness, battery, beside, road: new RoadDesk(), locate };
}
