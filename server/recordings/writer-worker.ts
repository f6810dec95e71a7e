/** The thread that writes: commits what comes at once after a quiet while, else gathers it, twenty times a second; sooner where a take begins or ends. */
import { parentPort, workerData } from 'node:worker_threads';
import { WriteQueue } from './write-queue.ts';
import type { FromWriter, ToWriter, WriterOptions } from './writer-protocol.ts';

const COMMIT_EVERY_MS = 50;
/** Where a take begins or ends; commits no closer than this, however many takes there are. */
const COMMIT_SOON_MS = 20;
const RETRY_EVERY_MS = 500;
const TOUCH_EVERY_MS = 1000;
const SPACE_EVERY_MS = 2000;

const port = parentPort!;
const tell = (message: FromWriter) => port.postMessage(message);
const queue = new WriteQueue((workerData as { options: WriterOptions }).options, {
  onAcknowledged: (seq) => tell({ type: 'acknowledged', seq }),
  onTrouble: (trouble) => tell({ type: 'trouble', trouble }),
  onRecovered: () => tell({ type: 'recovered' }),
  onContinued: (from, to) => tell({ type: 'continued', from, to }),
});

let due: NodeJS.Timeout | null = null;
let dueAt = Infinity;
let lastFlush = -Infinity;
/** Commits then, or before if that is due already. @param at monotonic, ms */
const flushAt = (at: number) => {
  if (due !== null && dueAt <= at) return;
  if (due !== null) clearTimeout(due);
  due = setTimeout(flush, Math.max(0, at - performance.now()));
  dueAt = at;
};
const tryAgain = () => flushAt(performance.now() + RETRY_EVERY_MS);
const flush = () => {
  if (due !== null) clearTimeout(due);
  due = null;
  dueAt = Infinity;
  queue.flush();
  lastFlush = performance.now();
  if (queue.isTroubled) tryAgain();
  else startSealing();
};
let isSealing = false;
const startSealing = () => {
  if (isSealing) return;
  isSealing = true;
  setImmediate(seal);
};
/** One step a turn: what comes, and commits, get in between. */
const seal = () => {
  isSealing = queue.sealStep();
  if (isSealing) setImmediate(seal);
  else if (queue.isTroubled) tryAgain();
};
const touching = setInterval(() => {
  queue.touch();
  if (queue.isTroubled) tryAgain();
}, TOUCH_EVERY_MS);
const tellSpace = () => tell({ type: 'space', space: queue.space(performance.now()) });
const measuring = setInterval(tellSpace, SPACE_EVERY_MS);

port.on('message', (message: ToWriter) => {
  if (message.type === 'close') {
    clearInterval(touching);
    clearInterval(measuring);
    if (due !== null) clearTimeout(due);
    queue.close();
    tell({ type: 'closed' });
    port.close();
    return;
  }
  queue.add(message);
  const now = performance.now();
  const isUrgent = message.type !== 'change' || message.change.type === 'start-take' || message.change.type === 'end-take';
  if (queue.isTroubled) flushAt(now + RETRY_EVERY_MS);
  else if (isUrgent && now >= lastFlush + COMMIT_SOON_MS) flush();
  // Due now, it still waits for the turn to end: what other meters sent in the same moment goes with it.
  else flushAt(Math.max(now, lastFlush + (isUrgent ? COMMIT_SOON_MS : COMMIT_EVERY_MS)));
});

// How much room there is matters before the first take too.
tellSpace();
