/**
 * The websocket hub: the same state for every dashboard, at once. A dashboard that does not keep up gets fewer frames and
 * then a fresh overview; it never holds up the others, the meters or the recording.
 */
import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocket, WebSocketServer } from 'ws';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { SampleBatch } from '../session/session.ts';
import { refuseForeign } from './access.ts';
import type { ClientRequest, LiveState, ServerMessage } from './protocol.ts';
import { parseClientMessage } from './requests.ts';
import { SampleFeed } from './sample-feed.ts';
import { encodeSampleFrame, type SampleFrame } from './sample-frame.ts';

/** Thrown by the service when it can't do what a dashboard asks for; the message says what to do. */
export class RequestRefused extends Error {
  readonly code: string;
  constructor(code: string, message: string) {
    super(message);
    this.code = code;
  }
}

export interface HubSource {
  state(): LiveState;
  /** The running take's judgement, or that of the one just ended; null when there is none. */
  judgement(): { take: number; judgement: Judgement } | null;
  /** Carries out a request; what it gives back goes to the asker. @throws {RequestRefused} */
  request(request: ClientRequest): unknown;
  clock(): number;
}

/** A client that has this many bytes waiting gets no more sample frames until it has caught up. */
const SLOW_BYTES = 1 << 20;
/** A client that has this many bytes waiting is cut off; it reconnects and starts afresh. */
const STUCK_BYTES = 16 << 20;
const CAUGHT_UP_BYTES = 64 << 10;
const PING_EVERY_MS = 10_000;
const ALIVE_EVERY_MS = 2_000;
const MAX_MESSAGE_BYTES = 64 << 10;
const MAX_CLIENTS = 32;

interface Client {
  readonly socket: WebSocket;
  missedPings: number;
  /** Frames were skipped: the next thing it gets is an overview. */
  isBehind: boolean;
}

export class Hub {
  readonly #source: HubSource;
  readonly #hosts: () => ReadonlySet<string>;
  readonly #sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_MESSAGE_BYTES, perMessageDeflate: false });
  readonly #clients = new Set<Client>();
  readonly #feeds = new Map<number, SampleFeed>();
  readonly #timers: NodeJS.Timeout[];
  #flushTimer: NodeJS.Timeout | null = null;
  #stateQueued = false;

