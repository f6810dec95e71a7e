import { readFileSync } from 'node:fs';
import { request as httpRequest } from 'node:http';
import { connect } from 'node:net';
import { networkInterfaces } from 'node:os';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let port: number;
beforeAll(async () => {
  service = await startService([]);
  port = Number(new URL(service.address).port);
});
afterAll(() => service.dispose());

/** Status and body of a raw request, with the headers exactly as given. */
function get(path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<{ status: number; body: string; headers: NodeJS.Dict<string | string[]> }> {
  return new Promise((resolve, reject) => {
    const request = httpRequest({ host: '127.0.0.1', port, path, method, headers: { host: `127.0.0.1:${port}`, ...headers } }, (response) => {
      let body = '';
      response.on('data', (data) => (body += data));
      response.on('end', () => resolve({ status: response.statusCode ?? 0, body, headers: response.headers }));
    });
    request.on('error', reject);
    request.end();
  });
}

/** 'open' or the HTTP status with which a websocket was refused. */
function openSocket(headers: Record<string, string>, path = '/live'): Promise<'open' | number> {
  return new Promise((resolve) => {
    const socket = new WebSocket(`ws://127.0.0.1:${port}${path}`, { headers });
    socket.on('open', () => { socket.terminate(); resolve('open'); });
    socket.on('unexpected-response', (_request, response) => { resolve(response.statusCode ?? 0); });
    socket.on('error', () => undefined);
  });
}

describe('the service', () => {
  it('binds to the loopback address only', async () => {
    // Any other address of this machine must refuse the connection.
    const others = Object.values(networkInterfaces()).flat().filter((net) => net !== undefined && !net.internal && net.family === 'IPv4');
    for (const net of others) {
      const outcome = await new Promise<string>((resolve) => {
        const socket = connect({ host: net!.address, port }, () => { socket.destroy(); resolve('connected'); });
        socket.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? 'error'));
      });
      expect(outcome).toBe('ECONNREFUSED');
    }
    const hexPort = port.toString(16).toUpperCase().padStart(4, '0');
    const listening = readFileSync('/proc/net/tcp', 'utf8').split('\n').filter((line) => line.includes(`:${hexPort} 00000000:0000 0A`));
    expect(listening.map((line) => line.trim().split(/\s+/)[1])).toEqual([`0100007F:${hexPort}`]);
  });

  it('refuses to listen on an address that others can reach, and says why', async () => {
    for (const listen of ['0.0.0.0:0', '192.168.1.5:8470', '[::]:8470']) {
      await expect(startService(['--listen', listen])).rejects.toThrow(/loopback/);
    }
  });

  it.each([
    ['evil.example', 403], ['127.0.0.1', 403], ['127.0.0.1:1', 403], ['127.0.0.1.evil.example:PORT', 403], ['localhost:PORT', 200], ['127.0.0.1:PORT', 200],
  ])('answers to its own host names only: %s gives %i', async (host, status) => {
    const named = host.replace('PORT', String(port));
    for (const path of ['/', '/api/sessions']) expect((await get(path, { host: named })).status).toBe(status);
  });

  it.each([
    ['http://evil.example', 403], ['null', 403], ['http://127.0.0.1:1', 403], ['http://127.0.0.1.evil.example:PORT', 403],
    ['https://127.0.0.1:PORT', 403], ['http://127.0.0.1:PORT', 'open'], ['http://localhost:PORT', 'open'],
  ])('opens a websocket only for its own pages: origin %s gives %s', async (origin, outcome) => {
    expect(await openSocket({ origin: origin.replace('PORT', String(port)) })).toBe(outcome);
  });

  it('refuses a websocket without an origin, under a foreign host, or at another path', async () => {
    expect(await openSocket({})).toBe(403);
    expect(await openSocket({ host: `evil.example:${port}`, origin: `http://evil.example:${port}` })).toBe(403);
    expect(await openSocket({ origin: `http://127.0.0.1:${port}` }, '/other')).toBe(404);
  });

  it.each([
    '/../package.json', '/..%2f..%2fpackage.json', '/%2e%2e/%2e%2e/package.json', '/assets/..%5c..%5cpackage.json', '/.git/config',
    '/api/sessions/..%2f..%2fpackage', '/api/sessions/%2e%2e%2f%2e%2e%2fetc%2fpasswd', '/api/sessions/..', '/api/sessions/a%00b', '/api/sessions/%2fetc%2fpasswd',
    '/api/sessions/..%2fx/takes/1/trace',
  ])('gives nothing from outside its folders: %s', async (path) => {
    const answer = await get(path);
    expect(answer.status).toBeGreaterThanOrEqual(400);
    expect(answer.status).toBeLessThan(500);
    expect(answer.body).not.toMatch(/loomtrace"|root:|\[core\]/);
  });

  it('answers a wrong query with a sentence, not a crash', async () => {
    expect((await get('/api/sessions/none')).status).toBe(404);
    expect(await get('/api/sessions/none/takes/1/trace?from=abc')).toMatchObject({ status: 400 });
    expect((await get('/api/nothing')).status).toBe(404);
    expect((await get('/api/sessions', { origin: 'http://evil.example' }, 'POST')).status).toBe(403);
  });

  it('tells browsers to run only its own scripts and to frame it nowhere', async () => {
    const { headers } = await get('/');
    expect(headers['content-security-policy']).toMatch(/default-src 'self'/);
    expect(headers['content-security-policy']).toMatch(/frame-ancestors 'none'/);
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['access-control-allow-origin']).toBeUndefined();
  });

  it('closes a websocket that sends an oversize message, and lives on', async () => {
    const dashboard = await Dashboard.open(service.address);
    const closed = new Promise<number>((resolve) => dashboard.socket.on('close', (code) => resolve(code)));
    dashboard.socket.send('x'.repeat(1025 * 1024));
    // RFC 6455 section 7.4.1: 1009, a message too big to process.
    expect(await closed).toBe(1009);
    const next = await Dashboard.open(service.address);
    dashboard.close();
    next.close();
  });

  it('answers nonsense with what is wrong, and lives on', async () => {
    const dashboard = await Dashboard.open(service.address);
    const answers: string[] = [];
    dashboard.socket.on('message', (data, isBinary) => { if (!isBinary) answers.push(String(data)); });
    for (const text of ['', '{', '[]', 'null', '{"request":1}', '{"request":-1,"type":"stop-take"}', '{"request":2,"type":"mark","text":7}']) dashboard.socket.send(text);
    dashboard.socket.send(Buffer.from([1, 2, 3]));
    await dashboard.until(() => answers.filter((text) => text.includes('BAD_REQUEST')).length === 8, 'eight refusals');
    expect(await dashboard.ask({ type: 'stop-take' })).toMatchObject({ type: 'refused', code: 'NO_TAKE' });
    dashboard.close();
  });
});
