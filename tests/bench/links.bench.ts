/**
 * A serial cable pulled and plugged in again, many times: how fast it is back, and whether anything is lost or left behind. Eight meters
 * at once: how far their samples lie from one axis of time.
 */
import { readdirSync } from 'node:fs';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { createMeter } from '../../drivers/index.ts';
import { SampleClock } from '../../server/session/clock.ts';
import { manyMeters, offsetOf } from '../support/many-meters.ts';
import { openPty } from '../support/pty.ts';

const CYCLES = 100;
const LINES = 20;

/** Paces of eight meters, s. */
const INTERVALS = [0.5, 0.4, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01];
const ALIGNING_SECONDS = 30;

/** @returns for each meter how far it lies from the middle one, ms, by the session clock and by arrival */
async function alignment(): Promise<object> {
  const bench = await manyMeters(INTERVALS);
  const recorded = bench.meters.map(({ pty }) => {
    const clock = new SampleClock({ interval: null });
    const row = { times: [] as number[], arrivals: [] as number[], values: [] as number[], meter: createMeter(`serial:${pty.path}`) };
    row.meter.open({
      onStatus: () => undefined,
      onReadings: ({ arrival, readings }) => {
        const times = new Float64Array(readings.length);
        clock.date(arrival, readings.length, times);
        row.times.push(...times);
        row.arrivals.push(...readings.map(() => arrival));
        row.values.push(...readings.map(({ value }) => value));
      },
    });
    return row;
  });
  await until(() => recorded.every(({ meter }) => meter.status().state === 'open'));
  bench.start();
  await new Promise((resolve) => setTimeout(resolve, ALIGNING_SECONDS * 1000));
  await Promise.all(recorded.map(({ meter }) => meter.close()));
  await bench.close();
  const spread = (by: 'times' | 'arrivals'): number[] => {
    const offsets = recorded.map((row, i) => offsetOf(bench.meters[i]!, row[by], row.values));
    const middle = [...offsets].sort((a, b) => a - b)[offsets.length >> 1] as number;
    return offsets.map((offset) => Number((1000 * (offset - middle)).toFixed(2)));
  };
  return { intervals_s: INTERVALS, off_the_common_axis_ms: spread('times'), by_arrival_ms: spread('arrivals') };
}

/** Bytes in use after a collection of garbage. */
function usedMemory(): number {
  setFlagsFromString('--expose-gc');
  (runInNewContext('gc') as () => void)();
  const { heapUsed, external } = process.memoryUsage();
  return heapUsed + external;
}

async function until(isTrue: () => boolean): Promise<void> {
  while (!isTrue()) await new Promise((resolve) => setTimeout(resolve, 2));
}

export default {
  name: 'links',
  run: async (): Promise<object> => {
    const pty = await openPty();
    const meter = createMeter(`serial:${pty.path}`);
    const values: number[] = [];
    meter.open({ onReadings: ({ readings }) => void values.push(...readings.map(({ value }) => value)), onStatus: () => undefined });
    await until(() => meter.status().state === 'open');
    const openFiles = (): number => readdirSync('/proc/self/fd').length;
    const filesBefore = openFiles();
    // The first half warms up; what the second half adds would be a leak.
    const memory = [usedMemory()];
    const reconnects: number[] = [];
    let lost = 0;
    for (let cycle = 0; cycle < CYCLES; cycle++) {
      const before = values.length;
      // The first line after opening may be half a one and is dropped, so an empty one goes first.
      await pty.write(`\n${Array.from({ length: LINES }, (_, i) => `${cycle * LINES + i} V\n`).join('')}`);
      const patience = performance.now() + 2000;
      await until(() => values.length === before + LINES || performance.now() > patience);
      lost += LINES - (values.length - before);
      await pty.unplug();
      await until(() => meter.status().state === 'gone');
      await pty.replug();
      const replugged = performance.now();
      await until(() => meter.status().state === 'open');
      reconnects.push(performance.now() - replugged);
      if ((cycle + 1) % (CYCLES / 2) === 0) memory.push(usedMemory());
    }
    const inOrder = values.every((value, i) => i === 0 || value > (values[i - 1] as number));
    const result = {
      cycles: CYCLES, readings_lost_outside_gaps: lost, readings_in_order: inOrder, open_files_more: openFiles() - filesBefore,
      memory_more_mb_by_halves: memory.slice(1).map((bytes, i) => Number(((bytes - (memory[i] as number)) / 1e6).toFixed(1))),
      reconnect_s: { median: Number(((reconnects.sort((a, b) => a - b)[CYCLES >> 1] as number) / 1000).toFixed(3)), longest: Number(((reconnects.at(-1) as number) / 1000).toFixed(3)) },
    };
    await meter.close();
    await pty.close();
    return { ...result, eight_meters: await alignment() };
  },
};
