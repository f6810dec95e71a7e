/** What the library and its reader worker say to each other: calls of the shelf by name, with the answer or the error. */
import type { RecordingErrorCode } from './errors.ts';
import type { Shelf } from './shelf.ts';

export type ShelfCall = 'list' | 'contents' | 'trace' | 'samples' | 'document' | 'release' | 'move' | 'rename' | 'emptyTrash' | 'space' | 'lastHash';

export interface ToReader<Call extends ShelfCall = ShelfCall> {
  readonly request: number;
  readonly call: Call;
  readonly parameters: Parameters<Shelf[Call]>;
}

export type FromReader =
  | { readonly request: number; readonly kind: 'answer'; readonly answer: unknown }
  | { readonly request: number; readonly kind: 'error'; readonly code: RecordingErrorCode | null; readonly message: string };
