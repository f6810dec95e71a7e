/**
 * The life of a take: begun, noted in, judged while it runs, ended. What a take is worth is decided in session/take-watch.ts; when one begins and
 * ends, in conduct.ts.
 */
import type { Judgement, Watching } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveCondition } from '../live/protocol.ts';
import type { Recorder } from '../recordings/index.ts';
import { CaptureWatch } from '../session/capture.ts';
import { LiveSession } from '../session/live-session.ts';
import type { SessionSoFar, TakeAim } from '../session/live-session.ts';
import { meterSetup } from '../session/meter-profile.ts';
import { Plausibility } from '../session/plausibility.ts';
import type { ReadingWarning } from '../session/plausibility.ts';
import type { Check, MarkKind, MeterRecord, SampleBatch, TakeRecord, TakeSummary } from '../session/session.ts';
import { accountOf } from '../session/take-account.ts';
import type { TakeAccount } from '../session/take-account.ts';
import { TakeWatch } from '../session/take-watch.ts';
import type { TakeView } from '../session/take-watch.ts';
import type { DatedReadings } from './meter-bench.ts';

/** The verdict is worked out at most this often while samples come, s. */
const JUDGE_EVERY = 0.05;
/** A take that ends by itself when its zone is found looks for that this often, s. */
const SEEK_END_EVERY = 0.5;

export interface TakeDeskParts {
  readonly recorder: Recorder;
  /** Session clock, s. */
  readonly now: () => number;
  readonly onJudged: (take: number, judgement: Judgement) => void;
  /** At once when it has left its level and returned once more. @param departures  of the take so far */
  readonly onDeparture: (take: number, departures: number) => void;
  /** A spot take has captured another contact. */
  readonly onCaptured: () => void;
}

export interface TakeStart {
  readonly judged: MeterRecord;
  /** The meter across the battery, where there is one. */
  readonly reference: MeterRecord | null;
  /** Those that watch other points of the circuit. */
  readonly beside: readonly MeterRecord[];
  readonly aim: TakeAim;
}

export class TakeDesk {
  readonly #parts: TakeDeskParts;
  readonly session: LiveSession;
  #watch: TakeWatch | null = null;
  /** Of the running take, else of the one that ended last: its evidence stays on the screens. */
  #view: TakeView | null = null;
  #judged: { take: number; judgement: Judgement } | null = null;
  #judgedAt = -Infinity;
  /** Departures of the running take that were told. */
  #departures = 0;
  readonly #captures = new CaptureWatch();
  #contacts = 0;
  #soughtEndAt = -Infinity;
  /** Readings between takes. */
  #idle: Plausibility;
  /** State of the circuit that the operator has confirmed for the next take; empty for none. */
  #confirmed = '';

  /** @param soFar  what the session holds already, where it is gone on with */
  constructor(parts: TakeDeskParts, check: Check, watching: Watching, soFar?: SessionSoFar) {
    this.#parts = parts;
    this.session = new LiveSession(check, watching, soFar);
    this.#idle = new Plausibility(check);
  }

  get isRunning(): boolean {
    return this.session.take !== null;
  }

  /** The running take as it was judged last; null when none runs. */
  get view(): TakeView | null {
    return this.isRunning ? this.#view : null;
  }

  /** The same, but between takes that of the one that ended last, as long as its check is at hand. */
  get evidence(): TakeView | null {
    if (this.isRunning) return this.#view;
    const last = this.session.ended[0]?.take;
    return last?.check.id === this.session.check.id && last.watching === this.session.watching ? this.#view : null;
  }

  /** The running take's judgement, or that of the one just ended. */
  get judged(): { take: number; judgement: Judgement } | null {
    return this.#judged;
  }

