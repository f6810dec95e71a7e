/**
 * Text lines out of a byte stream, decoded. The cutting is done by the serial port library's line parser; around it
 * stands a guard, because the parser alone buffers without bound when no line ends, and because a stream
 * that is joined in the middle of a line must not give half a number.
 */
import { ReadlineParser } from '@serialport/parser-readline';
import type { Decoder, DecodeSink } from '../decoders/decoder.ts';
import type { TextLineDecoder } from '../decoders/text-lines.ts';

export type Newline = 'lf' | 'cr';

/** Longest line, bytes. A longer one is skipped whole. */
export const LONGEST_LINE = 4096;

const NO_SINK: DecodeSink = { reading: () => undefined, skipped: () => undefined };

export interface LineReaderOptions {
  readonly newline: Newline;
  /** True when the first byte is known to begin a line; otherwise the first line is dropped, as it may be half a line. */
  readonly startsAtLine: boolean;
}

export class LineReader implements Decoder {
  readonly #decoder: TextLineDecoder;
  readonly #end: number;
  readonly #delimiter: string;
  #parser: ReadlineParser;
  #sink = NO_SINK;
  /** Bytes of a line that has begun and not ended, as held by the parser or, while discarding, thrown away. */
  #pending = 0;
  /** Inside a line that grew too long: everything up to its end is thrown away. */
  #discarding = false;
  #inFirstLine: boolean;

  constructor(decoder: TextLineDecoder, options: LineReaderOptions) {
    this.#decoder = decoder;
    this.#delimiter = options.newline === 'cr' ? '\r' : '\n';
    this.#end = this.#delimiter.charCodeAt(0);
    this.#inFirstLine = !options.startsAtLine;
    this.#parser = this.#newParser();
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    this.#sink = sink;
    const lastEnd = bytes.lastIndexOf(this.#end);
    let from = 0;
    if (this.#discarding) {
      const end = bytes.indexOf(this.#end);
      if (end < 0) {
        this.#pending += bytes.length;
        return;
      }
      this.#skipLong(this.#pending + end + 1);
      this.#discarding = false;
      from = end + 1;
      this.#pending = 0;
    }
    const tail = lastEnd < from ? this.#pending + bytes.length - from : bytes.length - 1 - lastEnd;
    if (tail > LONGEST_LINE) {
      // Whole lines go on; the unfinished one is given up, and the parser with what it holds of it.
      if (lastEnd >= from) this.#parse(bytes.subarray(from, lastEnd + 1));
      this.#parser.destroy();
      this.#parser = this.#newParser();
      this.#discarding = true;
    } else if (from < bytes.length) {
      this.#parse(bytes.subarray(from));
    }
    this.#pending = tail;
  }

  #parse(bytes: Uint8Array): void {
    this.#parser.write(bytes);
  }

  #newParser(): ReadlineParser {
    const parser = new ReadlineParser({ delimiter: this.#delimiter, encoding: 'latin1', includeDelimiter: true });
    parser.on('data', (line: string) => this.#takeLine(line));
    // Until its first read a stream holds data back for the next turn; every line must come out within `write`,
    // so that it is dated by the chunk that ended it.
    parser.read(0);
    return parser;
  }

  #takeLine(line: string): void {
    if (this.#inFirstLine) {
      this.#inFirstLine = false;
      if (line.length > 1) return;
    }
    if (line.length > LONGEST_LINE) return this.#skipLong(line.length);
    const decoded = this.#decoder.decodeLine(line);
    if (decoded.kind === 'reading') this.#sink.reading(decoded.reading);
    else if (decoded.kind === 'skipped') this.#sink.skipped(line.length, decoded.why);
  }

  #skipLong(length: number): void {
    this.#inFirstLine = false;
    this.#sink.skipped(length, 'too-long');
  }
}
