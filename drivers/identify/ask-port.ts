/**
 * Asks a meter that says nothing by itself who it is: by IEEE 488.2, and as a Modbus RTU station. Only after the user has agreed: what
 * hangs on the port may be no meter.
 */
import { RegisterAsker } from '../decoders/modbus.ts';
import type { Reading } from '../reading.ts';
import type { CapturedChunk } from '../teach/frames.ts';
import type { ListeningPort, RatedGuess } from './identify-port.ts';

export interface AskedPort {
  readonly port: ListeningPort;
  /** Heard since the rate was set. */
  readonly heard: () => readonly CapturedChunk[];
  readonly setBaud: (baud: number | null, parity?: 'none' | 'even') => Promise<void>;
  readonly isOver: () => boolean;
  /** Part of the questions that are asked, 0 to 1. */
  readonly onProgress: (share: number) => void;
}

type Question = (asked: AskedPort, clock: () => number) => Promise<Omit<RatedGuess, 'baud'> | null>;

/** How long an answer is awaited, s. */
const ANSWER_WAIT = 0.4;
const STEP_MS = 10;

/** The likeliest rates first (common practice, no source); Modbus RTU has even parity unless it was changed (Serial Line guide, 2.5.1; from memory). */
const ROUNDS: readonly { readonly baud: number; readonly parity: 'none' | 'even'; readonly questions: readonly Question[] }[] = [
  { baud: 9600, parity: 'none', questions: [askIdentity, askStation] },
  { baud: 115200, parity: 'none', questions: [askIdentity] },
  { baud: 19200, parity: 'none', questions: [askIdentity, askStation] },
  { baud: 9600, parity: 'even', questions: [askStation] },
  { baud: 19200, parity: 'even', questions: [askStation] },
];

/** @returns null when nothing answers */
export async function askPort(asked: AskedPort, clock: () => number): Promise<RatedGuess | null> {
  // A link without a rate is asked once.
  const rounds = asked.port.setBaud === undefined ? [{ baud: null, parity: 'none' as const, questions: [askIdentity, askStation] }] : ROUNDS;
  const all = rounds.reduce((sum, { questions }) => sum + questions.length, 0);
  let done = 0;
  for (const { baud, parity, questions } of rounds) {
    for (const question of questions) {
      if (asked.isOver()) return null;
      asked.onProgress(done++ / all);
      await asked.setBaud(baud, parity);
      const guess = await question(asked, clock);
      if (guess !== null) return { ...guess, baud, options: parity === 'none' ? guess.options : `parity=${parity}&${guess.options}` };
    }
  }
  return null;
}

/** IEEE 488.2, 10.14: maker, model, serial number, firmware. */
async function askIdentity({ port, heard, isOver }: AskedPort, clock: () => number): ReturnType<Question> {
  port.write(Buffer.from('*IDN?\n', 'latin1'));
  const identity = await answer(() => {
    const text = heard().map(({ bytes }) => Buffer.from(bytes).toString('latin1')).join('');
    return /^\s*([\x20-\x2b\x2d-\x7e]+(?:,[\x20-\x2b\x2d-\x7e]*){3})\r?\n/.exec(text)?.[1] ?? null;
  }, isOver, clock);
  return identity === null ? null : { options: 'decoder=scpi', confidence: 1, readings: [], interval: null, doubts: [`It says that it is ${identity}.`] };
}

/** Station 1 of a Modbus RTU line, asked for its first holding register, and when it has none for its first input register. */
async function askStation(asked: AskedPort, clock: () => number): ReturnType<Question> {
  let station: Awaited<ReturnType<Question>> = null;
  for (const registers of ['holding', 'input'] as const) {
    const { port, heard, isOver } = asked;
    const before = heard().length;
    const asker = new RegisterAsker({ slave: 1, function: registers === 'holding' ? 3 : 4, address: 0, type: 'i16', wordOrder: 'high-first', decimals: 0, words: [] }, 1);
    port.write(asker.ask(0) as Uint8Array);
    const readings: Reading[] = [];
    let isRefused = false;
    let taken = before;
    const sink = { reading: (reading: Reading) => void readings.push(reading), skipped: (_: number, why: string) => { isRefused ||= why === 'refused'; } };
    await answer(() => {
      for (const { bytes } of heard().slice(taken)) asker.decode(bytes, sink);
      taken = heard().length;
      return readings.length > 0 || isRefused ? true : null;
    }, isOver, clock);
    if (readings.length === 0 && !isRefused) return station;
    station = {
      options: `decoder=modbus&slave=1&registers=${registers}&register=0`, confidence: 1, readings, interval: null,
      doubts: ['It answers as Modbus station 1. Which register holds the reading, its type, scale and unit are in its manual; this is register 0 as it stands.'],
    };
    if (readings.length > 0) return station;
  }
  return station;
}

/** Looks again and again until there is an answer, or it takes too long. */
async function answer<T>(look: () => T | null, isOver: () => boolean, clock: () => number): Promise<T | null> {
  const until = clock() + ANSWER_WAIT;
  for (;;) {
    const found = look();
    if (found !== null || clock() >= until || isOver()) return found;
    await new Promise((resolve) => setTimeout(resolve, STEP_MS));
  }
}
