/** Starts a worker: the built one where the service was built, else from its source, through tsx. */
import { Worker } from 'node:worker_threads';

export type WorkerName = 'writer-worker' | 'reader-worker' | 'job-worker' | 'teach-worker' | 'locate-worker';

/** Room for short-lived objects. A worker left alone takes ten times as much before it looks for what it can let go, buffers among it. */
const YOUNG_GENERATION_MB = 4;

const isBuilt = !import.meta.url.endsWith('.ts');

/**
 * @param options what the worker finds as `workerData.options`
 * @param beside  a module of the folder that the source lies in; built ones lie in one folder
 */
export function startWorker(name: WorkerName, options: unknown, beside: string = import.meta.url): Worker {
  const file = new URL(`./${name}.${isBuilt ? 'js' : 'ts'}`, isBuilt ? import.meta.url : beside);
  return new Worker(isBuilt ? file : new URL('./worker-start.mjs', import.meta.url), {
    workerData: { file: file.href, options }, execArgv: [], resourceLimits: { maxYoungGenerationSizeMb: YOUNG_GENERATION_MB },
  });
}
