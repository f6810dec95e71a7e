/** Goes on with a recorded session: refused where that can't be, else read and handed over to be the one at hand. */
import { RequestRefused } from '../live/index.ts';
import type { InterruptedSessions, Library, ResumedSession } from '../recordings/index.ts';
import { RecordingError, startJob } from '../recordings/index.ts';
import type { SessionInfo } from '../session/session.ts';
import { withStretch } from '../session/wall-time.ts';

export interface GoingOnParts {
  /** Of the recordings. */
  readonly folder: string;
  readonly library: Library;
  readonly interrupted: () => InterruptedSessions | null;
  readonly isTakeRunning: () => boolean;
  /** Name of the file of the session at hand; null when it has none. */
  readonly fileAtHand: () => string | null;
  /** @param info  as it is from now on @param at  session clock, s, as it reads now */
  readonly turnTo: (session: string, stored: ResumedSession, info: SessionInfo, at: number) => void;
}

export class GoingOn {
  readonly #parts: GoingOnParts;
  #isBusy = false;

  constructor(parts: GoingOnParts) {
    this.#parts = parts;
  }

  /** @param session  its name among the recordings @throws {RequestRefused} also with the codes of a RecordingError */
  async goOn(session: string): Promise<void> {
    if (this.#isBusy) throw new RequestRefused('GOING_ON', 'A session is being opened already: wait a moment.');
    this.#refuse(session);
    this.#isBusy = true;
    try {
      const { folder, library, interrupted, turnTo } = this.#parts;
      await interrupted()?.leave(session);
      // A file that is open for looking at can't be told from one that somebody writes.
      await library.release();
      const stored = await startJob({ type: 'resume', folder, session }).done;
      // Something else may have been begun meanwhile.
      this.#refuse(session);
      const { info, at } = withStretch(stored.info, stored.newest, Date.now() * 1000);
      turnTo(session, stored, info, at);
    } catch (error) {
      if (error instanceof RecordingError) throw new RequestRefused(error.code, error.message, { cause: error });
      throw error;
    } finally {
      this.#isBusy = false;
    }
  }

  #refuse(session: string): void {
    if (this.#parts.isTakeRunning()) throw new RequestRefused('TAKE_RUNS', 'Stop the take first: it belongs to the session at hand.');
    if (this.#parts.fileAtHand() === session) throw new RequestRefused('SESSION_AT_HAND', 'This session is the one at hand: nothing needs to be opened.');
  }
}
