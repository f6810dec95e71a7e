// Where a worker begins: plain JavaScript, so that it runs before TypeScript can be read.
import { workerData } from 'node:worker_threads';
import { register } from 'tsx/esm/api';

register();
await import(workerData.file);
