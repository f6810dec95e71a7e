/**
 * What could a captured stream be? Every decoder reads it; what reads most of it, with the most redundancy and the steadiest
 * pace, is offered first. Pure. The confidence is a score between 0 and 1 for ordering, not a probability.
 */
import { FrameDecoder } from '../decoders/frame-decoder.ts';
import type { FrameLayout } from '../decoders/frame-layout.ts';
import { type Layout, textOptions, type TextLayout } from '../decoders/text-layout.ts';
import { TextLineDecoder } from '../decoders/text-lines.ts';
import type { Reading } from '../reading.ts';
import type { CapturedChunk } from '../teach/frames.ts';

export interface Guess {
  /** Options of a meter address that read the stream so, e.g. "decoder=frame&layout=mirrored-display-14". */
  readonly options: string;
  readonly confidence: number;
  /** What it reads, newest last. */
  readonly readings: readonly Reading[];
  /** Measured from one reading to the next, s; null with fewer than three. */
  readonly interval: number | null;
  /** Why the confidence is not higher, as sentences. */
  readonly doubts: readonly string[];
}

interface Trial {
  readonly options: string;
  readonly readings: readonly Reading[];
  readonly arrivals: readonly number[];
  /** Bytes that belong to frames or lines that were read. */
  readonly readBytes: number;
  /** Bits of each frame or line that must be right for it to be read, about. */
  readonly redundancy: number;
  readonly allBytes: number;
}

/** A frame that is read by chance once in 2^this is as good as certain. */
const CERTAIN_BITS = 24;

/** @returns guesses with at least one reading, best first */
export function guessDecoders(chunks: readonly CapturedChunk[], layouts: readonly Layout[]): Guess[] {
  const trials: Trial[] = [];
  for (const { framing, strip } of textFramings(chunks)) {
    for (const newline of ['lf', 'cr'] as const) trials.push(tryText(chunks, newline, framing, strip));
    // Behind plain text: which of several meters a taught line belongs to can't be told from the line.
    for (const layout of layouts) if (layout.layout === 'text/1') trials.push(tryText(chunks, layout.newline, framing, strip, layout));
  }
  for (const layout of layouts) if (layout.layout === 'frame/1') trials.push(tryFrames(chunks, layout));
  const guesses = trials.filter(({ readings }) => readings.length > 0).map(guessOf);
  return guesses.filter((guess) => !isSaidAlready(guess, guesses)).sort((a, b) => b.confidence - a.confidence);
}

/** Lines that end with both signs are read by either: the usual one stands for both. */
function isSaidAlready({ options, readings }: Guess, guesses: readonly Guess[]): boolean {
  if (!/(^|&)newline=cr$/.test(options)) return false;
  const usual = options.replace(/&?newline=cr$/, '');
  return guesses.some((other) => other.options === usual && other.readings.length >= readings.length - 1);
}

/**
 * Seven data bits with a parity bit, listened to as eight without, show the parity as the eighth bit of every byte.
 */
function textFramings(chunks: readonly CapturedChunk[]): { framing: string; strip: boolean }[] {
  let even = 0;
  let odd = 0;
  let high = 0;
  let count = 0;
  for (const { bytes } of chunks) {
    for (const byte of bytes) {
      let ones = 0;
      for (let rest = byte; rest !== 0; rest &= rest - 1) ones++;
      if (ones % 2 === 0) even++;
      else odd++;
      if (byte >= 0x80) high++;
      count++;
    }
  }
  const framings = [{ framing: '', strip: false }];
  if (count < 12 || high === 0) return framings;
  // The first byte may be cut off in its middle.
  if (even >= count - 1) framings.unshift({ framing: 'data-bits=7&parity=even', strip: true });
  else if (odd >= count - 1) framings.unshift({ framing: 'data-bits=7&parity=odd', strip: true });
  else if (high === count) framings.unshift({ framing: 'data-bits=7&parity=mark', strip: true });
  return framings;
}

