/** Works a layout out in a thread of its own: it may take most of a second, and meters don't wait. */
import type { FramesFound, Taught, TeachExample } from '../../drivers/index.ts';
import { startWorker } from '../recordings/index.ts';

export interface TeachingJob {
  readonly found: FramesFound;
  readonly examples: readonly TeachExample[];
  readonly name: string;
  readonly origin: string;
  readonly leavesUnknown: boolean;
}

/** Examples that fit in too many ways would be tried for ever. */
const PATIENCE_MS = 20_000;

export async function startTeaching(job: TeachingJob): Promise<Taught> {
  const worker = startWorker('teach-worker', job, import.meta.url);
  let timer: NodeJS.Timeout | null = null;
  try {
    return await new Promise<Taught>((resolve, reject) => {
      timer = setTimeout(() => resolve({ kind: 'failed', why: 'there are too many ways to read these examples; type more of them, with values that differ in every digit' }), PATIENCE_MS);
      worker.once('message', resolve);
      worker.once('error', reject);
    });
  } finally {
    if (timer !== null) clearTimeout(timer);
    await worker.terminate();
  }
}