  /** What the operator did in the running take, or in the last one. */
  account(): TakeAccount {
    return accountOf(this.session.marks, this.#parts.now());
  }

  /** What is odd about the newest readings. */
  warnings(): readonly ReadingWarning[] {
    return this.#watch?.warnings() ?? this.#idle.now();
  }

  condition(): LiveCondition {
    const text = this.session.check.condition;
    return { text, isMet: text === '' || this.#confirmedNow() === text };
  }

  /** @throws {RequestRefused} when no take runs */
  need(message: string): TakeRecord {
    if (this.session.take === null) throw new RequestRefused('NO_TAKE', message);
    return this.session.take;
  }

  act(request: Extract<ClientRequest, { type: 'mark' | 'confirm-condition' }>): void {
    switch (request.type) {
      case 'mark':
        this.need('Start a take first: a mark belongs to a take.');
        return this.note(request.text, request.kind);
      case 'confirm-condition': {
        const said = request.isMet ? this.session.check.condition : '';
        if (this.isRunning) return this.note(said, 'condition');
        this.#confirmed = said;
      }
    }
  }

  /** To another check, with no take running: one in the same state of the circuit needs no second confirmation. */
  choose(check: Check, watching: Watching, confirmed: string = this.#confirmed): void {
    this.#confirmed = confirmed === check.condition ? confirmed : '';
    this.session.check = check;
    this.session.watching = watching;
    this.#idle = new Plausibility(check);
  }

  /** State of the circuit that holds for the running take, else for the next. */
  get confirmed(): string {
    return this.#confirmedNow();
  }

  start({ judged, reference, beside, aim }: TakeStart): void {
    const take = this.session.startTake(judged.index, this.#parts.now(), aim);
    this.#watch = new TakeWatch(take, judged, reference ?? undefined, beside);
    this.#view = null;
    this.#departures = 0;
    this.#contacts = 0;
    this.#parts.recorder.startTake(take);
    if (take.check.condition !== '' && this.#confirmed === take.check.condition) this.note(take.check.condition, 'condition');
  }

  note(text: string, kind?: MarkKind, count?: number, at = this.#parts.now()): void {
    const mark = this.session.mark(text, at, kind, count);
    this.#watch?.note(mark);
    this.#parts.recorder.addMark(mark);
  }

  /** Tags and records. @returns the samples for the screens, and whether the verdict is due to be worked out again */
  push({ meter, readings, times, arrival }: DatedReadings, judgedMeter: number): { readonly batch: SampleBatch; readonly isDue: boolean } {
    const { take } = this.session;
    const batch = this.session.tag(meter, readings, times, arrival);
    if (take === null) {
      if (meter === judgedMeter) this.#idle.push(batch);
      return { batch, isDue: false };
    }
    this.#parts.recorder.appendSamples(batch);
    if (meter === take.reference) this.#watch?.pushReference(batch);
    this.#watch?.pushBeside(meter, batch);
    if (meter !== take.meter) return { batch, isDue: false };
    this.#watch?.push(batch);
    this.#tellDepartures(take.id);
    return { batch, isDue: this.#parts.now() - this.#judgedAt >= JUDGE_EVERY };
  }

  /** Works the verdict out again. */
  look(now: number): void {
    const { take } = this.session;
    if (take === null || this.#watch === null) return;
    this.#judgedAt = now;
    this.#view = this.#watch.view(now);
    if (take.watching !== 'spot') return;
    const contacts = this.#captures.next(take.id, this.#view.judgement, now)?.contact ?? 0;
    if (contacts > this.#contacts) {
      this.#contacts = contacts;
      this.#parts.onCaptured();
    }
  }

  /** Takes of the session as the search for the fault sees them: those that ended, and the running one once it has captured a reading. */
  summaries(): TakeSummary[] {
    const { take, ended } = this.session;
    const running = take === null || this.#view === null || this.#contacts === 0 ? [] : [{ take: { ...take, account: this.account() }, judgement: this.#view.judgement }];
    return [...running, ...ended].map((own) => ({ ...own.take, judgement: own.judgement, verdict: own.judgement.verdict, samples: own.judgement.samples }));
  }

  /** Tells the verdict as it was worked out last. @returns why the take ends by itself now; null when it goes on */
  tell(now: number): 'claim-met' | 'zone-found' | null {
    const { take } = this.session;
    const view = this.#view;
    if (take === null || view === null) return null;
    this.#tell(take.id, view.judgement);
    if (take.endsItself !== true || (view.judgement.verdict !== 'pass' && now - this.#soughtEndAt < SEEK_END_EVERY)) return null;
    this.#soughtEndAt = now;
    return endingOf(view);
  }

  /** What the user says of its meter counts for the whole of the running take. */
  revise(meter: MeterRecord): void {
    const said = meterSetup(meter);
    this.session.say(said);
    this.#watch?.revise(said);
  }

  /** @throws {Error} when no take runs */
  end(ending: TakeRecord['ending']): { readonly take: TakeRecord; readonly judgement: Judgement } {
    const now = this.#parts.now();
    const view = this.#watch!.view(now);
    const { judgement } = view;
    const take = this.session.endTake(ending, now, judgement, this.account());
    this.#watch = null;
    this.#view = view;
    this.#confirmed = '';
    this.#idle = new Plausibility(this.session.check);
    this.#parts.recorder.endTake(take, judgement);
    this.#tell(take.id, judgement);
    return { take, judgement };
  }

  /** The chirp waits for nothing: not for the verdict, and not for its turn among the judgements. */
  #tellDepartures(take: number): void {
    const departures = this.#watch?.departures ?? 0;
    if (departures > this.#departures) this.#parts.onDeparture(take, departures);
    this.#departures = departures;
  }

  #tell(take: number, judgement: Judgement): void {
    this.#judged = { take, judgement };
    this.#parts.onJudged(take, judgement);
  }

  #confirmedNow(): string {
    return this.isRunning ? this.account().condition : this.#confirmed;
  }
}

/** Whether a take that is to end by itself has shown what it was made for. */
function endingOf({ judgement, zones, rig }: TakeView): 'claim-met' | 'zone-found' | null {
  if (judgement.verdict === 'pass') return 'claim-met';
  // Without proved leads the zone may be that of a lead.
  return zones !== null && zones.source !== null && rig.state === 'proved' ? 'zone-found' : null;
}
