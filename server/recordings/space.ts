/**
 * Room on the disk: warns in time, and keeps a reserve that is given up when the disk runs full, so that there are
 * minutes left to make room in.
 */
import { accessSync, closeSync, constants, existsSync, fsyncSync, openSync, rmSync, statfsSync, writeSync } from 'node:fs';
import { dirname, join } from 'node:path';

export interface RecordingSpace {
  /** Free for this user on the disk of the recordings, bytes; null when it can't be told. */
  readonly freeBytes: number | null;
  /** What the recording takes now, bytes/s; 0 when nothing is being recorded. */
  readonly bytesPerSecond: number;
  /** Time until the disk is full, s; null when nothing is being recorded. */
  readonly secondsLeft: number | null;
  /** A sentence for the user when room gets short, else empty. */
  readonly message: string;
}

/** Until blocks are sealed and tell, a sample is taken for this many bytes: more than any meter's samples took in the bench. */
const BYTES_A_SAMPLE = 3;
/** The write-ahead log, unsealed samples and the reserve need this much beside the blocks. */
const WORKING_BYTES = 32 * 2 ** 20;
const WARN_BELOW_SECONDS = 2 * 3600;
const RATE_OVER_MS = 60_000;

const RESERVE_FILE = '.reserve';
const RESERVE_BYTES = 4 * 2 ** 20;
/** The reserve is made only where it takes less than a tenth of what is free. */
const RESERVE_SHARE = 0.1;

export interface Progress {
  /** Samples committed so far. */
  readonly samples: number;
  readonly sealedSamples: number;
  readonly sealedBytes: number;
}

export class SpaceWatch {
  readonly #folder: string;
  #past: { at: number; samples: number }[] = [];
  #isReserveUsed = false;

  constructor(folder: string) {
    this.#folder = folder;
  }

  /** @param now monotonic, ms */
  measure({ samples, sealedSamples, sealedBytes }: Progress, now: number): RecordingSpace {
    this.#past = [...this.#past.filter(({ at }) => now - at <= RATE_OVER_MS), { at: now, samples }];
    const first = this.#past[0]!;
    const perSecond = now > first.at ? ((samples - first.samples) / (now - first.at)) * 1000 : 0;
    const bytesPerSecond = perSecond * (sealedSamples > 0 ? sealedBytes / sealedSamples : BYTES_A_SAMPLE);
    const freeBytes = freeOn(this.#folder);
    const usable = freeBytes === null ? null : Math.max(0, freeBytes - WORKING_BYTES);
    const secondsLeft = bytesPerSecond > 0 && usable !== null ? usable / bytesPerSecond : null;
    return { freeBytes, bytesPerSecond, secondsLeft, message: this.#message(usable, secondsLeft) };
  }

  /** Makes the reserve where there is room for it. */
  keepReserve(): void {
    const file = join(this.#folder, RESERVE_FILE);
    const free = freeOn(this.#folder);
    if (existsSync(file) || free === null || free * RESERVE_SHARE < RESERVE_BYTES) return;
    try {
      const handle = openSync(file, 'wx');
      // Written, not just set to length: only then does it take up the room.
      writeSync(handle, new Uint8Array(RESERVE_BYTES));
      fsyncSync(handle);
      closeSync(handle);
      this.#isReserveUsed = false;
    } catch {
      rmSync(file, { force: true });
    }
  }

  /** @returns true when there was a reserve to give up */
  giveUpReserve(): boolean {
    const file = join(this.#folder, RESERVE_FILE);
    if (!existsSync(file)) return false;
    rmSync(file, { force: true });
    this.#isReserveUsed = true;
    return true;
  }

  #message(usable: number | null, secondsLeft: number | null): string {
    if (!canHold(this.#folder)) return `Nothing can be saved in ${this.#folder}: it may not be written to. Give this user the right to, or choose another folder with --recordings.`;
    if (usable === null) return '';
    if (this.#isReserveUsed) return 'The disk is full: the recording lives on its reserve. Free some space now.';
    if (usable === 0) return 'The disk of the recordings is nearly full: free some space.';
    if (secondsLeft !== null && secondsLeft < WARN_BELOW_SECONDS) {
      return `The disk of the recordings has room for about ${Math.max(1, Math.round(secondsLeft / 60))} more minutes: free some space.`;
    }
    return '';
  }
}

/** Whether the folder may be written to, or made where it is not there yet. */
function canHold(folder: string): boolean {
  try {
    accessSync(folder, constants.W_OK);
    return true;
  } catch (error) {
    const above = dirname(folder);
    return (error as NodeJS.ErrnoException).code === 'ENOENT' && above !== folder && canHold(above);
  }
}

function freeOn(folder: string): number | null {
  try {
    const { bavail, bsize } = statfsSync(folder);
    return bavail * bsize;
  } catch {
    return null;
  }
}
