/** What a printed page says, by poppler's tools, which are not ours. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Paper {
  readonly pages: number;
  /** Of each page, in the order in which they are drawn, on one line. */
  readonly words: readonly string[];
}

export function paperOf(pdf: Uint8Array): Paper {
  return withFile(pdf, (file) => {
    const pages = Number(/^Pages:\s+(\d+)/m.exec(execFileSync('/usr/bin/pdfinfo', [file], { encoding: 'utf8' }))?.[1]);
    // Each page ends with a form feed.
    const words = execFileSync('/usr/bin/pdftotext', ['-raw', file, '-'], { encoding: 'utf8' }).split('\f').map((page) => page.replaceAll(/\s+/g, ' ')).slice(0, pages);
    return { pages, words };
  });
}

/** The first page as a picture: grey values, row by row. */
export function pictureOf(pdf: Uint8Array, dotsPerInch = 60): { readonly width: number; readonly height: number; readonly grey: Uint8Array } {
  return withFile(pdf, (file) => {
    const pgm = execFileSync('/usr/bin/pdftoppm', ['-gray', '-r', String(dotsPerInch), '-f', '1', '-l', '1', file], { maxBuffer: 64e6 });
    // Portable grey map: "P5", width, height, largest value, then one byte a pixel.
    const [head = '', width, height] = /^P5\s+(\d+)\s+(\d+)\s+\d+\s/.exec(pgm.subarray(0, 40).toString('latin1')) ?? [];
    return { width: Number(width), height: Number(height), grey: pgm.subarray(head.length) };
  });
}

function withFile<Result>(pdf: Uint8Array, use: (file: string) => Result): Result {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-paper-'));
  try {
    const file = join(folder, 'page.pdf');
    writeFileSync(file, pdf);
    return use(file);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
