/** The thread of one long job on recordings; ends with it. */
import { constants, setPriority } from 'node:os';
import { platform } from 'node:process';
import { parentPort, receiveMessageOnPort, workerData } from 'node:worker_threads';
import { RecordingError } from './errors.ts';
import { runJob, type Job, type FromJob } from './job.ts';

// Meters and recorder come first where processors are few. On Linux a priority is the thread's own; elsewhere it would be the whole service's.
if (platform === 'linux') setPriority(constants.priority.PRIORITY_BELOW_NORMAL);

const port = parentPort!;
const stopping = new AbortController();
port.on('message', () => stopping.abort());
const tell = (message: FromJob) => port.postMessage(message);

let told = 0;
/** At most fifty times a second: a progress bar needs no more. */
const onProgress = (share: number) => {
  // A job that never lets others run hears only here that it is to stop.
  if (receiveMessageOnPort(port) !== undefined) stopping.abort();
  const now = performance.now();
  if (share < 1 && now - told < 20) return;
  told = now;
  tell({ kind: 'progress', share });
};

try {
  tell({ kind: 'done', result: await runJob((workerData as { options: Job }).options, { signal: stopping.signal, onProgress }) });
} catch (error) {
  const code = error instanceof RecordingError ? error.code : null;
  tell({ kind: 'failed', code, name: error instanceof Error ? error.name : 'Error', message: error instanceof Error ? error.message : String(error) });
}
port.close();
