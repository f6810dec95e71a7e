import { execFileSync } from 'node:child_process';
import { createServer, type Server, type Socket } from 'node:net';
import { once } from 'node:events';
import { afterEach, describe, expect, it } from 'vitest';
import { freePort, startPortServer, startRawBridge } from '../../support/serial-bridge.ts';
import { openPty } from '../../support/pty.ts';
import { until, type WatchedMeter, watchMeter } from '../watch-meter.ts';

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

function watch(address: string): WatchedMeter {
  const watched = watchMeter(address);
  toClose.push(() => watched.meter.close());
  return watched;
}

async function listen(port: number, onSocket: (socket: Socket) => void): Promise<Server> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined);
    onSocket(socket);
  }).listen(port, '127.0.0.1');
  await once(server, 'listening');
  toClose.push(async () => {
    sockets.forEach((socket) => socket.destroy());
    server.close();
    await once(server, 'close').catch(() => undefined);
  });
  return server;
}

describe('a meter over raw TCP', () => {
  it('is read through a real bridge, and asked through it', async () => {
    const pty = await openPty();
    toClose.push(() => pty.close());
    pty.onReceived((bytes) => { if (bytes.includes(0x0a)) void pty.write('12.50 V DC\r\n'); });
    const bridge = await startRawBridge(pty.path);
    toClose.push(() => bridge.stop());
    const { values, meter } = watch(`tcp:127.0.0.1:${bridge.port}?poll=READ%3F&poll-every=0.05`);
    await until(() => values().length >= 3, 'three answers');
    expect(values().slice(0, 3)).toEqual([12.5, 12.5, 12.5]);
    expect(meter.status()).toEqual({ state: 'open', code: '', message: '' });
  });

  it('says gone when the far end goes, joins nothing across, and reads on when it is back', async () => {
    const port = await freePort();
    let socket: Socket | null = null;
    await listen(port, (opened) => (socket = opened));
    const { meter, values } = watch(`tcp:127.0.0.1:${port}`);
    await until(() => socket !== null && meter.status().state === 'open', 'a connection');
    (socket as unknown as Socket).write('\n1.00 V\n9');
    await until(() => values().length === 1, 'a reading');
    (socket as unknown as Socket).destroy();
    socket = null;
    await until(() => meter.status().state === 'gone', 'the loss');
    expect(meter.status().code).toBe('PORT_GONE');
    await until(() => socket !== null, 'another connection');
    (socket as unknown as Socket).write('9.99 V\n2.00 V\n');
    await until(() => values().length === 2, 'a reading after it');
    expect(values()).toEqual([1, 2]);
  });

  it('says that a host does not answer, and connects when it does', async () => {
    const port = await freePort();
    const { meter } = watch(`tcp:127.0.0.1:${port}`);
    await until(() => meter.status().code === 'HOST_UNREACHABLE', 'the failure');
    expect(meter.status()).toMatchObject({ state: 'retry', message: expect.stringContaining(`127.0.0.1:${port}`) });
    await listen(port, () => undefined);
    await until(() => meter.status().state === 'open', 'the connection');
  });
});

describe('a meter behind RFC 2217 port control', () => {
  it('sets baud rate and stop bits of the far port, and reads it', async () => {
    const pty = await openPty();
    toClose.push(() => pty.close());
    const server = await startPortServer(pty.path);
    toClose.push(() => server.stop());
    const { meter, values } = watch(`rfc2217:127.0.0.1:${server.port}?baud=19200&parity=none&stop-bits=2&dtr=on&rts=off`);
    await until(() => meter.status().state === 'open', 'the far end to agree');
    // The system's own tool tells what the port is set to now.
    const settings = execFileSync('stty', ['-F', pty.path, '-a'], { encoding: 'utf8' });
    expect(settings).toContain('speed 19200 baud');
    expect(settings).toMatch(/(?<!-)cstopb/);
    await pty.write('\n12.34 V\n');
    await until(() => values().length === 1, 'a reading');
    expect(values()).toEqual([12.34]);
  });

  it('says which setting the far end does not take', async () => {
    const port = await freePort();
    // Commands and answers of RFC 2217: 102 is the answer to SET-DATASIZE (2); this far end stays at 8 whatever it is told.
    await listen(port, (socket) => void socket.on('data', (bytes) => {
      if (bytes.includes(Buffer.from([255, 251, 44]))) socket.write(Buffer.from([255, 253, 44]));
      if (bytes.includes(Buffer.from([255, 250, 44, 1]))) {
        const answers = [[101, 0, 0, 9, 96], [102, 8], [103, 3], [104, 1]];
        for (const answer of answers) socket.write(Buffer.from([255, 250, 44, ...answer, 255, 240]));
      }
    }));
    const { meter } = watch(`rfc2217:127.0.0.1:${port}?baud=2400&data-bits=7&parity=even`);
    await until(() => meter.status().state === 'failed', 'the refusal');
    expect(meter.status()).toMatchObject({ code: 'PORT_SETTINGS', message: expect.stringMatching(/uses other values: data bits\./) });
  });

  it('asks for the lines that power a cable, by the numbers of the RFC', async () => {
    const port = await freePort();
    let heard = Buffer.alloc(0);
    await listen(port, (socket) => void socket.on('data', (bytes) => {
      heard = Buffer.concat([heard, Buffer.from(bytes)]);
      if (bytes.includes(Buffer.from([255, 251, 44]))) socket.write(Buffer.from([255, 253, 44]));
    }));
    watch(`rfc2217:127.0.0.1:${port}?dtr=on&rts=off`);
    // RFC 2217, section 3, SET-CONTROL (5): 8 is DTR on, 12 is RTS off.
    await until(() => heard.includes(Buffer.from([255, 250, 44, 5, 12, 255, 240])), 'RTS off');
    expect(heard.includes(Buffer.from([255, 250, 44, 5, 8, 255, 240]))).toBe(true);
    expect(heard.includes(Buffer.from([255, 250, 44, 5, 9, 255, 240]))).toBe(false);
    expect(heard.includes(Buffer.from([255, 250, 44, 5, 11, 255, 240]))).toBe(false);
  });

  it('passes every byte value to the meter unchanged, 255 included', async () => {
    const pty = await openPty();
    toClose.push(() => pty.close());
    const heard: number[] = [];
    pty.onReceived((bytes) => void heard.push(...bytes));
    const server = await startPortServer(pty.path);
    toClose.push(() => server.stop());
    const { meter } = watch(`rfc2217:127.0.0.1:${server.port}?poll=a%C3%BFb&poll-every=5`);
    await until(() => meter.status().state === 'open', 'the far end to agree');
    await until(() => heard.length >= 4, 'the question');
    expect(heard.slice(0, 4)).toEqual([0x61, 0xff, 0x62, 0x0a]);
  });

  it('tells the user to write tcp: when the far end does not speak it', async () => {
    const port = await freePort();
    await listen(port, (socket) => void socket.on('data', () => socket.write('12.34 V\n')));
    const { meter, values } = watch(`rfc2217:127.0.0.1:${port}`);
    await until(() => meter.status().state === 'failed', 'the refusal');
    expect(meter.status()).toMatchObject({ code: 'PORT_SETTINGS', message: expect.stringContaining('write tcp: instead') });
    expect(values()).toEqual([]);
  });
});
