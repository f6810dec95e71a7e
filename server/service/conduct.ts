/**
 * Conducts the session: takes started and ended as asked for, samples tagged, judged and recorded. Knows no meters and no
 * sockets; the wiring hands it dated readings and takes away what is to be shown.
 */
import { randomUUID } from 'node:crypto';
import { TakeJudge } from '../diagnosis/index.ts';
import type { Exposure, Judgement, Watching } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveState } from '../live/protocol.ts';
import type { Recorder } from '../recordings/index.ts';
import { judgeSetup, LiveSession } from '../session/live-session.ts';
import type { Check, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from '../session/session.ts';
import type { DatedReadings } from './meter-bench.ts';

/** The verdict is worked out at most this often while samples come, s. */
const JUDGE_EVERY = 0.05;
export interface ConductParts {
  readonly recorder: Recorder;
  /** Session clock, s. */
  readonly now: () => number;
  readonly meters: () => readonly MeterRecord[];
  /** Index of the meter that the next take is judged by. */
  readonly judgedMeter: () => number;
  /** The leads go where a check wants them (a simulation follows). */
  readonly onChosen: (check: Check) => void;
  readonly onJudged: (take: number, judgement: Judgement) => void;
  /** The name of the file that is written to, or null. */
  readonly onFile: (file: string | null, isTakeRunning: boolean) => void;
}

/** The requests that are about the session itself. */
export type SessionRequest = Extract<
  ClientRequest, { type: 'start-take' | 'stop-take' | 'choose' | 'mark' | 'flex' | 'describe' | 'new-session' }
>;

export class Conduct {
  readonly #parts: ConductParts;
  #session: LiveSession;
  #judge: TakeJudge | null = null;
  #judged: { take: number; judgement: Judgement } | null = null;
  #judgedAt = -Infinity;
  /** Name of the session's file; null until its first take: a session without takes leaves no file. */
  #file: string | null = null;

  constructor(parts: ConductParts, check: Check) {
    this.#parts = parts;
    this.#session = this.#newSession(check, 'spot');
  }

  get isTakeRunning(): boolean {
    return this.#session.take !== null;
  }

  /** The running take's judgement, or that of the one just ended. */
  get judged(): { take: number; judgement: Judgement } | null {
    return this.#judged;
  }

  /** What dashboards show of the session. */
  state(): Pick<LiveState, 'session' | 'check' | 'watching' | 'take' | 'exposure' | 'marks' | 'ended'> {
    const { info, check, watching, take, exposure, marks, ended } = this.#session;
    return {
      session: info, check, watching, take, exposure, marks,
      ended: ended.map(({ take, judgement }) => ({ take, verdict: judgement.verdict, dropouts: judgement.dropouts.length })),
    };
  }

  /** Tags, records and judges. @returns the samples for the screens */
  onReadings({ meter, readings, times, arrival }: DatedReadings): SampleBatch {
    const batch = this.#session.tag(meter, readings, times, arrival);
    if (batch.take !== 0) {
      this.#parts.recorder.appendSamples(batch);
      if (meter === this.#session.take?.meter) {
        this.#judge?.push(batch);
        if (this.#parts.now() - this.#judgedAt >= JUDGE_EVERY) this.judgeNow();
      }
    }
    return batch;
  }

  /** Works the verdict out again; called also while no samples come, so that a running gap shows. */
  judgeNow(): void {
    const take = this.#session.take;
    if (take === null || this.#judge === null) return;
    this.#judgedAt = this.#parts.now();
    this.#tell(take.id, this.#judge.judgement(this.#judgedAt, this.#exposure()));
  }

  /** @throws {RequestRefused} */
  carryOut(request: SessionRequest): void {
    switch (request.type) {
      case 'start-take':
      case 'choose': {
        const isRunning = this.isTakeRunning;
        // Within one turn of the event loop: no sample comes between the end of one take and the start of the next.
        if (isRunning) this.endTake('next-check');
        this.#session.check = request.check;
        this.#session.watching = request.watching;
        this.#parts.onChosen(request.check);
        if (isRunning || request.type === 'start-take') this.#startTake();
        break;
      }
      case 'stop-take':
        this.#needTake('No take is running.');
        this.endTake('stopped');
        break;
      case 'mark':
        this.#needTake('Start a take first: a mark belongs to a take.');
        this.#parts.recorder.addMark(this.#session.mark(request.text, this.#parts.now(), request.kind));
        break;
      case 'flex':
        this.#needTake('Start a wiggle take first: flexes are counted in a take.');
        this.#session.addFlexes(request.count);
        break;
      case 'describe': {
        const { title, vehicle, complaint } = { ...this.#session.info, ...request };
        this.#session.info = { ...this.#session.info, title, vehicle, complaint };
        if (this.#file !== null) this.#parts.recorder.updateInfo(this.#session.info);
        break;
      }
      case 'new-session':
        if (this.#file !== null) this.#parts.recorder.endSession();
        this.#file = null;
        this.#judged = null;
        this.#parts.onFile(null, false);
        this.#session = this.#newSession(this.#session.check, this.#session.watching);
        break;
    }
    this.judgeNow();
  }

  /** What the user says of a meter counts at once, for the whole of the running take. */
  onMetersDescribed(): void {
    const meters = this.#parts.meters();
    if (this.#file !== null) this.#parts.recorder.updateMeters(meters);
    const take = this.#session.take;
    if (take !== null) {
      const { accuracy, leadOhms } = meters[take.meter]!;
      this.#judge?.revise({ accuracy, leadOhms });
      this.judgeNow();
    }
  }

  /** @throws {Error} when no take runs */
  endTake(ending: TakeRecord['ending']): void {
    const now = this.#parts.now();
    const judgement = this.#judge!.judgement(now, this.#exposure());
    const take = this.#session.endTake(ending, now, judgement);
    this.#judge = null;
    this.#parts.recorder.endTake(take, judgement);
    this.#tell(take.id, judgement);
    this.#parts.onFile(this.#file, false);
  }

  #startTake(): void {
    const meters = this.#parts.meters();
    this.#file ??= this.#parts.recorder.startSession(this.#session.info, meters);
    const take = this.#session.startTake(this.#parts.judgedMeter(), this.#parts.now());
    this.#judge = new TakeJudge(judgeSetup(take.check, take.watching, meters[take.meter]!));
    this.#parts.recorder.startTake(take);
    this.#parts.onFile(this.#file, true);
  }

  #tell(take: number, judgement: Judgement): void {
    this.#judged = { take, judgement };
    this.#parts.onJudged(take, judgement);
  }

  /** Nothing counted is not the same as no flexes: then the watched time stands for the flexing. */
  #exposure(): Exposure | undefined {
    const { exposure } = this.#session;
    return exposure.flexes === 0 && exposure.flexedTime === 0 ? undefined : exposure;
  }

  #needTake(message: string): void {
    if (!this.isTakeRunning) throw new RequestRefused('NO_TAKE', message);
  }

  #newSession(check: Check, watching: Watching): LiveSession {
    const info: SessionInfo = { id: randomUUID(), startedAtUs: Date.now() * 1000, title: '', vehicle: '', complaint: '' };
    this.#parts.onChosen(check);
    return new LiveSession(info, check, watching);
  }
}
