/**
 * Several meters at once, each on a serial port of its own (a pseudo-terminal), each at a pace of its own, that know when they measured:
 * what a recording says of their times can be held against the truth.
 */
import { openPty, type Pty } from './pty.ts';

export interface TimedMeter {
  readonly pty: Pty;
  /** Sample interval, s. */
  readonly interval: number;
  /** True end of sample `number` on the clock of this process, s. */
  trueTime(number: number): number;
}

export interface ManyMeters {
  readonly meters: readonly TimedMeter[];
  /** From now on they measure and send; the value of each reading is the number of its sample. */
  start(): void;
  /** Samples `from` up to, not including, `to` of a meter are measured but never sent. */
  lose(meter: number, from: number, to: number): void;
  close(): Promise<void>;
}

const now = (): number => performance.now() / 1000;

export async function manyMeters(intervals: readonly number[]): Promise<ManyMeters> {
  const ptys = await Promise.all(intervals.map(() => openPty()));
  let startedAt = Number.NaN;
  let timer: NodeJS.Timeout | null = null;
  const losses = intervals.map(() => ({ from: 0, to: 0 }));
  const sent = intervals.map(() => 0);
  // Each begins at another phase, as meters do that are switched on by hand.
  const trueTime = (meter: number, number: number): number => startedAt + (number + (meter * 0.618) % 1) * (intervals[meter] as number);
  const sendDue = (): void => {
    intervals.forEach((_, meter) => {
      let text = '';
      for (; trueTime(meter, sent[meter] as number) <= now(); sent[meter]!++) {
        const number = sent[meter] as number;
        const loss = losses[meter] as { from: number; to: number };
        if (number < loss.from || number >= loss.to) text += `${number} V\n`;
      }
      if (text !== '') void (ptys[meter] as Pty).write(text).catch(() => undefined);
    });
  };
  return {
    meters: ptys.map((pty, meter) => ({ pty, interval: intervals[meter] as number, trueTime: (number) => trueTime(meter, number) })),
    start: () => {
      startedAt = now();
      timer = setInterval(sendDue, 2);
    },
    lose: (meter, from, to) => void (losses[meter] = { from, to }),
    close: async () => {
      if (timer !== null) clearInterval(timer);
      await Promise.all(ptys.map((pty) => pty.close()));
    },
  };
}

/** Median of how far recorded times lie behind the truth, s; the same constant for all meters when they are on one axis. */
export function offsetOf({ trueTime }: TimedMeter, times: ArrayLike<number>, values: ArrayLike<number>): number {
  const offsets = Array.from(times, (time, i) => time - trueTime(values[i] as number)).sort((a, b) => a - b);
  return offsets[offsets.length >> 1] as number;
}
