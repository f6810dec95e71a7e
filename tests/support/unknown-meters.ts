/**
 * Meters of many makes, none of which exists: each seed makes another frame. Written apart from the decoders, so that
 * identifying and teaching are tried on bytes that they were not made for.
 */
import { randomFrom } from '../../drivers/simulated/random.ts';

export const FRAME_KINDS = [
  'ascii', 'ascii-point', 'bcd-packed', 'bcd-reversed', 'bcd-unpacked', 'integer-high-first', 'integer-low-first', 'integer-signed', 'integer-scaled', 'segments-byte', 'segments-halves',
  'integer-24',
] as const;
export type FrameKind = (typeof FRAME_KINDS)[number];

export interface DisplayState {
  /** Number shown without its point; null for over-range. */
  readonly count: number | null;
  readonly decimals: number;
  readonly unit: string;
}

export interface UnknownMeter {
  readonly kind: FrameKind;
  readonly length: number;
  frame(state: DisplayState): Uint8Array;
  /** What a user would type. */
  shown(state: DisplayState): string;
  /** SI value; NaN for over-range. */
  value(state: DisplayState): number;
}

const UNITS: Record<string, number> = { 'V DC': 0, 'mV DC': -3, 'kOhm': 3 };
/** a..g in bits 0..6: published shapes, see tests/reference/protocol-frames.ts. */
const SHAPES: Record<string, number> = { 0: 0x3f, 1: 0x06, 2: 0x5b, 3: 0x4f, 4: 0x66, 5: 0x6d, 6: 0x7d, 7: 0x07, 8: 0x7f, 9: 0x6f, L: 0x38, ' ': 0 };

export function unknownMeter(kind: FrameKind, seed: number): UnknownMeter {
  const random = randomFrom(seed);
  const pick = <T>(choices: readonly T[]): T => choices[Math.floor(random() * choices.length)] as T;
  const byte = (): number => Math.floor(random() * 256);
  const shuffled = <T>(items: readonly T[]): T[] => items.map((item) => ({ item, key: random() })).sort((a, b) => a.key - b.key).map(({ item }) => item);

  const header = pick([[0xaa], [0x55, 0xaa], [byte() | 0x80, byte() | 0x80], [0xab, 0xcd]]);
  const digitCount = pick([4, 5]);
  const unitCodes = shuffled([0x01, 0x02, 0x04, 0x11, 0x21]).slice(0, 3);
  const rangeShift = pick([0, 4]);
  const signBit = pick([0, 1, 2, 3]);
  const overBit = pick([4, 5, 6]);
  const hasCounter = random() < 0.3;
  const check = pick(['none', 'sum', 'xor'] as const);
  const end = pick([[], [0x0d], [0x0d, 0x0a]]);
  const segmentBits = shuffled([0, 1, 2, 3, 4, 5, 6, 7]).slice(0, 7);
  const halfBits = shuffled([0, 1, 2, 3, 8, 9, 10, 11]).slice(0, 7);
  let counter = byte();

  const digitsOf = (state: DisplayState): string => String(Math.abs(state.count ?? 0)).padStart(digitCount, '0');
  const body = (state: DisplayState): number[] => {
    const size = Math.abs(state.count ?? 0);
    const digits = digitsOf(state);
    switch (kind) {
      case 'ascii': return state.count === null ? [...`${' '.repeat(digitCount - 3)}0L `].map((c) => c.charCodeAt(0)) : [...digits].map((c) => c.charCodeAt(0));
      case 'ascii-point': {
        const at = digits.length - state.decimals;
        const text = state.count === null ? '0.L' : state.decimals === 0 ? digits : `${digits.slice(0, at)}.${digits.slice(at)}`;
        return [...((state.count ?? 0) < 0 ? '-' : ' ') + text.padEnd(digitCount + 1, ' ')].map((c) => c.charCodeAt(0));
      }
      case 'bcd-packed': case 'bcd-reversed': {
        const even = digits.padStart(digitCount + (digitCount % 2), '0');
        const bytes = Array.from({ length: even.length / 2 }, (_, i) => Number(even[2 * i]) * 16 + Number(even[2 * i + 1]));
        return kind === 'bcd-packed' ? bytes : bytes.reverse();
      }
      case 'bcd-unpacked': return [...digits].map(Number);
      case 'integer-high-first': return [size >> 8, size & 255];
      case 'integer-low-first': return [size & 255, size >> 8];
      case 'integer-24': return [size & 255, (size >> 8) & 255, size >> 16];
      case 'integer-signed': { const raw = (state.count ?? 0) & 0xffff; return [raw >> 8, raw & 255]; }
      case 'integer-scaled': { const raw = (state.count ?? 0) * 10 ** (3 - state.decimals); return [raw & 255, (raw >> 8) & 255, (raw >> 16) & 255, (raw >> 24) & 255]; }
      case 'segments-byte': return shownSegments(state).map((shape) => segmentBits.reduce((sum, bit, i) => sum | (((shape >> i) & 1) << bit), 0));
      case 'segments-halves': return shownSegments(state).flatMap((shape) => {
        const bits = halfBits.reduce((sum, bit, i) => sum | (((shape >> i) & 1) << bit), 0);
        return [bits & 255, bits >> 8];
      });
    }
  };
  const shownSegments = (state: DisplayState): number[] => [...(state.count === null ? ' 0L '.padEnd(digitCount) : digitsOf(state))].map((character) => SHAPES[character] as number);

  const frame = (state: DisplayState): Uint8Array => {
    const unitCode = unitCodes[Object.keys(UNITS).indexOf(state.unit)] as number;
    const isNegative = (state.count ?? 0) < 0;
    const status = (isNegative && kind !== 'integer-signed' && kind !== 'integer-scaled' && kind !== 'ascii-point' ? 1 << signBit : 0) | (state.count === null ? 1 << overBit : 0);
    const bytes = [...header, unitCode, ((state.decimals + 1) << rangeShift) & 0xff, ...body(state), status];
    if (hasCounter) bytes.push((counter = (counter + 1) & 255));
    if (check === 'sum') bytes.push(bytes.reduce((sum, each) => (sum + each) & 255, 0));
    if (check === 'xor') bytes.push(bytes.reduce((sum, each) => sum ^ each, 0));
    return Uint8Array.from([...bytes, ...end]);
  };
  return {
    kind,
    length: frame({ count: 0, decimals: 0, unit: 'V DC' }).length,
    frame,
    shown: ({ count, decimals, unit }) => {
      if (count === null) return `OL ${unit}`;
      const digits = String(Math.abs(count)).padStart(Math.max(digitCount, decimals + 1), '0');
      return `${count < 0 ? '-' : ''}${decimals === 0 ? digits : `${digits.slice(0, -decimals)}.${digits.slice(-decimals)}`} ${unit}`;
    },
    value: ({ count, decimals, unit }) => (count === null ? NaN : Number(`${count}e${(UNITS[unit] as number) - decimals}`)),
  };
}

/** What a user measures while teaching: batteries both ways round, resistors, leads apart. */
export function displayStates(seed: number, count: number): DisplayState[] {
  const random = randomFrom(seed);
  return Array.from({ length: count }, () => {
    const unit = ['V DC', 'mV DC', 'kOhm'][Math.floor(random() * 3)] as string;
    const isOver = unit === 'kOhm' && random() < 0.2;
    const size = Math.floor(random() * 6000);
    const negative = unit !== 'kOhm' && random() < 0.4;
    return { count: isOver ? null : negative ? -size : size, decimals: 1 + Math.floor(random() * 3), unit };
  });
}
