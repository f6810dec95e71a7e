/** A service that is shared on a loopback address of its own, and devices that pair with it. */
import { readFileSync } from 'node:fs';
import { request as httpsRequest } from 'node:https';
import { join } from 'node:path';
import { WebSocket } from 'ws';
import type { Role, SharingState } from '../../server/live/sharing-protocol.ts';
import { startService, type StartedService } from './service.ts';

/** Another address of this machine than the one that the main screen is at; nothing beyond loopback is touched. */
export const SHARED_AT = '127.0.0.2';

export interface SharedService extends StartedService {
  /** e.g. https://127.0.0.2:40001 */
  readonly shared: string;
  /** PEM of the authority, as a device that trusts it has it. */
  readonly authority: string;
}

export async function startShared(recordings?: string, args: readonly string[] = []): Promise<SharedService> {
  const service = await startService(['--share-at', `${SHARED_AT}:0`, ...args], recordings);
  const shared = /https:\/\/[\d.]+:\d+/.exec(service.output())![0];
  return { ...service, shared, authority: readFileSync(join(service.recordings, '.loomtrace', 'authority.crt'), 'utf8') };
}

export interface Answer {
  readonly status: number;
  readonly headers: NodeJS.Dict<string | string[]>;
  readonly body: string;
  /** The code of a refusal; undefined otherwise. */
  readonly code: string | undefined;
}

interface Asking {
  readonly method?: string;
  readonly headers?: Record<string, string>;
  readonly body?: unknown;
}

/** Who forges the Host header checks no certificate either: the service itself must refuse. */
const careless = (headers: Record<string, string>) => (headers['host'] === undefined ? {} : { checkServerIdentity: () => undefined });

/** A request of a device that trusts the authority and checks the certificate, with headers exactly as given. */
export function ask(service: SharedService, path: string, { method = 'GET', headers = {}, body }: Asking = {}): Promise<Answer> {
  const url = new URL(service.shared);
  return new Promise((resolve, reject) => {
    const request = httpsRequest({
      host: url.hostname, port: url.port, path, method, ca: service.authority, ...careless(headers),
      headers: { host: url.host, ...(method === 'GET' ? {} : { origin: url.origin }), ...(body === undefined ? {} : { 'content-type': 'application/json' }), ...headers },
    }, (response) => {
      let text = '';
      response.on('data', (data) => (text += data));
      response.on('end', () => {
        const code = /"code":"(\w+)"/.exec(text)?.[1];
        resolve({ status: response.statusCode ?? 0, headers: response.headers, body: text, code });
      });
    });
    request.on('error', reject);
    request.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

/** What the main screen does with sharing. */
export async function mainScreen(service: SharedService, method: string, path: string, body?: object): Promise<Extract<SharingState, { isShared: true }>> {
  const answer = await fetch(`${service.address}/api/sharing${path}`, {
    method, headers: { origin: service.address, 'content-type': 'application/json' }, ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
  if (!answer.ok) throw new Error(await answer.text());
  return (await answer.json()) as Extract<SharingState, { isShared: true }>;
}

export async function openCode(service: SharedService, role: Role): Promise<string> {
  return (await mainScreen(service, 'POST', '/code', { role })).pairing!.code;
}

/** Pairs a device. @returns its cookie, as it sends it back */
export async function pairDevice(service: SharedService, role: Role, name = 'Phone'): Promise<string> {
  const code = await openCode(service, role);
  const answer = await ask(service, '/api/pairing', { method: 'POST', body: { code, name } });
  if (answer.status !== 200) throw new Error(answer.body);
  return String(answer.headers['set-cookie']).split(';')[0]!;
}

/** A websocket of a device: 'open', or the HTTP status with which it was refused. Open ones are handed over. */
export function openSocket(service: SharedService, headers: Record<string, string>, onOpen?: (socket: WebSocket) => void): Promise<'open' | number> {
  return new Promise((resolve, reject) => {
    const socket = new WebSocket(`${service.shared.replace('https', 'wss')}/live`, { headers, ca: service.authority, ...careless(headers) });
    socket.on('open', () => {
      if (onOpen === undefined) socket.terminate();
      else onOpen(socket);
      resolve('open');
    });
    socket.on('unexpected-response', (_request, response) => resolve(response.statusCode ?? 0));
    socket.on('error', reject);
  });
}
