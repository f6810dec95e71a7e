/** What the service does with recordings when asked: moves, renames, jobs with progress. */
import { signal } from '@preact/signals';
import { notesOf, type Added, type CsvPreview, type FolderSpace, type ImportReady, type ImportRequest, type JobState, type Note, type Place, type PlanBeginning, type SessionJobRequest } from '../../../../server/live/library-protocol.ts';
import { routeHash } from '../../../routes.ts';
import { notice } from '../../../state.ts';
import { texts } from '../../../texts.ts';
import { loadContents, loadSessions, messageOf } from '../recordings.ts';

/** The job that runs or ran last, with what it is called on the screen. */
export const job = signal<{ readonly title: string; readonly state: JobState } | null>(null);

const POLL_MS = 300;

/** The session that was thrown away last, by its name in the trash: for the way back. */
export const thrown = signal<string | null>(null);

export async function moveSession(session: string, from: Place, to: Place): Promise<boolean> {
  const moved = await call<{ session: string }>('POST', `sessions/${encodeURIComponent(session)}/move`, { from, to });
  if (moved !== undefined) thrown.value = to === 'trash' ? moved.session : null;
  await loadSessions();
  return moved !== undefined;
}

export interface Description { readonly title: string; readonly vehicle: string; readonly complaint: string }

export async function describeSession(session: string, description: Description): Promise<void> {
  const done = await call('POST', `sessions/${encodeURIComponent(session)}/describe`, description);
  await Promise.all([loadSessions(), ...(done === undefined ? [] : [loadContents(session)])]);
}

/** @returns undefined when they can't be read; then the user has been told */
export async function loadNotes(session: string): Promise<readonly Note[] | undefined> {
  const stored = await call<unknown>('GET', `sessions/${encodeURIComponent(session)}/documents/notes`);
  return stored === undefined ? undefined : notesOf(stored);
}

/** Adds or changes a note; without text it is taken out. @returns all of them, or undefined when it failed */
export function putNote(session: string, { id, take, at, text }: Pick<Note, 'id' | 'take' | 'at' | 'text'>): Promise<readonly Note[] | undefined> {
  return call<readonly Note[]>('PUT', `sessions/${encodeURIComponent(session)}/notes/${encodeURIComponent(id)}`, { take, at, text });
}

export const folderSpace = signal<FolderSpace | null>(null);

export async function loadSpace(): Promise<void> {
  folderSpace.value = (await call<FolderSpace>('GET', 'space')) ?? null;
}

export async function emptyTrash(): Promise<void> {
  await call('DELETE', 'trash');
  thrown.value = null;
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

/** A session file from elsewhere; opened when it is in. */
export async function addSession(file: File): Promise<void> {
  notice.value = { kind: 'done', text: texts.shelf.adding };
  const added = await call<Added>('POST', 'sessions', file);
  await loadSessions();
  if (added === undefined) return;
  notice.value = added.isUnchanged
    ? { kind: 'done', text: texts.shelf.added }
    : { kind: 'trouble', text: texts.shelf.addedChanged(added.findings.map(({ where, what }) => `${where} ${what}`).join('; ')) };
  location.hash = routeHash({ screen: 'review', session: added.added, take: null });
}

export function upload(file: File): Promise<ImportReady | undefined> {
  return call<ImportReady>('POST', `imports?name=${encodeURIComponent(file.name)}`, file);
}

/** Guesses anew, with what the user said of separator or heading. */
export function previewAgain(id: string, beginning: PlanBeginning): Promise<CsvPreview | undefined> {
  return call<CsvPreview>('POST', `imports/${id}/preview`, beginning);
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
