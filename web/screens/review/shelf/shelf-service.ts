/** What the service does with recordings when asked: moves, renames, jobs with progress. */
import { signal } from '@preact/signals';
import type { ImportReady, ImportRequest, JobState, Place, SessionJobRequest } from '../../../../server/live/library-protocol.ts';
import { notice } from '../../../state.ts';
import { texts } from '../../../texts.ts';
import { loadSessions, messageOf } from '../recordings.ts';

/** The job that runs or ran last, with what it is called on the screen. */
export const job = signal<{ readonly title: string; readonly state: JobState } | null>(null);

const POLL_MS = 300;

export async function moveSession(session: string, from: Place, to: Place): Promise<string | null> {
  const moved = await call<{ session: string }>('POST', `sessions/${encodeURIComponent(session)}/move`, { from, to });
  await loadSessions();
  return moved?.session ?? null;
}

export async function describeSession(session: string, title: string): Promise<boolean> {
  const done = await call('POST', `sessions/${encodeURIComponent(session)}/describe`, { title });
  await loadSessions();
  return done !== undefined;
}

export async function emptyTrash(): Promise<void> {
  await call('DELETE', 'trash');
  await loadSessions();
}

export async function startSessionJob(session: string, title: string, asked: SessionJobRequest): Promise<JobState | null> {
  return follow(title, await call<JobState>('POST', `sessions/${encodeURIComponent(session)}/jobs`, asked));
}

export async function startImport(id: string, title: string, asked: ImportRequest): Promise<JobState | null> {
  const state = await follow(title, await call<JobState>('POST', `imports/${id}/jobs`, asked));
  await loadSessions();
  return state;
}

export function upload(file: File): Promise<ImportReady | undefined> {
  return call<ImportReady>('POST', `imports?name=${encodeURIComponent(file.name)}`, file);
}

export function cancelJob(): void {
  const running = job.value?.state;
  if (running?.state === 'running') void call('DELETE', `jobs/${running.job}`);
}

export function fileAddress(state: JobState, file: string): string {
  return `/api/jobs/${state.job}/files/${encodeURIComponent(file)}`;
}

async function follow(title: string, first: JobState | undefined): Promise<JobState | null> {
  if (first === undefined) return null;
  let state = first;
  job.value = { title, state };
  while (state.state === 'running') {
    await new Promise((resolve) => setTimeout(resolve, POLL_MS));
    const next = await call<JobState>('GET', `jobs/${state.job}`);
    if (next === undefined) return null;
    state = next;
    job.value = { title, state };
  }
  return state;
}

/** @returns undefined when it failed; then the user has been told */
async function call<Answer>(method: string, path: string, body?: unknown): Promise<Answer | undefined> {
  try {
    const isFile = body instanceof Blob;
    const response = await fetch(`/api/${path}`, {
      method,
      ...(body === undefined ? {} : { body: isFile ? body : JSON.stringify(body), headers: { 'Content-Type': isFile ? 'text/csv' : 'application/json' } }),
    });
    if (response.ok) return (await response.json()) as Answer;
    notice.value = { kind: 'trouble', text: await messageOf(response) };
  } catch {
    notice.value = { kind: 'trouble', text: texts.review.noContact };
  }
  return undefined;
}
