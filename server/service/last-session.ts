/** Which session was at hand when the service last ran, so that it can be offered again after a restart, however it ended. */
import { mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import type { LiveOffer } from '../live/protocol.ts';
import type { Library } from '../recordings/index.ts';

export class LastSession {
  readonly #file: string;
  #offer: LiveOffer | null = null;
  #atHand: string | null = null;

  /** @param file  where it is kept */
  constructor(file: string) {
    this.#file = file;
  }

  /** The session that may be gone on with; null when there is none, or another has been begun meanwhile. */
  get offer(): LiveOffer | null {
    return this.#offer;
  }

  /** Looks what became of the session of last time; one that is gone, damaged or empty is not offered. */
  async recall(library: Library): Promise<void> {
    const name = this.#read();
    if (name === null) return;
    const listing = (await library.list()).find(({ session }) => session === name);
    if (this.#atHand !== null || listing === undefined || listing.state === 'damaged' || listing.info === null) return;
    this.#offer = { session: name, info: listing.info, takes: listing.takes };
  }

  /** Another session has a file now; null: a new one has begun that has none yet. */
  atHand(session: string | null): void {
    if (session === this.#atHand) return;
    this.#atHand = session;
    this.forget();
    this.#write(session);
  }

  /** Is not to be offered any longer. */
  forget(): void {
    this.#offer = null;
  }

  #read(): string | null {
    try {
      const { session } = JSON.parse(readFileSync(this.#file, 'utf8')) as { session?: unknown };
      return typeof session === 'string' ? session : null;
    } catch {
      // Missing, or not ours: then there is nothing to offer.
      return null;
    }
  }

  #write(session: string | null): void {
    try {
      if (session === null) return rmSync(this.#file, { force: true });
      mkdirSync(dirname(this.#file), { recursive: true });
      writeFileSync(`${this.#file}.part`, JSON.stringify({ session }));
      renameSync(`${this.#file}.part`, this.#file);
    } catch {
      // A disk that is full or read-only is told about by the recorder; here it costs only the offer.
    }
  }
}
