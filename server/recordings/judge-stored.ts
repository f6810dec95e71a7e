/** Judges a take from its stored samples and marks, by what judges it live. */
import type { Judgement } from '../diagnosis/judgement.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { ZoneReport } from '../diagnosis/zones.ts';
import { channelRecord } from '../session/road-channels.ts';
import { roadReport } from '../session/road-report.ts';
import type { RoadReport } from '../session/road-report.ts';
import type { MeterRecord, TakeRecord } from '../session/session.ts';
import { judgedAgain } from '../session/judged-again.ts';
import type { JudgedAgain } from '../session/judged-again.ts';
import { TakeWatch } from '../session/take-watch.ts';
import type { TakeView } from '../session/take-watch.ts';
import { RecordingError } from './errors.ts';
import type { SessionReader, StoredTake } from './session-reader.ts';
import { toSamples } from './stored-columns.ts';

const PAGE = 32_768;

/** Judges a take that may still grow: what was read once is not read again. */
export class StoredJudge {
  readonly #stored: StoredTake;
  #watch: TakeWatch | null = null;
  #samples = 0;
  #referenceSamples = 0;
  readonly #besideSamples = new Map<number, number>();
  #lastMark = 0;

  constructor(stored: StoredTake) {
    this.#stored = stored;
  }

  /**
   * Takes in what the file has more than at the last call.
   * @param now  session clock, s, up to which silence counts; the last sample when not given
   */
  catchUp(reader: SessionReader, now?: number): Judgement { return this.view(reader, now).judgement; }

  /** As `catchUp`, with what else is known of the take. */
  view(reader: SessionReader, now?: number): TakeView {
    const { take, meter } = this.#stored;
    const { reference, beside = [] } = take;
    const watch = this.#watch ??= new TakeWatch(
      take, meter ?? unknownMeter(take.meter), reference === undefined ? undefined : meterOf(reader, reference), beside.map((leads) => meterOf(reader, leads.meter)),
    );
    for (const mark of reader.marks()) {
      if (mark.take !== take.id || mark.id <= this.#lastMark) continue;
      watch.note(mark);
      this.#lastMark = mark.id;
    }
    this.#samples = readOn(reader, take.id, take.meter, this.#samples, (samples) => watch.push(samples));
    if (reference !== undefined) {
      this.#referenceSamples = readOn(reader, take.id, reference, this.#referenceSamples, (samples) => watch.pushReference(samples));
    }
    for (const { meter: index } of beside) {
      const read = this.#besideSamples.get(index) ?? 0;
      this.#besideSamples.set(index, readOn(reader, take.id, index, read, (samples) => watch.pushBeside(index, samples)));
    }
    return watch.view(now);
  }
}

/** @param now session clock, s, up to which silence counts; the last sample when not given */
export function judgeStored(reader: SessionReader, stored: StoredTake, now?: number): Judgement {
  return new StoredJudge(stored).catchUp(reader, now);
}

/**
 * The stored judgement of a take beside the one that its samples give today.
 * @throws {RecordingError} TAKE_NOT_FOUND, also for a take that was never ended: that one is judged anew whenever it is looked at
 */
export function judgeAgain(reader: SessionReader, take: number): JudgedAgain { return judgeWhole(reader, take).again; }

/** What a take proves in all. */
export interface WholeJudgement {
  readonly again: JudgedAgain;
  /** Null while no zone was flexed. */
  readonly zones: ZoneReport | null;
  /** Null but for a road take. */
  readonly road: RoadReport | null;
}

/**
 * As `judgeAgain`, with what zones, marks and motion say.
 * @throws {RecordingError} TAKE_NOT_FOUND as `judgeAgain`
 */
export function judgeWhole(reader: SessionReader, id: number): WholeJudgement {
  const stored = reader.takes().find((one) => one.take.id === id);
  if (stored === undefined || stored.judgement === null) throw new RecordingError('TAKE_NOT_FOUND', 'There is no such take that was ended.');
  const { take } = stored;
  const view = new StoredJudge(stored).view(reader, take.end ?? undefined);
  return { again: judgedAgain(stored.judgement, view.judgement, take.start), zones: view.zones, road: take.watching === 'road' ? roadOf(reader, take, view.judgement) : null };
}

function roadOf(reader: SessionReader, take: TakeRecord, judgement: Judgement): RoadReport {
  const end = take.end ?? take.start + judgement.elapsed;
  const { index } = channelRecord('acceleration');
  const motion = { time: [] as number[], size: [] as number[] };
  if (reader.meters().some((meter) => meter.index === index)) {
    readOn(reader, take.id, index, 0, ({ time, value }) => {
      motion.time.push(...time);
      motion.size.push(...value);
    });
  }
  return roadReport({ start: take.start, end: Math.max(end, take.start + 1e-6) }, judgement, reader.marks().filter((mark) => mark.take === take.id), motion.time.length === 0 ? null : motion);
}

/** @returns index of the first sample that is not read yet */
function readOn(reader: SessionReader, take: number, meter: number, from: number, give: (samples: SampleColumns) => void): number {
  for (let next = from; ;) {
    const samples = reader.samples(take, meter, next, next + PAGE);
    if (samples.length === 0) return next;
    give(toSamples(samples));
    next += samples.length;
  }
}

function meterOf(reader: SessionReader, index: number): MeterRecord {
  return reader.meters().find((meter) => meter.index === index) ?? unknownMeter(index);
}

function unknownMeter(index: number): MeterRecord {
  return { index, address: '', label: '', simulated: false, interval: null, aperture: null, accuracy: null, leadOhms: null };
}
