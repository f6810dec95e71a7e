/**
 * Bench meters that speak SCPI (IEEE 488.2 grammar) over any byte transport: asked who they are, set to a function, then asked
 * for one reading after another. Every question waits for its answer; after an answer that does not come, the line is brought back into
 * step by the error queue, whose answers (a number and a quoted text) cannot be taken for a reading.
 */
import type { Asker } from './asker.ts';
import type { DecodeSink } from './decoder.ts';
import { TextLineDecoder } from './text-lines.ts';

/** What the meter may be set to, and the unit that its bare numbers then have. */
export const SCPI_FUNCTIONS = {
  'VOLT:DC': 'V DC', 'VOLT:AC': 'V AC', 'CURR:DC': 'A DC', 'CURR:AC': 'A AC', RES: 'Ohm', FRES: 'Ohm', FREQ: 'Hz', CAP: 'F', TEMP: 'degC',
} as const;
export type ScpiFunction = keyof typeof SCPI_FUNCTIONS;

export interface ScpiOptions {
  /** Set at the start; null leaves the meter as it is and asks it what it measures. */
  readonly function: ScpiFunction | null;
  /** Full scale to lock, in the function's unit, or null for the meter's own choice. */
  readonly range: number | null;
  /** READ? starts a new measurement each time, FETCh? takes the last one. */
  readonly query: 'READ?' | 'FETC?';
  /** s from one question for a reading to the next; sooner than the meter can is as fast as it can. */
  readonly every: number;
  /** How long to wait for an answer, s. */
  readonly patience: number;
}

export interface ScpiIdentity {
  readonly maker: string;
  readonly model: string;
  readonly serialNumber: string;
  readonly firmware: string;
}

type Step = 'identify' | 'configure' | 'check' | 'ask-function' | 'read' | 'realign' | 'drain-errors';

const LONGEST_LINE = 4096;
/** SYSTem:ERRor? answers like 0,"No error" or -113,"Undefined header". */
const ERROR_ANSWER = /^([+-]?)\s*(\d+)\s*,\s*"(?:[^"]|"")*"$/;
/** Errors drained at once at most: a queue that never empties is a fault of its own. */
const MOST_ERRORS = 32;

export class ScpiAsker implements Asker {
  readonly #options: ScpiOptions;
  #decoder: TextLineDecoder;
  #step: Step = 'identify';
  /** A question is out; what comes next is its answer. */
  #awaiting = false;
  #deadline = 0;
  #nextReadAt = -Infinity;
  #line = '';
  #tooLong = false;
  #identity: ScpiIdentity | null = null;
  #errors: string[] = [];
  #drained = 0;
  /** What to do once the error queue is empty. */
  #afterErrors: Step = 'read';

  constructor(options: ScpiOptions) {
    if (!(options.every > 0 && options.patience > 0)) throw new RangeError('questions must be more than 0 s apart, and answers awaited for more than 0 s');
    this.#options = options;
    this.#decoder = new TextLineDecoder({ decimal: 'point', ...(options.function === null ? {} : { unit: SCPI_FUNCTIONS[options.function] }) });
  }

  /** Who the meter says it is; null until it has answered. */
  identity(): ScpiIdentity | null {
    return this.#identity;
  }

  /** What the meter's error queue held, newest last, as it wrote it. At most the last 20. */
  errors(): readonly string[] {
    return this.#errors;
  }

