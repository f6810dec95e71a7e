/**
 * Text lines out of a byte stream, decoded. A guard bounds what is kept of a line that never ends, and a stream
 * that is joined in the middle of a line gives no half number. Lines come out within the call that brings their end, so that
 * each is dated by the chunk that completed it.
 */
import type { Decoder, DecodeSink } from '../decoders/decoder.ts';
import type { TextLineDecoder } from '../decoders/text-lines.ts';

export type Newline = 'lf' | 'cr';

/** Longest line, bytes. A longer one is skipped whole. */
export const LONGEST_LINE = 4096;

export interface LineReaderOptions {
  readonly newline: Newline;
  /** True when the first byte is known to begin a line; otherwise the first line is dropped, as it may be half a line. */
  readonly startsAtLine: boolean;
}

export class LineReader implements Decoder {
  readonly #decoder: TextLineDecoder;
  readonly #end: string;
  /** The line that has begun and not ended, at most LONGEST_LINE long. */
  #begun = '';
  /** Length so far of a line that grew too long, thrown away up to its end; 0 outside one. */
  #discarded = 0;
  #inFirstLine: boolean;

  constructor(decoder: TextLineDecoder, options: LineReaderOptions) {
    this.#decoder = decoder;
    this.#end = options.newline === 'cr' ? '\r' : '\n';
    this.#inFirstLine = !options.startsAtLine;
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1');
    let from = 0;
    for (let end = text.indexOf(this.#end); end >= 0; end = text.indexOf(this.#end, from)) {
      this.#takeLine(text, from, end + 1, sink);
      from = end + 1;
    }
    const rest = text.length - from;
    if (this.#discarded > 0) this.#discarded += rest;
    else if (this.#begun.length + rest > LONGEST_LINE) {
      this.#discarded = this.#begun.length + rest;
      this.#begun = '';
    } else if (rest > 0) this.#begun += text.slice(from);
  }

  #takeLine(text: string, from: number, to: number, sink: DecodeSink): void {
    const length = this.#discarded + this.#begun.length + to - from;
    const isFirst = this.#inFirstLine;
    this.#inFirstLine = false;
    if (length > LONGEST_LINE) {
      sink.skipped(length, 'too-long');
      this.#discarded = 0;
      this.#begun = '';
      return;
    }
    const line = this.#begun === '' ? text.slice(from, to) : this.#begun + text.slice(from, to);
    this.#begun = '';
    // The stream may have been joined in the middle of this line.
    if (isFirst && length > 1) return;
    const decoded = this.#decoder.decodeLine(line);
    if (decoded.kind === 'reading') sink.reading(decoded.reading);
    else if (decoded.kind === 'skipped') sink.skipped(length, decoded.why);
  }
}
