/**
 * Conducts the session: takes started and ended as asked for, samples tagged, judged and recorded. Knows no meters and no
 * sockets; the wiring hands it dated readings and takes away what is to be shown. What a take is worth is decided in
 * session/take-watch.ts, what the operator does to the harness in session/wiggle-guide.ts.
 */
import { randomUUID } from 'node:crypto';
import type { Exposure, Judgement, Watching } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveState } from '../live/protocol.ts';
import type { Recorder } from '../recordings/index.ts';
import { sayBeforeAfter } from '../session/battery-reference.ts';
import { cautionOf, cautionsFor, refusalOf } from '../session/cautions.ts';
import type { CautionSituation } from '../session/cautions.ts';
import { batteryOf } from '../session/chart.ts';
import type { Chart } from '../session/chart.ts';
import { problemText, readChart } from '../session/chart-validation.ts';
import { LiveSession } from '../session/live-session.ts';
import type { TakeAim } from '../session/live-session.ts';
import { offeredChecks } from '../session/offered-checks.ts';
import { sayPace } from '../session/pacing.ts';
import { SessionPapers } from '../session/papers.ts';
import { Plausibility } from '../session/plausibility.ts';
import { NO_RIG, rigStanding } from '../session/rig.ts';
import type { Check, MarkKind, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../session/session.ts';
import { accountOf, exposureOf, PROOF_TIME, provocationsIn, zoneNow } from '../session/take-account.ts';
import { TakeWatch } from '../session/take-watch.ts';
import type { TakeView } from '../session/take-watch.ts';
import { WiggleGuide } from '../session/wiggle-guide.ts';
import type { DatedReadings } from './meter-bench.ts';
import { RoadDesk } from './road-desk.ts';

/** The verdict is worked out at most this often while samples come, s. */
const JUDGE_EVERY = 0.05;
/** A take that ends by itself when its zone is found looks for that this often, s. */
const SEEK_END_EVERY = 0.5;

/** What hands do to the harness, for a simulation to follow. */
export interface Hands {
  /** The harness is held still: the leads are being proved, or nobody flexes. */
  readonly areStill: boolean;
  /** Zone that is flexed; null for none, or when zones are not told apart. */
  readonly zone: string | null;
}

export interface ConductParts {
  readonly recorder: Recorder;
  /** Session clock, s. */
  readonly now: () => number;
  readonly meters: () => readonly MeterRecord[];
  /** Index of the meter that the next take is judged by. */
  readonly judgedMeter: () => number;
  /** The leads go where a check wants them (a simulation follows). */
  readonly onChosen: (check: Check) => void;
  readonly onHands: (hands: Hands) => void;
  readonly onJudged: (take: number, judgement: Judgement) => void;
  /** The name of the file that is written to, or null. */
  readonly onFile: (file: string | null, isTakeRunning: boolean) => void;
}

/** Requests that are about meters or the simulation, not about the session itself. */
type OtherRequest = 'attach-meter' | 'detach-meter' | 'null-leads' | 'judge-by' | 'describe-meter' | 'simulate';
export type SessionRequest = Exclude<ClientRequest, { type: OtherRequest }>;
type StartRequest = Extract<ClientRequest, { type: 'start-take' }>;

/** What dashboards show of the session. */
export type SessionState = Omit<LiveState, 'version' | 'clock' | 'meters' | 'ports' | 'judgedMeter' | 'recording' | 'simulation'>;

export class Conduct {
  readonly #parts: ConductParts;
  readonly #road: RoadDesk;
  #session: LiveSession;
  #papers: SessionPapers;
  #guide = new WiggleGuide();
  #watch: TakeWatch | null = null;
  #view: TakeView | null = null;
  #judged: { take: number; judgement: Judgement } | null = null;
  #judgedAt = -Infinity;
  #soughtEndAt = -Infinity;
  /** Readings between takes. */
  #idle: Plausibility;
  #checks: { readonly chart: number; readonly info: number; readonly checks: readonly Check[] } | null = null;
  /** State of the circuit that the operator has confirmed for the next take; empty for none. */
  #confirmed = '';
  #reference: number | null = null;
  #offered: Chart | null;
  /** Name of the session's file; null until its first take: a session without takes leaves no file. */
  #file: string | null = null;

  /** @param chart  to begin with, or null @param check  to begin with; the first that is offered when null */
  constructor(parts: ConductParts, chart: Chart | null, check: Check | null) {
    this.#parts = parts;
    this.#offered = chart;
    this.#papers = new SessionPapers(newInfo(), chart);
    const first = check ?? this.checks()[0]!;
    this.#session = new LiveSession(this.#papers.info.value, first, 'spot');
    this.#idle = new Plausibility(first);
    this.#road = new RoadDesk();
    parts.onChosen(first);
  }

  get isTakeRunning(): boolean {
    return this.#session.take !== null;
  }

  /** The running take's judgement, or that of the one just ended. */
  get judged(): { take: number; judgement: Judgement } | null {
    return this.#judged;
  }

  /** Checks that the chart offers, or one of each kind. */
  checks(): readonly Check[] {
    const { chart, info } = this.#papers;
    if (this.#checks?.chart !== chart.revision || this.#checks.info !== info.revision) {
      this.#checks = { chart: chart.revision, info: info.revision, checks: offeredChecks(chart.value, info.value.ambient ?? null) };
    }
    return this.#checks.checks;
  }

  /** The chart that comes with the meters at hand (that of a simulation), or null: it takes the place of the one before unless a user has made one. */
  offerChart(chart: Chart | null): void {
    const { value, revision } = this.#papers.chart;
    if (value !== this.#offered || chart === value) return;
    this.#offered = chart;
    this.#papers.chart.change(revision, chart);
    this.#keep('chart');
  }

  state(): SessionState {
    const { info, check, watching, take, marks, ended } = this.#session;
    const papers = this.#papers;
    const chart = papers.chart.value;
    const view = take === null ? null : this.#view;
    const account = accountOf(marks, this.#parts.now());
    const zones = take?.zones ?? this.#guide.zones(chart, check);
    const { pace, paceSeconds } = this.#guide;
    return {
      session: info, sessionRevision: papers.info.revision,
      chart: { revision: papers.chart.revision, name: chart?.name ?? null, circuits: chart?.circuits.map(({ id, name }) => ({ id, name })) ?? [] },
      checks: this.checks(), points: chart?.points.map(({ id }) => id) ?? [],
      check, watching, take,
      condition: { text: check.condition, isMet: check.condition === '' || (take === null ? this.#confirmed : account.condition) === check.condition },
      warnings: this.#watch?.warnings() ?? this.#idle.now(),
      cautions: cautionsFor(this.#situation(check, watching)).map((caution) => ({ ...caution, isAcknowledged: papers.hasAcknowledged(caution.id) })),
      rig: view?.rig ?? (take === null && watching === 'spot' ? NO_RIG : rigStanding(account, watching, [])),
      wiggle: {
        zones, zone: take === null ? null : zoneNow(account), provocations: take === null ? [] : account.provocations.at(-1)?.provocations ?? [],
        report: view?.zones ?? null, paceSeconds,
        pace: pace === null || paceSeconds === null || take === null ? null : { ...pace, message: sayPace(zones, pace, paceSeconds) },
      },
      reference: this.#referenceState(),
      road: this.#road.state(this.#parts.meters()[take?.meter ?? this.#parts.judgedMeter()]),
      reseats: papers.reseats,
      exposure: this.#exposure(),
      marks: take === null ? [] : marks.filter(({ kind }) => kind !== 'flex'),
      ended: ended.map(({ take, judgement }) => ({ take, verdict: judgement.verdict, dropouts: judgement.dropouts.length })),
    };
  }

  /** Tags, records and judges. @returns the samples for the screens */
  onReadings({ meter, readings, times, arrival }: DatedReadings): SampleBatch {
    const { take } = this.#session;
    const batch = this.#session.tag(meter, readings, times, arrival);
    if (take === null) {
      if (meter === this.#parts.judgedMeter()) this.#idle.push(batch);
      return batch;
    }
    this.#parts.recorder.appendSamples(batch);
    if (meter === take.reference) this.#watch?.pushReference(batch);
    if (meter === take.meter) {
      this.#watch?.push(batch);
      if (this.#parts.now() - this.#judgedAt >= JUDGE_EVERY) this.judgeNow();
    }
    return batch;
  }

  /** Works the verdict out again; called also while no samples come, so that a running gap shows. */
  judgeNow(): void {
    const { take } = this.#session;
    if (take === null || this.#watch === null) return;
    const now = this.#parts.now();
    this.#judgedAt = now;
    this.#endProof(now);
    this.#view = this.#watch.view(now);
    this.#pace(now);
    this.#tell(take.id, this.#view.judgement);
    if (take.endsItself !== true || (this.#view.judgement.verdict !== 'pass' && now - this.#soughtEndAt < SEEK_END_EVERY)) return;
    this.#soughtEndAt = now;
    const ending = endingOf(this.#view);
    if (ending !== null) this.endTake(ending);
  }

  /** @returns what the request asks for, if anything @throws {RequestRefused} */
  carryOut(request: SessionRequest): unknown {
    if (this.isTakeRunning) this.#endProof(this.#parts.now());
    const result = this.#act(request);
    this.#tellHands();
    this.judgeNow();
    return result;
  }

  /** What the user says of a meter counts at once, for the whole of the running take. */
  onMetersDescribed(): void {
    const meters = this.#parts.meters();
    if (this.#file !== null) this.#parts.recorder.updateMeters([...meters, ...this.#road.records()]);
    const take = this.#session.take;
    if (take !== null) {
      const { accuracy, leadOhms } = meters[take.meter]!;
      this.#watch?.revise({ accuracy, leadOhms });
      this.judgeNow();
    }
  }

  /** @throws {Error} when no take runs */
  endTake(ending: TakeRecord['ending']): void {
    const now = this.#parts.now();
    this.#endProof(now);
    const { judgement } = this.#watch!.view(now);
    const account = accountOf(this.#session.marks, now);
    const take = this.#session.endTake(ending, now, judgement, account);
    this.#watch = null;
    this.#view = null;
    this.#confirmed = '';
    this.#idle = new Plausibility(this.#session.check);
    this.#parts.recorder.endTake(take, judgement);
    this.#noteBattery(take, judgement);
    this.#tell(take.id, judgement);
    this.#parts.onFile(this.#file, false);
  }

  #act(request: SessionRequest): unknown {
    const { recorder } = this.#parts;
    const papers = this.#papers;
    const now = this.#parts.now();
    switch (request.type) {
      case 'start-take':
      case 'choose':
        return this.#goTo(request);
      case 'stop-take':
        this.#needTake('No take is running.');
        return this.endTake('stopped');
      case 'mark':
        this.#needTake('Start a take first: a mark belongs to a take.');
        return this.#note(request.text, request.kind);
      case 'flex':
        this.#needTake('Start a wiggle take first: flexes are counted in a take.');
        return this.#note(request.count === 1 ? '1 flex' : `${request.count} flexes`, 'flex', request.count);
      case 'describe': {
        const { type: _, basedOn, ...said } = request;
        if (!papers.describe(basedOn, said)) throw changedMeanwhile('description of the session');
        this.#session.info = papers.info.value;
        if (this.#file !== null) recorder.updateInfo(papers.info.value);
        return { revision: papers.info.revision };
      }
      case 'read-chart':
        return { revision: papers.chart.revision, chart: papers.chart.value };
      case 'change-chart':
        return this.#changeChart(request.basedOn, request.chart);
      case 'confirm-condition': {
        const said = request.isMet ? this.#session.check.condition : '';
        if (this.isTakeRunning) this.#note(said, 'condition');
        else this.#confirmed = said;
        return undefined;
      }
      case 'acknowledge': {
        const caution = cautionOf(request.caution);
        if (caution === undefined) throw new RequestRefused('NO_SUCH_CAUTION', `There is no caution "${request.caution}".`);
        if (papers.hasAcknowledged(caution.id)) return undefined;
        papers.acknowledged = [...papers.acknowledged, { ...caution, at: now, check: this.#session.check.id }];
        return this.#keep('cautions');
      }
      case 'prove-rig':
        return this.#proveRig(request.isRunning);
      case 'name-zones':
        return this.#guide.nameZones(request.zones);
      case 'flex-zone':
        this.#needTake('Start a wiggle take first: zones are flexed in a take.');
        // A zone of one's own choice is the end of the tool's plan.
        this.#guide.setPace(null);
        return this.#note(request.zone ?? '', 'zone');
      case 'pace':
        this.#guide.setPace(request.seconds);
        if (request.seconds === null && this.isTakeRunning) this.#note('', 'zone');
        return undefined;
      case 'provoke':
        this.#needTake('Start a take first: how it is provoked is noted in a take.');
        return this.#note(provocationsIn(request.provocations.join(' ')).join(', '), 'provocation');
      case 'reseat':
        papers.reseats = [{ at: now, connector: request.connector }, ...papers.reseats];
        if (this.isTakeRunning) this.#note(request.connector, 'reseat');
        return this.#keep('reseats');
      case 'refer-to':
        if (request.meter !== null && request.meter === this.#parts.judgedMeter()) {
          throw new RequestRefused('METER_IN_USE', 'This meter is the one that is judged: the battery needs a second one.');
        }
        if (request.meter !== null && this.#parts.meters()[request.meter] === undefined) {
          throw new RequestRefused('NO_SUCH_METER', `There is no meter ${request.meter}.`);
        }
        this.#reference = request.meter;
        return undefined;
      case 'battery':
        return this.#addBattery(now, request.volts);
      case 'arm':
        return this.#road.arm(request.isArmed);
      case 'lock':
        return this.#road.lock(request.isLocked);
      case 'motion':
        this.#needTake('Start a take first: motion is recorded in a take.');
        return this.#recordMotion(request);
      case 'new-session':
        return this.#newSession();
    }
  }

  /** To another check: at once to its take when a take runs or is asked for. */
  #goTo(request: Extract<SessionRequest, { type: 'start-take' | 'choose' }>): void {
    const { check, watching } = request;
    const refusal = refusalOf(this.#situation(check, watching));
    if (refusal !== null) throw new RequestRefused(refusal.code, refusal.message);
    const isRunning = this.isTakeRunning;
    if ((isRunning || request.type === 'start-take') && this.#parts.meters()[this.#parts.judgedMeter()] === undefined) {
      throw new RequestRefused('NO_METER', 'Attach a meter first: without one there is nothing to record.');
    }
    // Going straight on in the same state of the circuit: it has been confirmed already.
    const stillConfirmed = isRunning ? accountOf(this.#session.marks, this.#parts.now()).condition : this.#confirmed;
    // Within one turn of the event loop: no sample comes between the end of one take and the start of the next.
    if (isRunning) this.endTake('next-check');
    this.#confirmed = stillConfirmed === check.condition ? stillConfirmed : '';
    this.#session.check = check;
    this.#session.watching = watching;
    this.#idle = new Plausibility(check);
    this.#parts.onChosen(check);
    if (isRunning || request.type === 'start-take') this.#startTake(request.type === 'start-take' ? request : null);
  }

  #startTake(asked: Pick<StartRequest, 'conditionIsMet' | 'claim' | 'endsItself'> | null): void {
    const meters = this.#parts.meters();
    const { recorder } = this.#parts;
    const { check, watching } = this.#session;
    if (this.#file === null) {
      this.#file = recorder.startSession(this.#session.info, meters);
      for (const [name, content] of this.#papers.documents()) recorder.putDocument(name, content);
    }
    const judged = this.#parts.judgedMeter();
    const reference = this.#reference === judged ? null : this.#reference;
    const zones = watching === 'wiggle' ? this.#guide.zones(this.#papers.chart.value, check) : [];
    const aim: TakeAim = {
      ...(asked?.claim === undefined ? {} : { claim: asked.claim }),
      ...(asked?.endsItself === undefined ? {} : { endsItself: asked.endsItself }),
      ...(reference === null ? {} : { reference }),
      ...(zones.length === 0 ? {} : { zones }),
    };
    const take = this.#session.startTake(judged, this.#parts.now(), aim);
    this.#watch = new TakeWatch(take, meters[judged]!, reference === null ? undefined : meters[reference]);
    this.#view = null;
    this.#guide.restart();
    recorder.startTake(take);
    if (check.condition !== '' && (asked?.conditionIsMet === true || this.#confirmed === check.condition)) this.#note(check.condition, 'condition');
    this.#parts.onFile(this.#file, true);
  }

  #note(text: string, kind?: MarkKind, count?: number, at = this.#parts.now()): void {
    const mark = this.#session.mark(text, at, kind, count);
    this.#watch?.note(mark);
    this.#parts.recorder.addMark(mark);
  }

  #proveRig(isRunning: boolean): void {
    this.#needTake('Start the wiggle or road take first: the leads are proved at its beginning.');
    const { take, marks } = this.#session;
    if (take!.watching === 'spot') throw new RequestRefused('NOT_FIXED', 'In a spot take the leads are held by hand: choose a wiggle or road take.');
    const isProving = accountOf(marks, this.#parts.now()).provingSince !== null;
    if (!isRunning) {
      if (isProving) this.#note('end', 'rig-proof');
      return;
    }
    // What slipped once makes every dropout of that take doubtful.
    if (this.#view?.rig.state === 'loose') {
      const { claim, endsItself } = take!;
      const isConfirmed = accountOf(marks, this.#parts.now()).condition === take!.check.condition;
      this.endTake('next-check');
      this.#startTake({ conditionIsMet: isConfirmed, ...(claim === undefined ? {} : { claim }), ...(endsItself === undefined ? {} : { endsItself }) });
    }
    this.#guide.restart();
    this.#note('begin', 'rig-proof');
  }

  /** A proof ends by itself, exactly when its time is up. */
  #endProof(now: number): void {
    const { provingSince } = accountOf(this.#session.marks, now);
    if (provingSince === null || now - provingSince < PROOF_TIME) return;
    this.#note('end', 'rig-proof', undefined, provingSince + PROOF_TIME);
    this.#tellHands();
  }

  #pace(now: number): void {
    const { take, marks } = this.#session;
    const account = accountOf(marks, now);
    if (take === null || take.watching !== 'wiggle' || account.provingSince !== null) return;
    const zone = this.#guide.step(take.zones ?? [], now, () => this.#view?.zones ?? null);
    if (zone === null || zone === zoneNow(account)) return;
    this.#note(zone, 'zone', undefined, now);
    this.#tellHands();
  }

  #tellHands(): void {
    const { take, marks } = this.#session;
    if (take?.watching !== 'wiggle') return this.#parts.onHands({ areStill: false, zone: null });
    const account = accountOf(marks, this.#parts.now());
    const zone = zoneNow(account);
    const tellsZones = account.zoneChanges.some((change) => change.zone !== null);
    this.#parts.onHands({ areStill: account.provingSince !== null || (tellsZones && zone === null), zone });
  }

  #changeChart(basedOn: number, wanted: unknown): { revision: number } {
    const read = wanted === null ? null : readChart(wanted);
    if (read?.kind === 'problems') {
      const more = read.problems.length - 1;
      throw new RequestRefused('BAD_CHART', `${problemText(read.problems[0]!)}${more > 0 ? `, and ${more} more to mend` : ''}.`);
    }
    const { chart } = this.#papers;
    if (!chart.change(basedOn, read?.chart ?? null)) throw changedMeanwhile('chart');
    this.#keep('chart');
    // The check at hand as the new chart has it; one that is not in it stays as it was made.
    if (!this.isTakeRunning) {
      const { check } = this.#session;
      this.#session.check = this.checks().find(({ id }) => id === check.id) ?? check;
    }
    return { revision: chart.revision };
  }

  #recordMotion({ channel, times, values }: Extract<SessionRequest, { type: 'motion' }>): { kept: number } {
    const isNew = !this.#road.hasChannel(channel);
    const { times: kept, readings } = this.#road.accept(channel, times, values, this.#session.take!.start, this.#parts.now());
    if (isNew) this.#parts.recorder.updateMeters([...this.#parts.meters(), ...this.#road.records()]);
    if (kept.length > 0) this.#parts.recorder.appendSamples(this.#session.tag(this.#road.indexOf(channel), readings, kept, this.#parts.now()));
    return { kept: kept.length };
  }

  /** A spot take across the battery's posts tells the battery's voltage. */
  #noteBattery(take: TakeRecord, { level }: Judgement): void {
    const battery = this.#papers.chart.value === null ? undefined : batteryOf(this.#papers.chart.value);
    const isAcross = battery !== undefined && take.check.red === battery.from && take.check.black === battery.to;
    if (isAcross && take.watching === 'spot' && level !== null) this.#addBattery(take.end ?? take.start, level);
  }

  #addBattery(at: number, volts: number): void {
    this.#papers.battery = [...this.#papers.battery, { at, volts }];
    this.#keep('battery');
  }

  #referenceState(): LiveState['reference'] {
    const { take, ended } = this.#session;
    const last = take ?? ended[0]?.take ?? null;
    const { battery } = this.#papers;
    const before = last === null ? battery.at(-1) ?? null : battery.findLast(({ at }) => at <= last.start) ?? null;
    const after = last === null || last.end === null ? null : battery.findLast(({ at }) => at >= last.end!) ?? null;
    const source = this.#view?.source ?? null;
    return { meter: this.#reference, before, after, message: source !== null ? source.message : sayBeforeAfter(before, after) };
  }

  /** What was counted in the running take; time without zones counts as flexed. */
  #exposure(): Exposure {
    const { take, marks } = this.#session;
    if (take === null) return { flexes: 0, flexedTime: 0 };
    const now = this.#parts.now();
    return exposureOf(accountOf(marks, now), take.start, now, this.#view?.judgement.gaps ?? []) ?? { flexes: 0, flexedTime: 0 };
  }

  #situation(check: Check, watching: Watching): CautionSituation {
    return { check, watching, chart: this.#papers.chart.value, meter: this.#parts.meters()[this.#parts.judgedMeter()] };
  }

  #tell(take: number, judgement: Judgement): void {
    this.#judged = { take, judgement };
    this.#parts.onJudged(take, judgement);
  }

  /** Keeps one of the session's papers in its file, when it has one. */
  #keep(document: 'chart' | 'cautions' | 'reseats' | 'battery'): void {
    if (this.#file === null) return;
    const content = document === 'chart' ? this.#papers.chart.value : this.#papers.documents().get(document);
    this.#parts.recorder.putDocument(document, content);
  }

  #needTake(message: string): void {
    if (!this.isTakeRunning) throw new RequestRefused('NO_TAKE', message);
  }

  #newSession(): void {
    if (this.#file !== null) this.#parts.recorder.endSession();
    const { check, watching } = this.#session;
    this.#file = null;
    this.#judged = null;
    this.#soughtEndAt = -Infinity;
    this.#judgedAt = -Infinity;
    this.#confirmed = '';
    this.#papers = new SessionPapers(newInfo(), this.#offered);
    this.#checks = null;
    this.#guide = new WiggleGuide();
    this.#road.startOver();
    this.#idle = new Plausibility(check);
    this.#session = new LiveSession(this.#papers.info.value, check, watching);
    this.#parts.onFile(null, false);
    this.#parts.onChosen(check);
  }
}

function newInfo(): SessionInfo {
  return { id: randomUUID(), startedAtUs: Date.now() * 1000, title: '', vehicle: '', complaint: '' };
}

/** Whether a take that is to end by itself has shown what it was made for. */
function endingOf({ judgement, zones, rig }: TakeView): 'claim-met' | 'zone-found' | null {
  if (judgement.verdict === 'pass') return 'claim-met';
  // Without proved leads the zone may be that of a lead.
  return zones !== null && zones.source !== null && rig.state === 'proved' ? 'zone-found' : null;
}

function changedMeanwhile(what: string): RequestRefused {
  return new RequestRefused('CHANGED_MEANWHILE', `Somebody else changed the ${what} meanwhile: look at it as it is now, then make your change again.`);
}
