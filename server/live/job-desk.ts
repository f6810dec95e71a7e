/** The long jobs that dashboards have started: how far each is, what came of it, and the files it wrote. */
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { RecordingError, startJob, type Job, type RunningJob } from '../recordings/index.ts';
import type { JobResult, JobState } from './library-protocol.ts';

/** Finished jobs are forgotten, with their files, once so many newer ones are there. */
const MOST_JOBS = 20;

interface Entry {
  state: JobState;
  readonly folder: string;
  readonly cancel: () => void;
}

export class JobDesk {
  readonly #jobs = new Map<string, Entry>();

  /** @param make  the job, given a folder of its own for what it writes */
  start(make: (folder: string) => Job): JobState {
    this.#forgetOld();
    const id = randomUUID();
    const folder = mkdtempSync(join(tmpdir(), 'loomtrace-job-'));
    const running: RunningJob<unknown> = startJob(make(folder), (share) => {
      if (entry.state.state === 'running') entry.state = { job: id, state: 'running', share };
    });
    const entry: Entry = { state: { job: id, state: 'running', share: 0 }, folder, cancel: () => running.cancel() };
    this.#jobs.set(id, entry);
    running.done.then(
      (result) => (entry.state = { job: id, state: 'done', result: result as JobResult }),
      (error: unknown) => {
        const message = error instanceof Error ? error.message : String(error);
        const isStopped = error instanceof Error && error.name === 'AbortError';
        const code = isStopped ? 'STOPPED' : error instanceof RecordingError ? error.code : 'JOB_FAILED';
        entry.state = { job: id, state: 'failed', code, message: isStopped ? 'Stopped; nothing was written.' : message };
      },
    );
    return entry.state;
  }

  state(job: string): JobState | null {
    return this.#jobs.get(job)?.state ?? null;
  }

  /** The folder that a job wrote into; null when there is no such job or it isn't done. */
  folder(job: string): string | null {
    const entry = this.#jobs.get(job);
    return entry?.state.state === 'done' ? entry.folder : null;
  }

  cancel(job: string): boolean {
    const entry = this.#jobs.get(job);
    if (entry?.state.state === 'running') entry.cancel();
    return entry !== undefined;
  }

  close(): void {
    for (const { cancel, folder } of this.#jobs.values()) {
      cancel();
      rmSync(folder, { recursive: true, force: true });
    }
    this.#jobs.clear();
  }

  #forgetOld(): void {
    for (const [id, { state, folder }] of this.#jobs) {
      if (this.#jobs.size < MOST_JOBS) return;
      if (state.state === 'running') continue;
      rmSync(folder, { recursive: true, force: true });
      this.#jobs.delete(id);
    }
  }
}
