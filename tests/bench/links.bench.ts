/** A serial cable pulled and plugged in again, many times: how fast it is back, and whether anything is lost or left behind. */
import { readdirSync } from 'node:fs';
import { createMeter } from '../../drivers/index.ts';
import { openPty } from '../support/pty.ts';

const CYCLES = 100;
const LINES = 20;

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
    const memory = [process.memoryUsage().rss];
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
      if ((cycle + 1) % (CYCLES / 2) === 0) memory.push(process.memoryUsage().rss);
    }
    const inOrder = values.every((value, i) => i === 0 || value > (values[i - 1] as number));
    const result = {
      cycles: CYCLES, readings_lost_outside_gaps: lost, readings_in_order: inOrder, open_files_more: openFiles() - filesBefore,
      memory_more_mb_by_halves: memory.slice(1).map((bytes, i) => Number(((bytes - (memory[i] as number)) / 1e6).toFixed(1))),
      reconnect_s: { median: Number(((reconnects.sort((a, b) => a - b)[CYCLES >> 1] as number) / 1000).toFixed(3)), longest: Number(((reconnects.at(-1) as number) / 1000).toFixed(3)) },
    };
    await meter.close();
    await pty.close();
    return result;
  },
};
