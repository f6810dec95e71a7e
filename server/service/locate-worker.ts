/** The thread that searches for the fault: it takes up to seconds, and neither meters nor screens wait for it. */
import { parentPort } from 'node:worker_threads';
import { searchFault, type SearchInput, type SearchResult } from '../session/fault-search.ts';

export interface ToLocate { readonly number: number; readonly input: SearchInput }
export type FromLocate =
  | { readonly number: number; readonly kind: 'done'; readonly result: SearchResult }
  | { readonly number: number; readonly kind: 'failed'; readonly message: string };

const port = parentPort!;
const tell = (message: FromLocate) => port.postMessage(message);

port.on('message', ({ number, input }: ToLocate) => {
  try {
    tell({ number, kind: 'done', result: searchFault(input) });
  } catch (error) {
    tell({ number, kind: 'failed', message: error instanceof Error ? error.message : String(error) });
  }
});