  ask(now: number): Uint8Array | null {
    if (this.#awaiting) {
      if (now < this.#deadline) return null;
      // No answer. A late one must not be taken for the answer to the next question.
      this.#awaiting = false;
      if (this.#step !== 'identify') this.#afterErrors = this.#step === 'check' || this.#step === 'ask-function' ? 'configure' : 'read';
      this.#step = this.#step === 'identify' ? 'identify' : 'realign';
    }
    switch (this.#step) {
      case 'identify': return this.#question('*IDN?', now);
      case 'configure': return this.#configure(now);
      case 'check': case 'realign': case 'drain-errors': return this.#question('SYST:ERR?', now);
      case 'ask-function': return this.#question('FUNC?', now);
      case 'read':
        if (now < this.#nextReadAt) return null;
        this.#nextReadAt = this.#nextReadAt + this.#options.every > now ? this.#nextReadAt + this.#options.every : now + this.#options.every;
        return this.#question(this.#options.query, now);
    }
  }

  askAgainAt(): number {
    if (this.#awaiting) return this.#deadline;
    return this.#step === 'read' ? this.#nextReadAt : -Infinity;
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    for (const byte of bytes) {
      if (byte === 0x0a) this.#takeLine(sink);
      else if (this.#line.length < LONGEST_LINE) this.#line += String.fromCharCode(byte);
      else this.#tooLong = true;
    }
  }

  #question(text: string, now: number): Uint8Array {
    this.#awaiting = true;
    this.#deadline = now + this.#options.patience;
    return ascii(`${text}\n`);
  }

  #configure(now: number): Uint8Array {
    const { function: meterFunction, range } = this.#options;
    if (meterFunction === null) {
      this.#step = 'ask-function';
      return this.#question('FUNC?', now);
    }
    this.#step = 'check';
    this.#drained = 0;
    return this.#question(`*CLS\nCONF:${meterFunction}${range === null ? '' : ` ${range}`}\nSYST:ERR?`, now);
  }

  #takeLine(sink: DecodeSink): void {
    const line = this.#line.trim();
    const length = this.#line.length + 1;
    const wasTooLong = this.#tooLong;
    this.#line = '';
    this.#tooLong = false;
    if (wasTooLong) return sink.skipped(length, 'too-long');
    if (line === '') return;
    if (!this.#awaiting) return sink.skipped(length, 'unknown-frame');
    switch (this.#step) {
      case 'identify': return this.#takeIdentity(line, length, sink);
      case 'ask-function': return this.#takeFunction(line, length, sink);
      case 'check': case 'drain-errors': case 'realign': return this.#takeError(line, length, sink);
      default: return this.#takeReading(line, length, sink);
    }
  }

  #takeIdentity(line: string, length: number, sink: DecodeSink): void {
    const fields = line.split(',').map((field) => field.trim());
    if (fields.length !== 4) return sink.skipped(length, 'unknown-frame');
    const [maker, model, serialNumber, firmware] = fields as [string, string, string, string];
    this.#identity = { maker, model, serialNumber, firmware };
    this.#answered('configure');
  }

  #takeFunction(line: string, length: number, sink: DecodeSink): void {
    const unit = unitOfFunction(line);
    if (unit === null) sink.skipped(length, 'unknown-unit');
    else this.#decoder = new TextLineDecoder({ decimal: 'point', unit });
    this.#answered('read');
  }

  #takeError(line: string, length: number, sink: DecodeSink): void {
    const parts = ERROR_ANSWER.exec(line);
    // Anything else is an answer that came too late.
    if (parts === null) return sink.skipped(length, 'unknown-frame');
    if (Number(parts[2]) === 0 || ++this.#drained >= MOST_ERRORS) {
      this.#drained = 0;
      const next = this.#step === 'check' ? 'read' : this.#afterErrors;
      this.#answered(next);
      return;
    }
    this.#errors = [...this.#errors.slice(-19), line];
    sink.skipped(length, 'refused');
    this.#answered(this.#step === 'check' ? 'check' : 'drain-errors');
  }

  #takeReading(line: string, length: number, sink: DecodeSink): void {
    const decoded = this.#decoder.decodeLine(line);
    if (decoded.kind === 'reading') {
      sink.reading(decoded.reading);
      this.#answered('read');
      return;
    }
    if (decoded.kind === 'skipped') sink.skipped(length, decoded.why);
    this.#afterErrors = 'read';
    this.#answered('drain-errors');
  }

  #answered(next: Step): void {
    this.#awaiting = false;
    this.#step = next;
  }
}

/** The unit for an answer to FUNC?, such as "VOLT" or "CURR:AC", long or short form. @returns null for a function not known here */
function unitOfFunction(answer: string): string | null {
  const name = answer.replaceAll('"', '').toUpperCase().replace(/^(SENS(E)?:)?/, '');
  const short = name.replace('VOLTAGE', 'VOLT').replace('CURRENT', 'CURR').replace('FRESISTANCE', 'FRES').replace('RESISTANCE', 'RES')
    .replace('FREQUENCY', 'FREQ').replace('CAPACITANCE', 'CAP').replace('TEMPERATURE', 'TEMP');
  const full = short === 'VOLT' || short === 'CURR' ? `${short}:DC` : short;
  return full in SCPI_FUNCTIONS ? SCPI_FUNCTIONS[full as ScpiFunction] : null;
}

function ascii(text: string): Uint8Array {
  return Uint8Array.from(text, (character) => character.charCodeAt(0) & 0xff);
}
