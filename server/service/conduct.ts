/**
 * Conducts the session: takes begun and ended as asked for, and every request handed to the desk that it concerns. Knows no meters and no
 * sockets; the wiring hands it dated readings and takes away what is to be shown.
 *
 *     take-desk     the life of a take: noted in, judged, recorded
 *     harness-desk  what hands do: leads proved, zones, pacing, flexes
 *     paper-desk    description, chart, cautions, reseats
 *     repair-desk   what was found, what was done about it, pictures
 *     battery-desk  the battery beside the takes
 *     beside-desk   further meters on other points of the circuit
 *     road-desk     armed, locked, motion and position
 *     locate-desk   the search for the fault
 */
import { dropoutsIn } from '../diagnosis/judgement.ts';
import type { Judgement, Watching } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveLocation, LiveState, MeterRequest } from '../live/protocol.ts';
import type { ResumedSession } from '../recordings/index.ts';
import { cautionsFor, refusalOf } from '../session/cautions.ts';
import type { CautionSituation } from '../session/cautions.ts';
import type { Chart } from '../session/chart.ts';
import type { TakeAim } from '../session/live-session.ts';
import { SessionPapers } from '../session/papers.ts';
import type { Check, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../session/session.ts';
import type { DatedReadings } from './meter-bench.ts';
import { PaperDesk } from './paper-desk.ts';
import type { RepairDesk } from './repair-desk.ts';
import type { Beginning, DeskParts, SessionDesks } from './session-desks.ts';
import { openDesks } from './session-desks.ts';
import type { SessionFile } from './session-file.ts';

export interface ConductParts extends DeskParts {
  /** The leads go where a check wants them (a simulation follows). */
  readonly onChosen: (check: Check) => void;
  /** The name of the file that is written to, or null. */
  readonly onFile: (file: string | null, isTakeRunning: boolean) => void;
}

/** Requests that are about meters or the simulation, not about the session itself. */
type OtherRequest = 'go-on' | 'attach-meter' | 'detach-meter' | 'null-leads' | 'judge-by' | 'describe-meter' | 'simulate' | MeterRequest['type'];
export type SessionRequest = Exclude<ClientRequest, { type: OtherRequest }>;
type GoRequest = Extract<ClientRequest, { type: 'start-take' | 'choose' }>;
type Asked = Pick<Extract<GoRequest, { type: 'start-take' }>, 'claim' | 'endsItself'>;

/** What dashboards show of the session. */
export type SessionState = Omit<LiveState, 'version' | 'clock' | 'meters' | 'ports' | 'finding' | 'judgedMeter' | 'recording' | 'offer' | 'simulation'>;

export class Conduct {
  readonly #parts: ConductParts;
  #desks: SessionDesks;

  /** @param chart  to begin with, or null @param check  to begin with; the first that is offered when null */
  constructor(parts: ConductParts, chart: Chart | null, check: Check | null) {
    this.#parts = parts;
    this.#desks = this.#open((file) => PaperDesk.blank(file, chart), { check, watching: 'spot' });
    parts.onChosen(this.#desks.take.session.check);
  }

  get isTakeRunning(): boolean {
    return this.#desks.take.isRunning;
  }

  /** What was repaired in the session at hand. */
  get repair(): RepairDesk {
    return this.#desks.repair;
  }

  /** Whether this meter is judged, or watched beside the one that is: what it reads is looked at as it comes. */
  isWatched(meter: number): boolean {
    const { session } = this.#desks.take;
    const { take } = session;
    if (take === null) return meter === this.#parts.judgedMeter();
    return meter === take.meter || meter === take.reference || take.beside?.some((leads) => leads.meter === meter) === true;
  }

  /** The running take's judgement, or that of the one just ended. */
  get judged(): { take: number; judgement: Judgement } | null {
    return this.#desks.take.judged;
  }

  /** Index of the meter across the battery; null for none. */
  get reference(): number | null {
    return this.#desks.battery.meter;
  }

  location(): LiveLocation {
    return this.#desks.locate.location();
  }

  /** The chart that comes with the meters at hand (that of a simulation), or null: it takes the place of the one before unless a user has made one. */
  offerChart(chart: Chart | null): void {
    this.#desks.paper.offerChart(chart);
    this.#desks.locate.changed();
  }

  state(): SessionState {
    const { take: desk, paper, repair, harness, battery, beside, road } = this.#desks;
    const { check, watching, take, marks, ended } = desk.session;
    const { papers, chart } = paper;
    const { judgedMeter, now } = this.#parts;
    return {
      session: papers.info.value, sessionRevision: papers.info.revision,
      chart: paper.chartInShort(), checks: paper.checks(), points: chart?.points.map(({ id }) => id) ?? [],
      system: papers.system, ownLimits: papers.limits,
      check, watching, take,
      condition: desk.condition(),
      warnings: desk.warnings(),
      cautions: cautionsFor(this.#situation(check, watching)).map((caution) => ({ ...caution, isAcknowledged: papers.hasAcknowledged(caution.id) })),
      ...harness.state(now()),
      reference: battery.state(),
      beside: beside.state(),
      road: road.state(this.#meter(take?.meter ?? judgedMeter())),
      reseats: papers.reseats,
      repair: repair.state(),
      marks: take === null ? [] : marks.filter(({ kind }) => kind !== 'flex'),
      ended: ended.map(({ take, judgement }) => ({ take, verdict: judgement.verdict, dropouts: dropoutsIn(judgement) })),
    };
  }

  /** Tags, records and judges. @returns the samples for the screens */
  onReadings(dated: DatedReadings): SampleBatch {
    const { batch, isDue } = this.#desks.take.push(dated, this.#parts.judgedMeter());
    if (isDue) this.judgeNow();
    return batch;
  }

  /** Works the verdict out again; called also while no samples come, so that a running gap shows. */
  judgeNow(): void {
    const { take, harness } = this.#desks;
    if (!take.isRunning) return;
    const now = this.#parts.now();
    harness.endProof(now);
    take.look(now);
    harness.pace(now);
    const ending = take.tell(now);
    if (ending !== null) this.endTake(ending);
  }

  /** @returns what the request asks for, if anything @throws {RequestRefused} */
  carryOut(request: SessionRequest): unknown {
    if (this.isTakeRunning) this.#desks.harness.endProof(this.#parts.now());
    const result = this.#act(request);
    this.#desks.harness.tellHands();
    this.judgeNow();
    return result;
  }

  /** What the user says of a meter counts at once, for the whole of the running take. */
  onMetersDescribed(): void {
    const { file, road, take: desk } = this.#desks;
    file.updateMeters([...this.#parts.meters(), ...road.records()]);
    this.#desks.locate.changed();
    const { take } = desk.session;
    if (take === null) return;
    desk.revise(this.#meter(take.meter)!);
    this.judgeNow();
  }

  /** The recorder lost file `from` and goes on in `to`. */
  continueFile(from: string, to: string): void {
    if (this.#desks.file.continueAs(from, to)) this.#parts.onFile(to, this.isTakeRunning);
  }

  /** @throws {Error} when no take runs */
  endTake(ending: TakeRecord['ending']): void {
    const { file, take: desk, harness, battery, locate } = this.#desks;
    harness.endProof(this.#parts.now());
    const { take, judgement } = desk.end(ending);
    battery.noteTake(take, judgement);
    locate.changed();
    this.#parts.onFile(file.name, false);
  }

  #act(request: SessionRequest): unknown {
    const { take, paper, repair, harness, battery, beside, road, locate } = this.#desks;
    const now = this.#parts.now();
    switch (request.type) {
      case 'start-take':
      case 'choose':
        return this.#goTo(request);
      case 'stop-take':
        take.need('No take is running.');
        return this.endTake('stopped');
      case 'mark':
      case 'confirm-condition':
        return take.act(request);
      case 'describe': {
        const { ambient } = paper.papers.info.value;
        const result = this.#followingSystem(() => paper.act(request, now, take.session.check));
        if (paper.papers.info.value.ambient !== ambient) locate.changed();
        return result;
      }
      case 'read-chart':
        return paper.act(request, now, take.session.check);
      case 'acknowledge':
        paper.act(request, now, take.session.check);
        return locate.retell();
      case 'change-chart':
        return this.#changeChart(request);
      case 'change-limits':
        return this.#changeLimits(request);
      case 'reseat':
        if (take.isRunning) take.note(request.connector, 'reseat');
        return paper.act(request, now, take.session.check);
      case 'note-finding':
      case 'note-repair':
      case 'correct-repair':
      case 'take-back-repair':
      case 'set-aside':
      case 'count-again':
      case 'drop-photo': {
        const result = repair.act(request, now);
        if (request.type === 'note-repair' || request.type === 'take-back-repair') locate.changed();
        return result;
      }
      case 'flex':
      case 'prove-rig':
      case 'name-zones':
      case 'flex-zone':
      case 'pace':
      case 'provoke':
        return harness.act(request);
      case 'refer-to':
      case 'battery':
        return this.#followingSystem(() => battery.act(request, now));
      case 'watch-beside':
        return beside.act(request);
      case 'arm':
      case 'lock':
        return road.act(request);
      case 'locate':
      case 'locate-in':
      case 'say-load':
      case 'say-panel':
      case 'say-state':
      case 'read-distance':
        return locate.act(request, now);
      case 'motion':
        return this.#recordMotion(request);
      case 'new-session':
        return this.#newSession(request.keepsChart);
    }
  }

  /** To another check: at once to its take when a take runs or is asked for. */
  #goTo(request: GoRequest): void {
    const { check, watching } = request;
    const { take } = this.#desks;
    const refusal = refusalOf(this.#situation(check, watching));
    if (refusal !== null) throw new RequestRefused(refusal.code, refusal.message);
    const isRunning = take.isRunning;
    const starts = isRunning || request.type === 'start-take';
    if (starts && this.#meter(this.#parts.judgedMeter()) === undefined) {
      throw new RequestRefused('NO_METER', 'Attach a meter first: without one there is nothing to record.');
    }
    const said = request.type === 'start-take' && request.conditionIsMet === true ? check.condition : take.confirmed;
    // Within one turn of the event loop: no sample comes between the end of one take and the start of the next.
    if (isRunning) this.endTake('next-check');
    take.choose(check, watching, said);
    this.#parts.onChosen(check);
    if (starts) this.#startTake(request.type === 'start-take' ? request : {});
  }

  #startTake({ claim, endsItself }: Asked): void {
    const { meters, judgedMeter } = this.#parts;
    const { file, take, paper: { papers }, repair, harness, battery, beside } = this.#desks;
    file.begin(papers.info.value, meters(), () => papers.documents());
    const reference = battery.forTake();
    const zones = take.session.watching === 'wiggle' ? harness.zones() : [];
    const madeAfter = repair.forTake(this.#parts.now());
    const aim: TakeAim = {
      ...(claim === undefined ? {} : { claim }),
      ...(endsItself === undefined ? {} : { endsItself }),
      ...(reference === null ? {} : { reference: reference.index }),
      ...(madeAfter === undefined ? {} : { repair: madeAfter }),
      ...(zones.length === 0 ? {} : { zones }),
      ...beside.aim(),
    };
    harness.restart();
    take.start({ judged: this.#meter(judgedMeter())!, reference, beside: (aim.beside ?? []).map(({ meter }) => this.#meter(meter)!), aim });
    this.#parts.onFile(file.name, true);
  }

  /** A new take like the running one, which is ended; what was confirmed of the circuit still holds. */
  #beginAgain(): void {
    const { take } = this.#desks;
    const { check, watching, take: running } = take.session;
    const { confirmed } = take;
    this.endTake('next-check');
    take.choose(check, watching, confirmed);
    this.#startTake(running!);
  }

  #changeChart(request: Extract<SessionRequest, { type: 'change-chart' }>): unknown {
    const { take: { session }, paper, locate } = this.#desks;
    const result = paper.act(request, this.#parts.now(), session.check);
    locate.changed();
    this.#refreshCheck();
    return result;
  }

  /** Does what may tell the voltage of the system: the check at hand follows that. */
  #followingSystem<Result>(act: () => Result): Result {
    const { papers } = this.#desks.paper;
    const { volts } = papers.system;
    const result = act();
    if (papers.system.volts !== volts) this.#refreshCheck();
    return result;
  }

  /** The check at hand as the chart, the system or the user's limits have it now; one that is not offered stays as it was made, and so does that of a running take. */
  #refreshCheck(): void {
    const { take: { session, isRunning }, paper } = this.#desks;
    if (!isRunning) session.check = paper.checks().find(({ id }) => id === session.check.id) ?? session.check;
  }

  #changeLimits(request: Extract<SessionRequest, { type: 'change-limits' }>): void {
    const { take: { session }, paper, locate } = this.#desks;
    paper.act(request, this.#parts.now(), session.check);
    locate.retell();
    this.#refreshCheck();
  }

  #recordMotion({ channel, times, values }: Extract<SessionRequest, { type: 'motion' }>): { kept: number } {
    const { file, take, road } = this.#desks;
    const { start } = take.need('Start a take first: motion is recorded in a take.');
    const isNew = !road.hasChannel(channel);
    const { times: kept, readings } = road.accept(channel, times, values, start, this.#parts.now());
    if (isNew) file.updateMeters([...this.#parts.meters(), ...road.records()]);
    if (kept.length > 0) this.#parts.recorder.appendSamples(take.session.tag(road.indexOf(channel), readings, kept, this.#parts.now()));
    return { kept: kept.length };
  }

  #situation(check: Check, watching: Watching): CautionSituation {
    return { check, watching, chart: this.#desks.paper.chart, meter: this.#meter(this.#parts.judgedMeter()) };
  }

  #meter(index: number): MeterRecord | undefined {
    return this.#parts.meters().find((own) => own.index === index);
  }

  #newSession(keepsChart: boolean | undefined): void {
    const { file, take, paper, battery, beside } = this.#desks;
    const { check, watching } = take.session;
    file.end();
    const next = keepsChart === false && paper.hasOwnChart ? null : check;
    this.#turnTo(this.#open((own) => PaperDesk.blank(own, paper.offered, paper, keepsChart), { check: next, watching, reference: battery.meter, leads: beside.meters }));
  }

  /**
   * Goes on with a recorded session in its own file, at the check of its last take.
   * @param name  of its file @param info  as it is from now on @param moved  new numbers of meters at hand, by old ones
   */
  resume(name: string, info: SessionInfo, stored: ResumedSession, moved: ReadonlyMap<number, number>): void {
    const { file, paper, battery, beside } = this.#desks;
    file.end();
    const last = stored.ended[0]?.take;
    const reference = battery.meter === null ? null : moved.get(battery.meter) ?? battery.meter;
    const leads = beside.meters.map((own) => ({ ...own, meter: moved.get(own.meter) ?? own.meter }));
    const papersFor = (own: SessionFile): PaperDesk => new PaperDesk(own, paper.offered, SessionPapers.resumed(info, stored.documents, paper.papers));
    const desks = this.#open(papersFor, { check: last?.check ?? null, watching: last?.watching ?? 'spot', reference, leads, soFar: stored });
    const channels = stored.meters.filter(({ index }) => this.#meter(index) === undefined);
    desks.file.resume(name, info, [...this.#parts.meters(), ...channels]);
    this.#turnTo(desks);
  }

  #turnTo(desks: SessionDesks): void {
    this.#desks = desks;
    this.#parts.onFile(desks.file.name, false);
    this.#parts.onChosen(desks.take.session.check);
    desks.locate.changed();
  }

  #open(papersFor: (file: SessionFile) => PaperDesk, beginning: Beginning): SessionDesks {
    return openDesks(this.#parts, papersFor, beginning, () => this.#beginAgain());
  }
}
