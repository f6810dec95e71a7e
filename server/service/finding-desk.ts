/** Finds out what an unknown meter says, one meter at a time; every dashboard sees how far it is and what came of it. */
import {
  AddressError, identifyAddress, identifyMeter, placeOf, readAs,
  type ByteMeter, type Identification, type IdentifyPortOptions, type IdentifyProgress, type Layout, type RatedGuess,
} from '../../drivers/index.ts';
import { RequestRefused } from '../live/index.ts';
import type { FindRequest, FoundGuess, LiveFinding } from '../live/protocol.ts';
import { shownReading } from './shown-reading.ts';

export interface FindingParts {
  /** The attached meter at a place, or null. */
  readonly attached: (place: string) => { readonly index: number; readonly meter: ByteMeter } | null;
  readonly layouts: () => readonly Layout[];
  /** Whether an address can be attached. */
  readonly isMeter: (address: string) => boolean;
  readonly onChanged: () => void;
}

/** Guesses worth showing. */
const MOST_GUESSES = 4;
const LEAST_CONFIDENCE = 0.05;

export class FindingDesk {
  readonly #parts: FindingParts;
  #finding: LiveFinding | null = null;
  #control: AbortController | null = null;
  #running: Promise<void> = Promise.resolve();

  constructor(parts: FindingParts) {
    this.#parts = parts;
  }

  state(): LiveFinding | null {
    return this.#finding;
  }

  /** @throws {RequestRefused} FINDING_RUNS */
  carryOut(request: FindRequest): void {
    if (request.type === 'stop-finding') {
      this.#control?.abort();
      this.#control = null;
      this.#finding = null;
      return;
    }
    if (this.#control !== null) throw new RequestRefused('FINDING_RUNS', 'Another meter is being found out: wait for it, or stop it.');
    const { address, mayAsk, patience } = request;
    const control = new AbortController();
    const meter = this.#parts.attached(placeOf(address));
    const options: IdentifyPortOptions = {
      layouts: this.#parts.layouts(), signal: control.signal,
      ...(mayAsk === undefined ? {} : { mayAsk }), ...(patience === undefined ? {} : { patience }),
      onProgress: (progress) => this.#tell(control, progress),
    };
    // A port that is being let go of may still be open for a moment.
    const identified = this.#running.then(() => (meter === null ? identifyAddress(address, options) : identifyMeter(meter.meter, options)));
    this.#control = control;
    this.#finding = {
      address, meter: meter?.index ?? null, phase: mayAsk === true ? 'asking' : 'listening', baud: null, bytes: 0, share: 0, wasAsked: mayAsk === true,
      guesses: [], frames: null, teachAddress: null, message: '',
    };
    this.#running = identified.then(
      (identification) => this.#conclude(control, identification),
      (error: unknown) => this.#conclude(control, { kind: 'trouble', status: { state: 'failed', code: '', message: sayFailure(error) } }),
    );
  }

  /** Waits until no port is held open any more. */
  async close(): Promise<void> {
    this.#control?.abort();
    await this.#running;
  }

  #tell(control: AbortController, { phase, baud, bytes, share }: IdentifyProgress): void {
    if (this.#control !== control || this.#finding === null) return;
    this.#finding = { ...this.#finding, phase, baud, bytes, share };
    this.#parts.onChanged();
  }

  #conclude(control: AbortController, identification: Identification): void {
    if (this.#control !== control || this.#finding === null) return;
    this.#control = null;
    const { address, meter } = this.#finding;
    const found = this.#finding;
    switch (identification.kind) {
      case 'recognised':
        this.#finding = { ...found, phase: 'recognised', guesses: worthShowing(address, identification.guesses, this.#parts.isMeter) };
        break;
      case 'unrecognised': {
        const { baud, settings, frames, chunks } = identification;
        this.#finding = {
          ...found, phase: 'unrecognised', baud, bytes: chunks.reduce((sum, { bytes }) => sum + bytes.length, 0),
          frames: frames === null ? null : { length: frames.length, count: frames.frames.length },
          teachAddress: meter === null ? readAs(address, baud, settings) : null,
        };
        break;
      }
      case 'silent':
        this.#finding = { ...found, phase: 'silent', wasAsked: identification.asked };
        break;
      case 'trouble':
        this.#finding = { ...found, phase: 'trouble', message: identification.status.message };
    }
    this.#parts.onChanged();
  }
}

/** @param isMeter  whether an address can be attached: a link whose line can't be set is read as it is, or not at all */
function worthShowing(address: string, guesses: readonly RatedGuess[], isMeter: (address: string) => boolean): FoundGuess[] {
  const usable = guesses.map(({ options, ...guess }) => ({ ...guess, address: readAs(address, guess.baud, options) })).filter((guess) => isMeter(guess.address));
  const shown = usable.filter(({ confidence }, i) => i === 0 || confidence >= LEAST_CONFIDENCE).slice(0, MOST_GUESSES);
  return shown.map(({ address: as, baud, confidence, interval, doubts, readings }) => ({ address: as, baud, confidence, interval, doubts, readings: readings.map(shownReading) }));
}

function sayFailure(error: unknown): string {
  if (error instanceof AddressError) return error.message;
  // Anything else is a fault of the service: it must show in the terminal.
  console.error(error);
  return 'This could not be found out; the terminal of the service says why.';
}
