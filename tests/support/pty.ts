/** A real pseudo-terminal pair as a serial cable that can be pulled: socat holds both ends. */
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Pty {
  /** The end that a serial meter's address names. */
  readonly path: string;
  /** Sends from the meter's end. Resolves when the bytes are on their way. */
  write(bytes: string | Uint8Array): Promise<void>;
  /** Called with what the meter hears. */
  onReceived(receive: (bytes: Buffer) => void): void;
  /** Pulls the cable: the port is hung up and its name disappears. */
  unplug(): Promise<void>;
  /** Plugs it in again, under the same name. */
  replug(): Promise<void>;
  close(): Promise<void>;
}

async function until(isTrue: () => boolean, what: string): Promise<void> {
  const patience = Date.now() + 30_000;
  while (!isTrue()) {
    if (Date.now() > patience) throw new Error(`waited 30 s for ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

/** The socket's name appears a moment before anyone listens on it. */
async function connectTo(path: string): Promise<Socket> {
  const patience = Date.now() + 30_000;
  for (;;) {
    const socket = connect(path);
    const error = await new Promise<Error | null>((resolve) => {
      socket.once('connect', () => resolve(null));
      socket.once('error', resolve);
    });
    if (error === null) return socket;
    if (Date.now() > patience) throw error;
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

export async function openPty(): Promise<Pty> {
  const folder = await mkdtemp(join(tmpdir(), 'loomtrace-pty-'));
  const path = join(folder, 'port');
  const socketPath = join(folder, 'meter');
  let socat: ChildProcess | null = null;
  let socket: Socket | null = null;
  const receivers: ((bytes: Buffer) => void)[] = [];

  const plug = async (): Promise<void> => {
    // A killed socat leaves its socket behind, which would look like that of the next.
    await rm(socketPath, { force: true });
    socat = spawn('socat', [`PTY,link=${path},rawer`, `UNIX-LISTEN:${socketPath},unlink-early`], { stdio: 'ignore' });
    await until(() => existsSync(path) && existsSync(socketPath), 'socat to make a port');
    const opened = await connectTo(socketPath);
    socket = opened;
    opened.on('error', () => undefined);
    opened.on('data', (bytes) => receivers.forEach((receive) => receive(bytes)));
  };
  const unplug = async (): Promise<void> => {
    const process = socat;
    socat = null;
    socket?.destroy();
    socket = null;
    if (process === null || process.exitCode !== null) return;
    const exited = new Promise((resolve) => process.once('exit', resolve));
    process.kill('SIGKILL');
    await exited;
    // Killed, it cannot take its link away itself; a real device node goes with the device.
    await rm(path, { force: true });
  };

  await plug();
  return {
    path,
    write: (bytes) => new Promise((resolve, reject) => {
      if (socket === null) return reject(new Error('the cable is not plugged in'));
      socket.write(bytes, (error) => (error ? reject(error) : resolve()));
    }),
    onReceived: (receive) => void receivers.push(receive),
    unplug,
    replug: plug,
    close: async () => {
      await unplug();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
