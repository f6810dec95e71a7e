/** Real bridges from Debian's packages that pass a serial port on over the network, on loopback. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface SerialBridge {
  readonly port: number;
  stop(): Promise<void>;
}

/** A port that is free now. */
export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

/** ser2net, which speaks RFC 2217, in front of a device. */
export async function startPortServer(device: string, port?: number): Promise<SerialBridge> {
  const folder = await mkdtemp(join(tmpdir(), 'loomtrace-bridge-'));
  const chosen = port ?? (await freePort());
  const settings = join(folder, 'settings.yaml');
  await writeFile(settings, [
    'connection: &meter',
    `  accepter: telnet(rfc2217),tcp,127.0.0.1,${chosen}`,
    `  connector: serialdev,${device},1200n81,local`,
    '  options:',
    '    kickolduser: true',
    '',
  ].join('\n'));
  const bridge = spawn('/usr/sbin/ser2net', ['-n', '-c', settings], { stdio: 'ignore' });
  await untilListening(chosen);
  return { port: chosen, stop: async () => { await end(bridge); await rm(folder, { recursive: true, force: true }); } };
}

/** socat, which passes bytes on raw. */
export async function startRawBridge(device: string, port?: number): Promise<SerialBridge> {
  const chosen = port ?? (await freePort());
  const bridge = spawn('socat', [`TCP-LISTEN:${chosen},bind=127.0.0.1,reuseaddr,fork`, `OPEN:${device},rawer`], { stdio: 'ignore', detached: true });
  await untilListening(chosen);
  return {
    port: chosen,
    stop: async () => {
      // The listener and the child that serves the connection are one process group.
      if (bridge.pid !== undefined && bridge.exitCode === null) process.kill(-bridge.pid, 'SIGKILL');
      if (bridge.exitCode === null && bridge.signalCode === null) await once(bridge, 'exit');
    },
  };
}

/** Looks instead of connecting: a connection makes the bridge open the device, and its closing hangs a pty up. */
async function untilListening(port: number): Promise<void> {
  const patience = Date.now() + 30_000;
  const listening = `:${port.toString(16).toUpperCase().padStart(4, '0')} 00000000:0000 0A`;
  while (!(await readFile('/proc/net/tcp', 'utf8')).includes(listening)) {
    if (Date.now() > patience) throw new Error(`no bridge came up on port ${port}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function end(process: ChildProcess): Promise<void> {
  if (process.exitCode !== null || process.signalCode !== null) return;
  process.kill('SIGKILL');
  await once(process, 'exit');
}
