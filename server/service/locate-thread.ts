/** Searches for the fault beside everything else: one search at a time, and of those that wait only the newest; one that is no longer asked for is ended. */
import type { Worker } from 'node:worker_threads';
import { startWorker } from '../recordings/index.ts';
import type { SearchInput, SearchResult } from '../session/fault-search.ts';
import type { FromLocate, ToLocate } from './locate-worker.ts';

export type SearchOutcome = { readonly kind: 'done'; readonly result: SearchResult } | { readonly kind: 'failed'; readonly message: string };

/** A search that has run for less than this is nearly done, most often: a new thread would take longer to start, ms. */
const NEARLY_DONE_MS = 500;

interface Asked { readonly input: SearchInput; readonly onDone: (outcome: SearchOutcome) => void }

export class LocateThread {
  #worker: Worker | null = null;
  #number = 0;
  #running: Asked | null = null;
  /** When the running search began; monotonic, ms. */
  #begunAt = 0;
  #waiting: Asked | null = null;

  /** What was asked for before is not answered any more. */
  search(input: SearchInput, onDone: (outcome: SearchOutcome) => void): void {
    this.#waiting = { input, onDone };
    if (this.#running === null) this.#next();
    else if (performance.now() - this.#begunAt > NEARLY_DONE_MS) this.#endRunning();
  }

  /** Nothing that was asked for is wanted any more. */
  forget(): void {
    this.#waiting = null;
    if (this.#running !== null) this.#endRunning();
  }

  /** With its thread: nothing in it could be told to stop. What waits is searched for in a new one. */
  #endRunning(): void {
    void this.#worker?.terminate();
    this.#worker = null;
    this.#running = null;
    this.#next();
  }

  async close(): Promise<void> {
    this.#waiting = null;
    this.#running = null;
    await this.#worker?.terminate();
    this.#worker = null;
  }

  #next(): void {
    this.#running = this.#waiting;
    this.#waiting = null;
    if (this.#running === null) return;
    this.#worker ??= this.#start();
    this.#begunAt = performance.now();
    this.#worker.postMessage({ number: ++this.#number, input: this.#running.input } satisfies ToLocate);
  }

  #start(): Worker {
    const worker = startWorker('locate-worker', null, import.meta.url);
    worker.on('message', (message: FromLocate) => {
      if (message.number === this.#number) this.#finish(message);
    });
    // A thread that broke, for instance for want of memory, is replaced with the next search.
    worker.on('error', (error: Error) => this.#lose(worker, error.message));
    worker.on('exit', () => this.#lose(worker, 'its thread ended'));
    worker.unref();
    return worker;
  }

  #lose(worker: Worker, message: string): void {
    if (this.#worker !== worker) return;
    this.#worker = null;
    if (this.#running !== null) this.#finish({ kind: 'failed', message });
  }

  #finish(outcome: SearchOutcome): void {
    const asked = this.#running;
    this.#running = null;
    // An answer to what is no longer the question is dropped.
    if (this.#waiting === null) asked?.onDone(outcome);
    this.#next();
  }
}
