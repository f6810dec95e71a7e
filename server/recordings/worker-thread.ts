/** Starts a worker of this folder, in TypeScript as everything here. */
import { Worker } from 'node:worker_threads';

/** Room for short-lived objects: a worker left alone takes three times as much, and is no faster for it. */
const YOUNG_GENERATION_MB = 16;

/** @param options what the worker finds as `workerData.options` */
export function startWorker(file: URL, options: unknown): Worker {
  return new Worker(new URL('./worker-start.mjs', import.meta.url), {
    workerData: { file: file.href, options }, execArgv: [], resourceLimits: { maxYoungGenerationSizeMb: YOUNG_GENERATION_MB },
  });
}
