/**
 * The samples of one meter on their way to the dashboards: sent at once while they come slowly, gathered into at most 60
 * frames a second when they come fast (15 for a meter that nobody watches), and kept, reduced, as the overview that a late or slow dashboard gets. Pure: the
 * caller brings the time.
 */
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { SampleBatch } from '../session/session.ts';
import { joinSamples, reduceSamples } from './reduce.ts';
import type { SampleFrame } from './sample-frame.ts';

/** Closer than this on average, s: gather. 200 batches a second are still sent one by one. */
const FAST_SPACING = 0.005;
/** Time between gathered frames, s. */
const FRAME_TIME = 1 / 60;
/** The same for a meter whose figure is all that screens show of it: a page with eight meters has more to do than to open envelopes. */
const UNWATCHED_FRAME_TIME = 1 / 15;
/** Columns of a gathered frame: more points than pixels in a sixtieth of a second help nobody. */
const FRAME_COLUMNS = 100;
/** How far back the overview reaches, s, and how finely: columns a second. */
const HISTORY_TIME = 120;
const HISTORY_COLUMNS = 50;

export class SampleFeed {
  #pending: SampleBatch[] = [];
  #lastSent = -Infinity;
  #lastPush = -Infinity;
  #spacing = 1;
  #frameTime = FRAME_TIME;
  #recent: SampleFrame[] = [];
  #history: SampleFrame[] = [];

  /**
   * @param now monotonic, s
   * @param isWatched  it is judged, or watched beside the meter that is
   * @returns the frame to send now; null when it waits: then call `flush` at `dueAt`
   */
  push(batch: SampleBatch, now: number, isWatched = true): SampleFrame | null {
    this.#frameTime = isWatched ? FRAME_TIME : UNWATCHED_FRAME_TIME;
    this.#spacing += 0.1 * (Math.min(now - this.#lastPush, 1) - this.#spacing);
    this.#lastPush = now;
    const last = this.#pending.at(-1);
    // A frame belongs to one take: the first sample of the next one pushes out what waits.
    const ready = last !== undefined && last.take !== batch.take ? this.flush(now) : null;
    this.#pending.push(batch);
    if (ready !== null) return ready;
    return (isWatched && this.#spacing >= FAST_SPACING) || now - this.#lastSent >= this.#frameTime ? this.flush(now) : null;
  }

  /** Monotonic time, s, at which waiting samples must be flushed; null when none wait. */
  dueAt(): number | null {
    return this.#pending.length === 0 ? null : this.#lastSent + this.#frameTime;
  }

  flush(now: number): SampleFrame | null {
    const first = this.#pending[0];
    if (first === undefined) return null;
    const all = this.#pending.length === 1 ? first : joinSamples(this.#pending);
    const samples = reduceSamples(all, FRAME_COLUMNS);
    const frame: SampleFrame = {
      ...columnsOf(samples), meter: first.meter, take: first.take, firstSeq: first.firstSeq, reduced: samples !== all, replace: false,
    };
    this.#pending = [];
    this.#lastSent = now;
    this.#remember(frame);
    return frame;
  }

  /** Everything still remembered, as frames (one a take), each marked `replace` for the first and plain for the rest. */
  overview(): SampleFrame[] {
    const frames = [...this.#history, ...this.#recent];
    const runs: SampleFrame[][] = [];
    for (const frame of frames) {
      const run = runs.at(-1);
      if (run !== undefined && run[0]!.take === frame.take) run.push(frame);
      else runs.push([frame]);
    }
    return runs.map((run, i) => ({ ...joinFrames(run), replace: i === 0 }));
  }

  #remember(frame: SampleFrame): void {
    this.#recent.push(frame);
    const oldest = this.#recent[0]!.time[0]!;
    const newest = frame.time[frame.length - 1]!;
    const isNewTake = this.#recent.length > 1 && this.#recent.at(-2)!.take !== frame.take;
    if (newest - oldest < 1 && !isNewTake) return;
    const settled = isNewTake ? this.#recent.slice(0, -1) : this.#recent;
    this.#recent = isNewTake ? [frame] : [];
    const joined = joinFrames(settled);
    const reduced = reduceSamples(joined, HISTORY_COLUMNS);
    this.#history.push({ ...joined, ...columnsOf(reduced), reduced: joined.reduced || reduced !== joined });
    while (this.#history.length > 0 && newest - this.#history[0]!.time[0]! > HISTORY_TIME) this.#history.shift();
  }
}

function joinFrames(frames: readonly SampleFrame[]): SampleFrame {
  return { ...frames[0]!, ...joinSamples(frames), reduced: frames.some((frame) => frame.reduced) };
}

function columnsOf({ length, time, value, resolution, flags, functionCode }: SampleColumns): SampleColumns {
  return { length, time, value, resolution, flags, functionCode };
}
