/** The thread that writes: gathers what comes and commits it twenty times a second, at once where a take begins or ends. */
import { parentPort, workerData } from 'node:worker_threads';
import { WriteQueue } from './write-queue.ts';
import type { FromWriter, ToWriter, WriterOptions } from './writer-protocol.ts';

const COMMIT_EVERY_MS = 50;
const RETRY_EVERY_MS = 500;
const TOUCH_EVERY_MS = 1000;
const SPACE_EVERY_MS = 2000;

const port = parentPort!;
const tell = (message: FromWriter) => port.postMessage(message);
const queue = new WriteQueue((workerData as { options: WriterOptions }).options, {
  onAcknowledged: (seq) => tell({ type: 'acknowledged', seq }),
  onTrouble: (trouble) => tell({ type: 'trouble', trouble }),
  onRecovered: () => tell({ type: 'recovered' }),
});

let due: NodeJS.Timeout | null = null;
const flush = () => {
  due = null;
  queue.flush();
  if (queue.isTroubled) due ??= setTimeout(flush, RETRY_EVERY_MS);
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
  else if (queue.isTroubled) due ??= setTimeout(flush, RETRY_EVERY_MS);
};
const touching = setInterval(() => {
  queue.touch();
  if (queue.isTroubled) due ??= setTimeout(flush, RETRY_EVERY_MS);
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
  const isUrgent = message.type !== 'change' || message.change.type === 'start-take' || message.change.type === 'end-take';
  if (isUrgent && !queue.isTroubled) {
    if (due !== null) clearTimeout(due);
    flush();
  } else {
    due ??= setTimeout(flush, queue.isTroubled ? RETRY_EVERY_MS : COMMIT_EVERY_MS);
  }
});

// How much room there is matters before the first take too.
tellSpace();
