/** At the start of the service: sessions that a crash left open are completed, one after the other, each in a thread of its own. */
import { setTimeout as pause } from 'node:timers/promises';
import type { Library } from './library.ts';
import { FRESH_MS } from './session-reader.ts';
import { startJob } from './start-job.ts';

/**
 * One that cannot be completed now (another service records it, the disk is full) stays as it is: everything in it can be
 * read, and it is tried again at the next start.
 * @param signal stops it between two sessions
 * @returns names of the sessions that were completed
 */
export async function finishInterrupted(library: Library, folder: string, signal: AbortSignal): Promise<string[]> {
  const open = (await library.list()).filter(({ state, message }) => state === 'recording' || (state === 'complete' && message !== ''));
  const finished: string[] = [];
  const finishAll = async (names: readonly string[]): Promise<void> => {
    for (const session of names) {
      if (signal.aborted) return;
      const isDone = await startJob({ type: 'finish', folder, session }).done.then(() => true, () => false);
      if (isDone) finished.push(session);
    }
  };
  await finishAll(open.filter(({ state }) => state === 'complete').map(({ session }) => session));
  // A service that died a moment ago looks as if it still wrote.
  const fresh = open.filter(({ state }) => state === 'recording').map(({ session }) => session);
  if (fresh.length > 0) await pause(FRESH_MS + 1000, undefined, { signal }).then(() => finishAll(fresh), () => undefined);
  return finished;
}