function tryText(chunks: readonly CapturedChunk[], newline: 'lf' | 'cr', framing: string, strip: boolean, layout: TextLayout | null = null): Trial {
  const decoder = new TextLineDecoder(layout === null ? {} : textOptions(layout));
  const end = newline === 'lf' ? 0x0a : 0x0d;
  const readings: Reading[] = [];
  const arrivals: number[] = [];
  let line = '';
  let lines = 0;
  let first = 0;
  let longest = 0;
  let readBytes = 0;
  let allBytes = 0;
  let unitBits = 0;
  for (const { arrival, bytes } of chunks) {
    for (const raw of bytes) {
      const byte = strip ? raw & 0x7f : raw;
      if (byte !== end) {
        if (line.length < 4096) line += String.fromCharCode(byte);
        continue;
      }
      // The first line may be half a one, and so may what follows the last: they count neither way, unless no line is that long.
      if (lines++ === 0) first = line.length;
      else {
        longest = Math.max(longest, line.length);
        allBytes += line.length + 1;
        const decoded = decoder.decodeLine(line);
        if (decoded.kind === 'reading') {
          readings.push(decoded.reading);
          arrivals.push(arrival);
          readBytes += line.length + 1;
          if (decoded.reading.quantity !== 'unknown') unitBits++;
        } else if (decoded.kind === 'empty') {
          readBytes += line.length + 1;
        }
      }
      line = '';
    }
  }
  // With the other end of line everything is one long line.
  const rest = Math.max(0, first - longest) + Math.max(0, line.length - longest);
  const options = [framing, layout === null ? (newline === 'cr' ? 'newline=cr' : '') : `layout=${layout.name}`].filter((option) => option !== '').join('&');
  const hasUnits = readings.length > 0 && unitBits === readings.length;
  return { options, readings, arrivals, readBytes, redundancy: hasUnits ? CERTAIN_BITS : 10, allBytes: allBytes + rest };
}

function tryFrames(chunks: readonly CapturedChunk[], layout: FrameLayout): Trial {
  const decoder = new FrameDecoder(layout);
  const readings: Reading[] = [];
  const arrivals: number[] = [];
  let allBytes = 0;
  for (const { arrival, bytes } of chunks) {
    allBytes += bytes.length;
    decoder.decode(bytes, {
      reading: (reading) => { readings.push(reading); arrivals.push(arrival); },
      skipped: () => undefined,
    });
  }
  const fixedBits = layout.fixed.reduce((sum, { mask }) => sum + mask.toString(2).replaceAll('0', '').length, 0);
  const checkBits = layout.checksum === undefined ? 0 : layout.checksum.as === 'crc16-modbus' ? 16 : 8;
  // A frame cut at each end is no fault of the layout.
  const cut = Math.min(allBytes - readings.length * layout.length, 2 * (layout.length - 1));
  return { options: `decoder=frame&layout=${layout.name}`, readings, arrivals, readBytes: readings.length * layout.length, redundancy: fixedBits + checkBits, allBytes: allBytes - Math.max(0, cut) };
}

function guessOf(trial: Trial): Guess {
  const { options, readings, arrivals, readBytes, allBytes, redundancy } = trial;
  const doubts: string[] = [];
  const share = allBytes === 0 ? 0 : Math.min(1, readBytes / allBytes);
  if (share < 0.95) doubts.push(`Only ${Math.round(100 * share)} % of the bytes are read.`);
  const enough = 1 - 0.5 ** readings.length;
  if (readings.length < 3) doubts.push(`Only ${readings.length === 1 ? 'one reading' : 'two readings'} so far.`);
  const certain = Math.min(1, (redundancy * readings.length) / CERTAIN_BITS);
  if (redundancy < CERTAIN_BITS && readings.every((reading) => reading.quantity === 'unknown')) doubts.push('No unit is sent: type it, as in unit=V.');
  const interval = readings.length < 3 ? null : ((arrivals.at(-1) as number) - (arrivals[0] as number)) / (readings.length - 1);
  const changes = readings.filter((reading, i) => i > 0 && reading.quantity !== (readings[i - 1] as Reading).quantity).length;
  const steady = readings.length < 2 ? 1 : 1 - changes / (readings.length - 1);
  if (steady < 1) doubts.push('The quantity changes from reading to reading.');
  return { options, confidence: share * share * enough * certain * (0.5 + 0.5 * steady), readings: readings.slice(-8), interval: interval !== null && interval > 0 ? interval : null, doubts };
}
