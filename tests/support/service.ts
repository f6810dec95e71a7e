/** The real service as a real process, and a real websocket client for it. */
import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { WebSocket } from 'ws';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import type { ClientRequest, LiveLocation, LiveState, ServerMessage } from '../../server/live/protocol.ts';
import { decodeSampleFrame, type SampleFrame } from '../../server/live/sample-frame.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/** As `npm start` runs the service (built before the tests: `built.ts`), and as it is run while working on it. */
const ENTRY = { built: ['--max-semi-space-size=8', '--optimize-for-size', 'server/dist/main.js'], sources: ['--import', 'tsx', 'server/main.ts'] };

export interface StartedService {
  readonly address: string;
  readonly recordings: string;
  readonly process: ChildProcess;
  readonly output: () => string;
  /** Sends the signal and waits for the exit code (null when killed). */
  stop(signal?: NodeJS.Signals): Promise<number | null>;
  /** Stops what still runs and removes the recordings. */
  dispose(): Promise<void>;
}

/** Runs `serve` with the given options on a free port and a folder of its own (or the one given). */
export async function startService(args: string[], recordings = mkdtempSync(join(tmpdir(), 'loomtrace-test-')), port = 0, from: keyof typeof ENTRY = 'built'): Promise<StartedService> {
  const child = spawn(
    process.execPath,
    [...ENTRY[from], 'serve', '--listen', `127.0.0.1:${port}`, '--recordings', recordings, ...args],
    { cwd: ROOT, stdio: ['ignore', 'pipe', 'pipe'] },
  );
  let output = '';
  const exited = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)));
  const address = await new Promise<string>((resolve, reject) => {
    const read = (data: Buffer) => {
      output += data.toString();
      const match = /http:\/\/\S+/.exec(output);
      if (match !== null) resolve(match[0]);
    };
    child.stdout.on('data', read);
    child.stderr.on('data', read);
    void exited.then((code) => reject(new Error(`the service ended with ${code} before it listened:\n${output}`)));
  });
  const stop = (signal: NodeJS.Signals = 'SIGTERM') => {
    child.kill(signal);
    return exited;
  };
  return {
    address, recordings, process: child, output: () => output, stop,
    async dispose() {
      await stop('SIGKILL');
      rmSync(recordings, { recursive: true, force: true });
    },
  };
}

/** One dashboard's end of the websocket. */
export class Dashboard {
  readonly socket: WebSocket;
  state!: LiveState;
  judgement: { take: number; judgement: Judgement } | null = null;
  /** The newest word on the search for the fault. */
  location: LiveLocation | null = null;
  readonly frames: SampleFrame[] = [];
  #checks: LiveState['checks'] = [];
  #request = 0;
  readonly #answers = new Map<number, (message: ServerMessage) => void>();
  readonly #watchers = new Set<() => void>();

  private constructor(socket: WebSocket) {
    this.socket = socket;
    socket.binaryType = 'arraybuffer';
    socket.on('error', () => undefined);
    socket.on('message', (data, isBinary) => {
      if (isBinary) this.frames.push(decodeSampleFrame(data as ArrayBuffer));
      else this.#take(JSON.parse(String(data)) as ServerMessage);
      for (const watcher of this.#watchers) watcher();
    });
  }

  static async open(address: string): Promise<Dashboard> {
    const dashboard = new Dashboard(new WebSocket(`${address.replace('http', 'ws')}/live`, { origin: address }));
    await dashboard.until(() => dashboard.state !== undefined, 'the first state');
    return dashboard;
  }

  #take(message: ServerMessage): void {
    if (message.type === 'checks') this.#checks = message.checks;
    if (message.type === 'state') this.state = { ...message.state, checks: this.#checks };
    if (message.type === 'judgement') this.judgement = { take: message.take, judgement: message.judgement };
    if (message.type === 'located') this.location = message.location;
    if (message.type === 'done' || message.type === 'refused') this.#answers.get(message.request)?.(message);
  }

  /** @returns the answer: done or refused */
  ask(request: ClientRequest): Promise<ServerMessage> {
    const number = ++this.#request;
    return new Promise((resolve) => {
      this.#answers.set(number, resolve);
      this.socket.send(JSON.stringify({ request: number, ...request }));
    });
  }

  /** Waits until the claim holds. @throws {Error} naming it when it does not within the time-out */
  until(claim: () => boolean, what: string, timeoutMs = 30_000): Promise<void> {
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        this.#watchers.delete(check);
        reject(new Error(`waited ${timeoutMs} ms for ${what}`));
      }, timeoutMs);
      const check = () => {
        if (!claim()) return;
        clearTimeout(timer);
        this.#watchers.delete(check);
        resolve();
      };
      this.#watchers.add(check);
      check();
    });
  }

  /** Values received so far, of the frames sent live (not the overviews). */
  values(): number[] {
    return this.frames.filter((frame) => !frame.replace).flatMap((frame) => Array.from(frame.value));
  }

  close(): void {
    this.socket.terminate();
  }
}
