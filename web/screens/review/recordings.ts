/** What is loaded of the recordings: lists whole, traces only as far as they are seen. */
import { signal } from '@preact/signals';
import type { FoundByReadings, Place } from '../../../server/live/library-protocol.ts';
import type { SessionContents, SessionListing } from '../../../server/live/protocol.ts';
import { decodeSampleFrame, type SampleFrame } from '../../../server/live/sample-frame.ts';
import { texts } from '../../texts.ts';

export type Loaded<T> =
  | { readonly state: 'loading' }
  | { readonly state: 'failed'; readonly why: string }
  | { readonly state: 'loaded'; readonly value: T };

export const sessions = signal<Loaded<readonly SessionListing[]>>({ state: 'loading' });
export const contents = signal<{ readonly session: string; readonly loaded: Loaded<SessionContents> } | null>(null);

/** Which sessions are listed. */
export const listed = signal<{ readonly search: string; readonly place: Place }>({ search: '', place: 'recordings' });

export async function loadSessions(): Promise<void> {
  const wanted = listed.value;
  const loaded = await fetchJson<readonly SessionListing[]>(`/api/sessions?${new URLSearchParams(wanted)}`);
  if (wanted !== listed.value) return;
  // A list that was there stays while a newer one can't be had.
  if (loaded.state === 'loaded' || sessions.value.state !== 'loaded') sessions.value = loaded;
}

export async function loadContents(session: string): Promise<void> {
  if (contents.value?.session !== session) contents.value = { session, loaded: { state: 'loading' } };
  const loaded = await fetchJson<SessionContents>(`/api/sessions/${encodeURIComponent(session)}`);
  if (contents.value?.session === session) contents.value = { session, loaded };
}

/** What was kept with a session under a name; null when nothing was. */
export function loadDocument<T>(session: string, name: string): Promise<Loaded<T | null>> {
  return fetchJson<T | null>(`/api/sessions/${encodeURIComponent(session)}/documents/${name}`);
}

export function loadFound(session: string): Promise<Loaded<FoundByReadings | null>> {
  return fetchJson<FoundByReadings | null>(`/api/sessions/${encodeURIComponent(session)}/found`);
}

export interface TraceWanted {
  readonly session: string; readonly take: number; readonly meter: number;
  /** Session clock, s. */
  readonly from: number; readonly to: number;
  readonly columns: number;
}

export async function fetchTrace(wanted: TraceWanted, signal: AbortSignal): Promise<Loaded<SampleFrame>> {
  const query = new URLSearchParams({
    meter: String(wanted.meter), from: String(wanted.from), to: String(wanted.to), columns: String(wanted.columns),
  });
  const path = `/api/sessions/${encodeURIComponent(wanted.session)}/takes/${wanted.take}/trace?${query}`;
  return load(path, async (response) => decodeSampleFrame(await response.arrayBuffer()), signal);
}

export function fetchJson<T>(path: string): Promise<Loaded<T>> {
  return load(path, async (response) => (await response.json()) as T);
}

async function load<T>(path: string, read: (response: Response) => Promise<T>, signal?: AbortSignal): Promise<Loaded<T>> {
  try {
    const response = await fetch(path, { signal: signal ?? null, cache: 'no-store' });
    if (!response.ok) return { state: 'failed', why: await messageOf(response) };
    return { state: 'loaded', value: await read(response) };
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return { state: 'loading' };
    return { state: 'failed', why: texts.review.noContact };
  }
}

/** The service's own sentence, as JSON or as text. */
export async function messageOf(response: Response): Promise<string> {
  const text = await response.text();
  try {
    const { message } = JSON.parse(text) as { message?: unknown };
    if (typeof message === 'string') return message;
  } catch {
    // Not JSON: the text itself.
  }
  return text.slice(0, 300) || `${response.status}`;
}
