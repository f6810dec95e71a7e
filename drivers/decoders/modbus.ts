/**
 * Panel meters that hold their value in Modbus RTU registers. The question (function 3 or 4) is built here, the answer is
 * found among other bytes by its slave, function, length and CRC. Framing by content, not by pauses: pauses do
 * not survive USB adapters and networks.
 *
 *   question  slave function address(2) count(2) crc(2)        answer  slave function bytes data... crc(2)
 *                                                              refusal slave function+0x80 code crc(2)
 */
import { Flag } from '../reading.ts';
import { type Asker } from './asker.ts';
import { crc16Modbus } from './checksum.ts';
import { powerOfTen, scaledDecimal } from './decimal.ts';
import type { DecodeSink } from './decoder.ts';
import { meaningOfWords } from './frame-decoder.ts';

export const REGISTER_TYPES = ['u16', 'i16', 'u32', 'i32', 'f32'] as const;
export type RegisterType = (typeof REGISTER_TYPES)[number];

export interface RegisterLayout {
  readonly slave: number;
  /** 3: holding registers, 4: input registers. */
  readonly function: 3 | 4;
  /** Address of the first register, from 0. */
  readonly address: number;
  readonly type: RegisterType;
  /** Of two registers, which comes first. */
  readonly wordOrder: 'high-first' | 'low-first';
  /** The number held is the value times ten to this. For f32 only the resolution follows from it. */
  readonly decimals: number;
  /** Unit as meters print it, e.g. ["m", "V", "DC"]. */
  readonly words: readonly string[];
}

/** A question that gets no answer is asked again after this many periods. */
const PATIENCE_PERIODS = 3;
/** A run of bytes in no answer is told at least this often. */
const LONGEST_RUN = 4096;

export class RegisterAsker implements Asker {
  readonly #layout: RegisterLayout;
  readonly #meaning: NonNullable<ReturnType<typeof meaningOfWords>>;
  readonly #every: number;
  readonly #question: Uint8Array;
  readonly #registers: number;
  #held: number[] = [];
  #dueAt = -Infinity;
  #askedAt = 0;
  #awaited = false;
  #skippedRun = 0;
  #skippedWhy: 'checksum' | 'unknown-frame' = 'unknown-frame';

  /**
   * @param every  s from one question to the next
   * @throws {RangeError} for a slave, address or unit that cannot be
   */
  constructor(layout: RegisterLayout, every: number) {
    if (!(Number.isInteger(layout.slave) && layout.slave >= 1 && layout.slave <= 247)) throw new RangeError(`a slave has a number from 1 to 247, not ${layout.slave}`);
    if (!(Number.isInteger(layout.address) && layout.address >= 0 && layout.address <= 0xffff)) throw new RangeError(`a register has an address from 0 to 65535, not ${layout.address}`);
    if (!(every > 0)) throw new RangeError(`questions must be more than 0 s apart, not ${every}`);
    const meaning = meaningOfWords(layout.words);
    if (meaning === null) throw new RangeError(`"${layout.words.join(' ')}" is no unit that can be read`);
    this.#layout = layout;
    this.#meaning = meaning;
    this.#every = every;
    this.#registers = layout.type.endsWith('16') ? 1 : 2;
    this.#question = withCrc([layout.slave, layout.function, layout.address >> 8, layout.address & 255, 0, this.#registers]);
  }

  ask(now: number): Uint8Array | null {
    if (now < this.#dueAt) return null;
    this.#held = [];
    this.#awaited = true;
    this.#dueAt = now + this.#every * PATIENCE_PERIODS;
    this.#askedAt = now;
    return this.#question;
  }

  askAgainAt(): number {
    return this.#dueAt;
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    for (const byte of bytes) {
      this.#held.push(byte);
      this.#tryAnswer(sink);
    }
  }

  /** Looks for a whole answer at the front; bytes that begin none are passed over. */
  #tryAnswer(sink: DecodeSink): void {
    const { slave, function: code } = this.#layout;
    const held = this.#held;
    while (held.length > 0) {
      const isAnswer = held[1] === code;
      const isRefusal = held[1] === (code | 0x80);
      const length = isRefusal ? 5 : 5 + 2 * this.#registers;
      const couldBegin = held[0] === slave && (held.length < 2 || isAnswer || isRefusal) && (held.length < 3 || isRefusal || held[2] === 2 * this.#registers);
      if (couldBegin && held.length < length) break;
      if (couldBegin) {
        const frame = Uint8Array.from(held.slice(0, length));
        const crc = crc16Modbus(frame.subarray(0, length - 2));
        if (frame[length - 2] === (crc & 255) && frame[length - 1] === crc >> 8) {
          this.#tellSkipped(sink);
          held.splice(0, length);
          this.#take(frame, isRefusal, sink);
          return;
        }
        this.#skippedWhy = 'checksum';
      }
      held.shift();
      if (++this.#skippedRun >= LONGEST_RUN) this.#tellSkipped(sink);
    }
  }

  #tellSkipped(sink: DecodeSink): void {
    if (this.#skippedRun > 0) sink.skipped(this.#skippedRun, this.#skippedWhy);
    this.#skippedRun = 0;
    this.#skippedWhy = 'unknown-frame';
  }

  #take(frame: Uint8Array, isRefusal: boolean, sink: DecodeSink): void {
    if (this.#awaited) this.#dueAt = this.#askedAt + this.#every;
    this.#awaited = false;
    if (isRefusal) return sink.skipped(frame.length, 'refused');
    const { quantity, coupling, exponent, flags } = this.#meaning;
    const { type, wordOrder, decimals } = this.#layout;
    const data = new DataView(new ArrayBuffer(4));
    const first = ((frame[3] as number) << 8) | (frame[4] as number);
    if (this.#registers === 1) {
      data.setUint16(0, first);
    } else {
      const second = ((frame[5] as number) << 8) | (frame[6] as number);
      data.setUint16(wordOrder === 'high-first' ? 0 : 2, first);
      data.setUint16(wordOrder === 'high-first' ? 2 : 0, second);
    }
    const raw = { u16: () => data.getUint16(0), i16: () => data.getInt16(0), u32: () => data.getUint32(0), i32: () => data.getInt32(0), f32: () => data.getFloat32(0) }[type]();
    if (!Number.isFinite(raw)) {
      const special = Number.isNaN(raw) ? Flag.blank : Flag.overRange | (raw < 0 ? Flag.negative : 0);
      return sink.reading({ quantity, coupling, value: NaN, resolution: NaN, flags: flags | special });
    }
    const power = exponent - decimals;
    const value = type === 'f32' ? raw * powerOfTen(exponent) : Math.sign(raw) * scaledDecimal(Math.abs(raw), power);
    sink.reading({ quantity, coupling, value, resolution: powerOfTen(power), flags });
  }
}

function withCrc(bytes: readonly number[]): Uint8Array {
  const crc = crc16Modbus(Uint8Array.from(bytes));
  return Uint8Array.from([...bytes, crc & 255, crc >> 8]);
}