  constructor(server: Server, hosts: () => ReadonlySet<string>, source: HubSource) {
    this.#hosts = hosts;
    this.#source = source;
    server.on('upgrade', (request, socket, head) => this.#upgrade(request, socket, head));
    this.#timers = [
      setInterval(() => this.#ping(), PING_EVERY_MS),
      setInterval(() => this.#send({ type: 'alive', clock: source.clock() }), ALIVE_EVERY_MS),
    ];
  }

  /** Sends the whole state to everyone, once per turn of the event loop however often it is called. */
  stateChanged(): void {
    if (this.#stateQueued) return;
    this.#stateQueued = true;
    setImmediate(() => {
      this.#stateQueued = false;
      this.#send({ type: 'state', state: this.#source.state() });
    });
  }

  judged(take: number, judgement: Judgement): void {
    this.#send({ type: 'judgement', take, clock: this.#source.clock(), judgement });
  }

  samples(batch: SampleBatch): void {
    let feed = this.#feeds.get(batch.meter);
    if (feed === undefined) this.#feeds.set(batch.meter, (feed = new SampleFeed()));
    const frame = feed.push(batch, performance.now() / 1000);
    if (frame !== null) this.#sendFrame(frame);
    this.#scheduleFlush();
  }

  /** Forgets the samples kept for late dashboards: a new session begins. */
  startOver(): void {
    this.#feeds.clear();
  }

  close(): void {
    for (const timer of this.#timers) clearInterval(timer);
    if (this.#flushTimer !== null) clearTimeout(this.#flushTimer);
    for (const client of this.#clients) client.socket.close(1001, 'the service stops');
    this.#sockets.close();
    for (const client of this.#clients) client.socket.terminate();
  }

  #upgrade(request: IncomingMessage, socket: Duplex, head: Buffer): void {
    const refusal = refuseForeign(this.#hosts(), request.headers.host, request.headers.origin, true)
      ?? (request.url === '/live' ? null : { status: 404, message: 'There is no websocket here.' })
      ?? (this.#clients.size < MAX_CLIENTS ? null : { status: 503, message: `There are ${MAX_CLIENTS} dashboards open: close one.` });
    socket.on('error', () => socket.destroy());
    if (refusal !== null) {
      socket.end(`HTTP/1.1 ${refusal.status} Refused\r\nContent-Type: text/plain; charset=utf-8\r\nConnection: close\r\n\r\n${refusal.message}\n`);
      return;
    }
    this.#sockets.handleUpgrade(request, socket, head, (ws) => this.#welcome(ws));
  }

  #welcome(socket: WebSocket): void {
    const client: Client = { socket, missedPings: 0, isBehind: false };
    this.#clients.add(client);
    socket.on('close', () => this.#clients.delete(client));
    // The close event follows every error; without a listener an oversize message would end the service.
    socket.on('error', () => undefined);
    socket.on('pong', () => (client.missedPings = 0));
    socket.on('message', (data, isBinary) => this.#answer(client, isBinary ? '' : String(data)));
    sendTo(client, { type: 'state', state: this.#source.state() });
    this.#sendOverview(client);
    const judged = this.#source.judgement();
    if (judged !== null) sendTo(client, { type: 'judgement', clock: this.#source.clock(), ...judged });
  }

  #answer(client: Client, data: string): void {
    const parsed = parseClientMessage(data);
    if (parsed.kind === 'bad') {
      sendTo(client, { type: 'refused', request: parsed.request, code: 'BAD_REQUEST', message: `Not understood: ${parsed.why}` });
      return;
    }
    const { request, ...asked } = parsed.message;
    const refuse = (error: unknown) => {
      // Anything but a refusal is a fault of the service: it must show in the terminal, and must not pass for done.
      if (!(error instanceof RequestRefused)) console.error(error);
      const { code, message } = error instanceof RequestRefused ? error
        : { code: 'INTERNAL', message: 'The service could not do this; its terminal says why.' };
      sendTo(client, { type: 'refused', request, code, message });
    };
    try {
      const outcome = this.#source.request(asked);
      if (outcome instanceof Promise) outcome.then((result: unknown) => sendTo(client, { type: 'done', request, result }), refuse);
      else sendTo(client, { type: 'done', request, result: outcome });
    } catch (error) {
      refuse(error);
    }
  }

  #send(message: ServerMessage): void {
    if (this.#clients.size === 0) return;
    const text = JSON.stringify(message);
    for (const client of this.#clients) {
      if (client.socket.bufferedAmount > STUCK_BYTES) client.socket.terminate();
      else client.socket.send(text);
    }
  }

  #sendFrame(frame: SampleFrame): void {
    if (this.#clients.size === 0) return;
    const bytes = encodeSampleFrame(frame);
    for (const client of this.#clients) {
      const waiting = client.socket.bufferedAmount;
      if (client.isBehind) {
        if (waiting > CAUGHT_UP_BYTES) continue;
        client.isBehind = false;
        this.#sendOverview(client);
      } else if (waiting > SLOW_BYTES) {
        client.isBehind = true;
      } else {
        client.socket.send(bytes);
      }
    }
  }

  #sendOverview(client: Client): void {
    for (const feed of this.#feeds.values()) for (const frame of feed.overview()) client.socket.send(encodeSampleFrame(frame));
  }

  #scheduleFlush(): void {
    if (this.#flushTimer !== null) return;
    const due = [...this.#feeds.values()].map((feed) => feed.dueAt()).filter((at) => at !== null);
    if (due.length === 0) return;
    const wait = Math.max(1, Math.min(...due) * 1000 - performance.now());
    this.#flushTimer = setTimeout(() => {
      this.#flushTimer = null;
      const now = performance.now() / 1000;
      for (const feed of this.#feeds.values()) {
        const frame = feed.flush(now);
        if (frame !== null) this.#sendFrame(frame);
      }
    }, wait);
  }

  #ping(): void {
    for (const client of this.#clients) {
      if (++client.missedPings > 2) client.socket.terminate();
      else client.socket.ping();
    }
  }
}

function sendTo(client: Client, message: ServerMessage): void {
  if (client.socket.readyState === WebSocket.OPEN) client.socket.send(JSON.stringify(message));
}
