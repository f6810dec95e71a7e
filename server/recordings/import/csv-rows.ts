/** Rows of a table of text, whatever its coding and separator, as strings of Latin-1 (what the decoders of meters read). */
import { parse } from 'csv-parse';
import { createReadStream, statSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { Transform } from 'node:stream';
import { TextDecoder } from 'node:util';
import type { Delimiter } from '../offers.ts';

export interface CsvRow {
  readonly line: number;
  readonly cells: readonly string[];
  /** Share of the file read so far, 0 to 1. */
  readonly share: number;
}

/** A row longer than this is no row of a table. */
const LONGEST_ROW = 65_536;

export async function* csvRows(file: string, delimiter: Delimiter): AsyncGenerator<CsvRow> {
  const { size } = statSync(file);
  const input = createReadStream(file);
  const parser = parse({
    delimiter, encoding: 'latin1', relax_column_count: true, relax_quotes: true, skip_empty_lines: true, trim: true, info: true, max_record_size: LONGEST_ROW,
  });
  input.on('error', (error) => parser.destroy(error));
  const recoded = new Recoder();
  recoded.on('error', (error) => parser.destroy(error));
  input.pipe(recoded).pipe(parser);
  try {
    for await (const { record, info } of parser as AsyncIterable<{ record: string[]; info: { lines: number } }>) {
      yield { line: info.lines, cells: record, share: size === 0 ? 1 : Math.min(1, input.bytesRead / size) };
    }
  } finally {
    input.destroy();
  }
}

/** The first lines of a file, as Latin-1. */
export async function firstLines(file: string, bytes = 65_536): Promise<string[]> {
  const handle = await open(file);
  try {
    const buffer = Buffer.alloc(bytes);
    const { bytesRead } = await handle.read(buffer, 0, bytes, 0);
    const recoder = new Recoder();
    const text = Buffer.concat([recoder.recode(buffer.subarray(0, bytesRead)), recoder.rest()]).toString('latin1');
    const lines = text.split(/\r\n|\r|\n/);
    // The last one may be cut.
    return bytesRead === bytes ? lines.slice(0, -1) : lines;
  } finally {
    await handle.close();
  }
}

/** What was read as Latin-1, as text: UTF-8 where it is that. */
export function readable(text: string): string {
  const bytes = Buffer.from(text, 'latin1');
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return text;
  }
}

/** Takes the byte order mark away; turns UTF-16 into UTF-8. */
class Recoder extends Transform {
  #decoder: TextDecoder | null = null;
  #isStarted = false;

  recode(chunk: Buffer): Buffer {
    let bytes = chunk;
    if (!this.#isStarted) {
      this.#isStarted = true;
      if (chunk[0] === 0xff && chunk[1] === 0xfe) this.#decoder = new TextDecoder('utf-16le');
      else if (chunk[0] === 0xfe && chunk[1] === 0xff) this.#decoder = new TextDecoder('utf-16be');
      else if (chunk[0] === 0xef && chunk[1] === 0xbb && chunk[2] === 0xbf) bytes = chunk.subarray(3);
    }
    return this.#decoder === null ? bytes : Buffer.from(this.#decoder.decode(bytes, { stream: true }), 'utf8');
  }

  rest(): Buffer {
    return Buffer.from(this.#decoder?.decode() ?? '', 'utf8');
  }

  override _transform(chunk: Buffer, _encoding: string, done: (error: null, bytes: Buffer) => void): void {
    done(null, this.recode(chunk));
  }

  override _flush(done: (error: null, bytes: Buffer) => void): void {
    done(null, this.rest());
  }
}
