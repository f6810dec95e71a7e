/** The thread of start-teaching.ts. */
import { parentPort, workerData } from 'node:worker_threads';
import { teachFrames } from '../../drivers/teach/index.ts';
import type { TeachingJob } from './start-teaching.ts';

const { found, examples, name, origin, leavesUnknown } = (workerData as { options: TeachingJob }).options;
parentPort!.postMessage(teachFrames(found, examples, name, origin, leavesUnknown));
