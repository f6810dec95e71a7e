/** Starts a job in a thread of its own, so that neither the meters nor the screens wait for it. */
import { RecordingError } from './errors.ts';
import type { FromJob, Job, JobResults } from './job.ts';
import { startWorker } from './worker-thread.ts';

export interface RunningJob<Result> {
  /** @throws {RecordingError}, an AbortError when it was cancelled, or an error with the job's message */
  readonly done: Promise<Result>;
  /** Stops it; nothing is left behind. Jobs that tell no progress are short, and end by themselves. */
  cancel(): void;
}

/** @param onProgress share done, 0 to 1 */
export function startJob<Kind extends Job['type']>(job: Extract<Job, { type: Kind }>, onProgress?: (share: number) => void): RunningJob<JobResults[Kind]> {
  const worker = startWorker('job-worker', job);
  const done = new Promise<JobResults[Kind]>((resolve, reject) => {
    worker.on('message', (message: FromJob) => {
      switch (message.kind) {
        case 'progress': onProgress?.(message.share); break;
        case 'done': resolve(message.result as JobResults[Kind]); break;
        case 'failed': reject(errorOf(message)); break;
      }
    });
    worker.on('error', reject);
    worker.on('exit', () => reject(new Error('the job ended without a result')));
  });
  return { done, cancel: () => worker.postMessage('cancel') };
}

function errorOf({ code, name, message }: Extract<FromJob, { kind: 'failed' }>): Error {
  return code === null ? Object.assign(new Error(message), { name }) : new RecordingError(code, message);
}
