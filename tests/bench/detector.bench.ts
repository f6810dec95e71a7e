/**
 * How well dropouts are found on simulated streams of every kind, against four textbook ways on the same streams; how long a
 * reading takes to settle and how true it is then; how many samples a second. `DETECTOR_BENCH_PART=0.1` runs a tenth of it,
 * `DETECTOR_BENCH_COMPARED=0.2` tries the textbook ways on the streams of a fifth only, 0 on none.
 */
import { env, stderr } from 'node:process';
import { measureDetection } from './detector/detection.ts';
import { measureSpeed } from './detector/speed.ts';
import { measureSteadiness } from './detector/settling.ts';

export default {
  name: 'detector',
  run: async (): Promise<object> => {
    const part = Number(env['DETECTOR_BENCH_PART'] ?? 1);
    const compared = Number(env['DETECTOR_BENCH_COMPARED'] ?? part);
    const seed = Number(env['DETECTOR_BENCH_SEED'] ?? Math.floor(Math.random() * 2 ** 32));
    stderr.write(`  seed ${seed}\n`);
    return { seed, part, compared, detection: measureDetection(seed, { streams: part, compared }), steadiness: measureSteadiness(seed + 1, part), speed: measureSpeed(seed + 2) };
  },
};
