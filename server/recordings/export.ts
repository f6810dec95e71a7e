/**
 * Out of a session: the same samples as CSV with W3C metadata, as JSON, or as Parquet. Page by page, so that memory stays
 * the same however long the session; into a file beside the target that takes its name only when it is whole.
 */
import { once } from 'node:events';
import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { basename, extname } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { copySession } from './copy-session.ts';
import { csvMetadata, csvRows, CSV_HEADING } from './export-csv.ts';
import { jsonParts } from './export-json.ts';
import { writeParquet } from './export-parquet.ts';
import type { SessionReader } from './session-reader.ts';
import { type ExactSamples, toSamples } from './stored-columns.ts';
import { EXPORT_FORMATS, type ExportFormat, type Exported } from './offers.ts';

export interface ExportOptions {
  readonly format: ExportFormat;
  /** Only this take; all when null, and always in a whole session. */
  readonly take: number | null;
  /** Only this meter; all when null. */
  readonly meter: number | null;
  /** Share done, 0 to 1. */
  onProgress?(share: number): void;
  /** Stops the export; nothing is left behind. */
  readonly signal?: AbortSignal | undefined;
}

export interface SamplePage {
  readonly take: number;
  readonly meter: number;
  readonly samples: ExactSamples;
  /** This page begins the samples of its take and meter. */
  readonly isFirst: boolean;
}

/** The format that a file name asks for, or null. */
export function formatOf(file: string): ExportFormat | null {
  const ending = extname(file).slice(1).toLowerCase();
  return EXPORT_FORMATS.find((format) => format === ending) ?? null;
}

/**
 * Writes a session to a file. CSV gets a second file beside it, with the ending -metadata.json.
 * @throws {Error} of the file system; AbortError when it was stopped
 */
export async function exportSession(reader: SessionReader, target: string, options: ExportOptions): Promise<Exported> {
  if (options.format === 'sqlite') return copySession(reader.path, target);
  const part = `${target}.part`;
  const source = new SampleSource(reader, options);
  try {
    const files = [basename(target)];
    if (options.format === 'parquet') {
      await writeParquet(part, reader, source);
    } else {
      await writeText(part, options.format === 'csv' ? csvText(source) : jsonParts(reader, source));
      if (options.format === 'csv') {
        await writeText(`${target}-metadata.json`, [csvMetadata(reader, basename(target))]);
        files.push(`${basename(target)}-metadata.json`);
      }
    }
    await rename(part, target);
    return { samples: source.done, files };
  } catch (error) {
    await Promise.all([part, ...(options.format === 'csv' ? [`${target}-metadata.json`] : [])].map((file) => rm(file, { force: true })));
    throw error;
  }
}

/** The samples asked for, page by page; tells progress, stops when asked to, and lets others run in between. */
export class SampleSource {
  static readonly PAGE = 32_768;
  done = 0;
  readonly #reader: SessionReader;
  readonly #options: ExportOptions;

  constructor(reader: SessionReader, options: ExportOptions) {
    this.#reader = reader;
    this.#options = options;
  }

  async *pages(): AsyncGenerator<SamplePage> {
    const { take: onlyTake, meter: onlyMeter, onProgress, signal } = this.#options;
    const streams = this.#reader.takes()
      .filter(({ take }) => onlyTake === null || take.id === onlyTake)
      .flatMap(({ take }) => this.#reader.metersOf(take.id).map((meter) => ({ take: take.id, meter })))
      .filter(({ meter }) => onlyMeter === null || meter === onlyMeter)
      .map((stream) => ({ ...stream, total: this.#reader.extent(stream.take, stream.meter)?.samples ?? 0 }));
    const total = streams.reduce((sum, stream) => sum + stream.total, 0);
    for (const { take, meter, total: ofStream } of streams) {
      for (let from = 0; from < ofStream; from += SampleSource.PAGE) {
        signal?.throwIfAborted();
        const samples = toSamples(this.#reader.samples(take, meter, from, Math.min(ofStream, from + SampleSource.PAGE)));
        yield { take, meter, samples, isFirst: from === 0 };
        this.done += samples.length;
        onProgress?.(this.done / total);
        await nextTurn();
      }
    }
    signal?.throwIfAborted();
  }
}

async function* csvText(source: SampleSource): AsyncGenerator<string> {
  yield CSV_HEADING;
  for await (const page of source.pages()) yield csvRows(page);
}

async function writeText(file: string, parts: Iterable<string> | AsyncIterable<string>): Promise<void> {
  const stream = createWriteStream(file);
  try {
    for await (const part of parts) if (!stream.write(part)) await once(stream, 'drain');
    stream.end();
    await once(stream, 'finish');
  } finally {
    stream.destroy();
  }
}
