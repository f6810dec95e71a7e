/** The thread that reads recordings, so that no query holds up the meters. Files are let go when nothing is asked for a while. */
import { parentPort, workerData } from 'node:worker_threads';
import { RecordingError } from './errors.ts';
import type { FromReader, ToReader } from './reader-protocol.ts';
import { Shelf } from './shelf.ts';

const RELEASE_AFTER_MS = 2000;

const port = parentPort!;
const shelf = new Shelf((workerData as { options: { folder: string } }).options.folder);
let releasing: NodeJS.Timeout | null = null;

port.on('message', ({ request, call, parameters }: ToReader | { request: 0; call: 'close'; parameters: [] }) => {
  if (releasing !== null) clearTimeout(releasing);
  if (call === 'close') {
    shelf.release();
    port.close();
    return;
  }
  try {
    const answer = (shelf[call] as (...parameters: unknown[]) => unknown)(...parameters);
    port.postMessage({ request, kind: 'answer', answer } satisfies FromReader, buffersOf(answer));
  } catch (error) {
    const code = error instanceof RecordingError ? error.code : null;
    const message = error instanceof Error ? (code === null ? error.stack ?? error.message : error.message) : String(error);
    port.postMessage({ request, kind: 'error', code, message } satisfies FromReader);
  }
  releasing = setTimeout(() => shelf.release(), RELEASE_AFTER_MS);
});

/** Columns of their own can be handed over without a copy; views of a larger buffer (a kept block) can not. */
function buffersOf(answer: unknown): ArrayBuffer[] {
  if (typeof answer !== 'object' || answer === null) return [];
  return Object.values(answer)
    .filter((column): column is Float64Array<ArrayBuffer> => ArrayBuffer.isView(column) && column.buffer instanceof ArrayBuffer)
    .filter((column) => column.byteLength > 0 && column.byteLength === column.buffer.byteLength)
    .map((column) => column.buffer);
}
