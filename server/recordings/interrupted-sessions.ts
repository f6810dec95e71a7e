/** At the start of the service: sessions that a crash left open are completed, one after the other, each in a thread of its own. */
import { setTimeout as pause } from 'node:timers/promises';
import type { Library } from './library.ts';
import { FRESH_MS } from './session-reader.ts';
import { startJob } from './start-job.ts';

export class InterruptedSessions {
  readonly #folder: string;
  readonly #stopping = new AbortController();
  readonly #left = new Set<string>();
  #current: { readonly session: string; readonly done: Promise<unknown> } | null = null;
  readonly #done: Promise<void>;

  /**
   * Begins at once. One that cannot be completed now (another service records it, the disk is full) stays as it is: everything in
   * it can be read, and it is tried again at the next start.
   */
  constructor(library: Library, folder: string) {
    this.#folder = folder;
    this.#done = this.#finishAll(library);
  }

  /** Keeps its hands off a session that somebody goes on with. @returns when nobody works on it any longer */
  async leave(session: string): Promise<void> {
    this.#left.add(session);
    if (this.#current?.session === session) await this.#current.done;
  }

  /** Stops between two sessions. @returns when nothing is done any longer */
  async close(): Promise<void> {
    this.#stopping.abort();
    await this.#done.catch(() => undefined);
  }

  async #finishAll(library: Library): Promise<void> {
    const open = (await library.list()).filter(({ state, message }) => state === 'recording' || (state === 'complete' && message !== ''));
    for (const { session } of open.filter(({ state }) => state === 'complete')) await this.#finish(session);
    // A service that died a moment ago looks as if it still wrote.
    const fresh = open.filter(({ state }) => state === 'recording');
    if (fresh.length > 0) await pause(FRESH_MS + 1000, undefined, { signal: this.#stopping.signal });
    for (const { session } of fresh) await this.#finish(session);
  }

  async #finish(session: string): Promise<void> {
    if (this.#stopping.signal.aborted || this.#left.has(session)) return;
    const done = startJob({ type: 'finish', folder: this.#folder, session }).done.catch(() => undefined);
    this.#current = { session, done };
    await done;
    this.#current = null;
  }
}
