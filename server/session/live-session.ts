/**
 * The session in progress: which check is chosen, which take runs, and which take every sample belongs to.
 * Pure: the caller brings every time (s on the session clock).
 */
import type { JudgeSetup, Judgement, Watching } from '../diagnosis/judgement.ts';
import type { ReadingBatch } from '../../drivers/meter.ts';
import { functionCode } from '../../drivers/reading.ts';
import { meterSetup } from './meter-profile.ts';
import type { Check, MarkKind, MarkRecord, MeterRecord, SampleBatch, TakeRecord } from './session.ts';
import type { TakeAccount } from './take-account.ts';

/** What the operator chose for a take before it began. */
export type TakeAim = Pick<TakeRecord, 'claim' | 'endsItself' | 'reference' | 'repair' | 'beside' | 'chain' | 'zones'>;

export interface EndedTake {
  readonly take: TakeRecord;
  readonly judgement: Judgement;
}

/** What has to be known to judge a take of `check` with this meter. */
export function judgeSetup(check: Pick<Check, 'kind' | 'limits' | 'load' | 'supply' | 'depth' | 'shiftAfter'>, watching: Watching, meter: MeterRecord): JudgeSetup {
  return {
    kind: check.kind,
    watching,
    limits: check.limits,
    interval: meter.interval,
    aperture: meter.aperture,
    ...meterSetup(meter),
    depth: check.depth ?? null,
    shiftAfter: check.shiftAfter ?? null,
    missingCondition: null,
    claim: null,
    load: check.load ?? null,
    ...(check.supply === undefined ? {} : { supply: check.supply }),
  };
}

/** What a session that is gone on with holds already. */
export interface SessionSoFar {
  /** Newest first. */
  readonly ended: readonly EndedTake[];
  /** Numbers that were given last; 0 for none. */
  readonly lastTake: number;
  readonly lastMark: number;
  readonly lastSeq: number;
}

const NOTHING_SO_FAR: SessionSoFar = { ended: [], lastTake: 0, lastMark: 0, lastSeq: 0 };

export class LiveSession {
  check: Check;
  watching: Watching;
  take: TakeRecord | null = null;
  marks: readonly MarkRecord[] = [];
  /** Newest first. */
  ended: readonly EndedTake[];
  #nextTake: number;
  #nextMark: number;
  #nextSeq: number;

  constructor(check: Check, watching: Watching, { ended, lastTake, lastMark, lastSeq }: SessionSoFar = NOTHING_SO_FAR) {
    this.check = check;
    this.watching = watching;
    this.ended = ended;
    this.#nextTake = lastTake + 1;
    this.#nextMark = lastMark + 1;
    this.#nextSeq = lastSeq + 1;
  }

  /** @throws {Error} when a take already runs: end it first, so that no sample is without its take */
  startTake(meter: number, at: number, aim: TakeAim = {}): TakeRecord {
    if (this.take !== null) throw new Error(`take ${this.take.id} still runs`);
    this.take = {
      id: this.#nextTake++, check: this.check, watching: this.watching, meter, start: at, end: null, ending: 'running', ...aim,
    };
    this.marks = [];
    return this.take;
  }

  /** What the user says of the meter meanwhile, kept with the running take. */
  say(said: TakeRecord['said']): void {
    if (this.take !== null && said !== undefined) this.take = { ...this.take, said };
  }

  /** @returns the ended take; the caller judges and stores it. @throws {Error} when none runs */
  endTake(ending: TakeRecord['ending'], at: number, judgement: Judgement, account: TakeAccount): TakeRecord {
    if (this.take === null) throw new Error('no take runs');
    const take: TakeRecord = { ...this.take, end: at, ending, account };
    this.take = null;
    this.ended = [{ take, judgement }, ...this.ended];
    return take;
  }

  /** @throws {Error} when no take runs: a mark belongs to a take */
  mark(text: string, at: number, kind: MarkKind = 'mark', count?: number): MarkRecord {
    if (this.take === null) throw new Error('no take runs');
    const mark: MarkRecord = { id: this.#nextMark++, take: this.take.id, at, text, ...(kind === 'mark' ? {} : { kind }), ...(count === undefined ? {} : { count }) };
    this.marks = [...this.marks, mark];
    return mark;
  }

  /**
   * Turns the readings of one chunk into samples of the running take (0 when none runs). A sample belongs to the take
   * that runs when it arrives.
   * @param times session clock, s, one per reading
   * @param arrival session clock, s, of the chunk
   */
  tag(meter: number, readings: ReadingBatch['readings'], times: Float64Array, arrival: number): SampleBatch {
    const n = readings.length;
    const batch: SampleBatch = {
      meter,
      take: this.take?.id ?? 0,
      firstSeq: this.#nextSeq,
      length: n,
      time: times,
      arrival: new Float64Array(n).fill(arrival),
      value: new Float64Array(n),
      resolution: new Float64Array(n),
      flags: new Uint16Array(n),
      functionCode: new Uint8Array(n),
    };
    for (let i = 0; i < n; i++) {
      const reading = readings[i]!;
      batch.value[i] = reading.value;
      batch.resolution[i] = reading.resolution;
      batch.flags[i] = reading.flags;
      batch.functionCode[i] = functionCode(reading.quantity, reading.coupling);
    }
    this.#nextSeq += n;
    return batch;
  }
}
