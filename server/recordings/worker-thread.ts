/** Starts a worker of this folder: the built one where the service was built, else from its source, through tsx. */
import { Worker } from 'node:worker_threads';

export type WorkerName = 'writer-worker' | 'reader-worker' | 'job-worker';

/** Room for short-lived objects. A worker left alone takes ten times as much before it looks for what it can let go, buffers among it. */
const YOUNG_GENERATION_MB = 4;

const isBuilt = !import.meta.url.endsWith('.ts');

/** @param options what the worker finds as `workerData.options` */
export function startWorker(name: WorkerName, options: unknown): Worker {
  const file = new URL(`./${name}.${isBuilt ? 'js' : 'ts'}`, import.meta.url);
  return new Worker(isBuilt ? file : new URL('./worker-start.mjs', import.meta.url), {
    workerData: { file: file.href, options }, execArgv: [], resourceLimits: { maxYoungGenerationSizeMb: YOUNG_GENERATION_MB },
  });
}
