/**
 * The websocket hub: the same state for every dashboard, at once. A dashboard that does not keep up gets fewer frames and
 * then a fresh overview; it never holds up the others, the meters or the recording.
 */
import type { IncomingMessage, Server } from 'node:http';
import type { Server as SecureServer } from 'node:https';
import type { Duplex } from 'node:stream';
import { WebSocket, WebSocketServer } from 'ws';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { SampleBatch } from '../session/session.ts';
import type { LiveLocation } from './location-protocol.ts';
import { refuseChange, refused, type Caller, type Gate, type Refusal } from './access/index.ts';
import type { ClientRequest, LiveState, ServerMessage } from './protocol.ts';
import { onlyReads, parseClientMessage } from './requests.ts';
import { SampleFeed } from './sample-feed.ts';
import { decodeForwardedFrame, type ForwardedFrame } from './forwarded-frame.ts';
import { encodeSampleFrame, type SampleFrame } from './sample-frame.ts';

/** Thrown by the service when it can't do what a dashboard asks for; the message says what to do. */
export class RequestRefused extends Error {
  readonly code: string;
  constructor(code: string, message: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}

/** One open dashboard, as far as the service may speak to it alone; the same object as long as it is open. */
export interface HubPage {
  send(message: ServerMessage): void;
}

export interface HubSource {
  state(): LiveState;
  /** The running take's judgement, or that of the one just ended; null when there is none. */
  judgement(): { take: number; judgement: Judgement } | null;
  location(): LiveLocation;
  /** Carries out a request; what it gives back goes to the asker. @throws {RequestRefused} */
  request(request: ClientRequest, page: HubPage): unknown;
  /** Bytes of a meter, from a page that may control. */
  forwarded(frame: ForwardedFrame, page: HubPage): void;
  /** The page is gone. */
  closed(page: HubPage): void;
  clock(): number;
}

/** A client that has this many bytes waiting gets no more sample frames until it has caught up. */
const SLOW_BYTES = 1 << 20;
/** A client that has this many bytes waiting is cut off; it reconnects and starts afresh. */
const STUCK_BYTES = 16 << 20;
const CAUGHT_UP_BYTES = 64 << 10;
const PING_EVERY_MS = 10_000;
const ALIVE_EVERY_MS = 2_000;
/** Holds a chart of some thousand spans. */
const MAX_MESSAGE_BYTES = 1 << 20;
const MAX_CLIENTS = 32;

/** RFC 6455 leaves 4000 to 4999 to applications: the device may no longer use the service. */
const WITHDRAWN_CLOSE = 4001;
/** A device that does not answer the close is cut off after this. */
const CLOSE_ANSWER_MS = 500;

interface Client {
  readonly socket: WebSocket;
  readonly caller: Caller;
  readonly page: HubPage;
  missedPings: number;
  /** Frames were skipped: the next thing it gets is an overview. */
  isBehind: boolean;
}

export class Hub {
  readonly #source: HubSource;
  readonly #sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_MESSAGE_BYTES, perMessageDeflate: false });
  readonly #clients = new Set<Client>();
  readonly #feeds = new Map<number, SampleFeed>();
  readonly #timers: NodeJS.Timeout[];
  #flushTimer: NodeJS.Timeout | null = null;
  #stateQueued = false;
  /** The list that every dashboard has. */
  #checks: LiveState['checks'] | null = null;

  constructor(source: HubSource) {
    this.#source = source;
    this.#timers = [
      setInterval(() => this.#ping(), PING_EVERY_MS),
      setInterval(() => this.#send({ type: 'alive', clock: source.clock() }), ALIVE_EVERY_MS),
    ];
  }

  /** Takes the websockets of a listener, each past the listener's gate. */
  attach(server: Server | SecureServer, gate: Gate): void {
    server.on('upgrade', (request, socket, head) => this.#upgrade(gate, request, socket, head));
  }

  /** How many dashboards each paired device has open. */
  openDevices(): ReadonlyMap<string, number> {
    const counts = new Map<string, number>();
    for (const { caller } of this.#clients) if (caller.kind === 'device') counts.set(caller.device, (counts.get(caller.device) ?? 0) + 1);
    return counts;
  }

  /** Closes every websocket of a device at once: what it sent and is not yet read is not acted on. */
  closeDevice(device: string, reason: string): void {
    for (const client of this.#clients) {
      if (client.caller.kind !== 'device' || client.caller.device !== device) continue;
      this.#clients.delete(client);
      client.socket.removeAllListeners('message');
      this.#source.closed(client.page);
      client.socket.close(WITHDRAWN_CLOSE, reason);
      setTimeout(() => client.socket.terminate(), CLOSE_ANSWER_MS).unref();
    }
  }

  /** Sends the whole state to everyone, once per turn of the event loop however often it is called. */
  stateChanged(): void {
    if (this.#stateQueued) return;
    this.#stateQueued = true;
    setImmediate(() => {
      this.#stateQueued = false;
      const { checks, ...state } = this.#source.state();
      if (checks !== this.#checks) this.#send({ type: 'checks', checks });
      this.#checks = checks;
      this.#send({ type: 'state', state });
    });
  }

  judged(take: number, judgement: Judgement): void {
    this.#send({ type: 'judgement', take, clock: this.#source.clock(), judgement });
  }

  /** What chirps is told at once, in a message of its own: the judgement is worked out, packed and read more slowly. */
  departed(take: number, departures: number): void {
    this.#send({ type: 'departure', take, departures });
  }

  located(location: LiveLocation): void {
    this.#send({ type: 'located', location });
  }

  /** @param isWatched  the meter is judged, or watched beside the one that is: its samples wait for nobody */
  samples(batch: SampleBatch, isWatched = true): void {
    let feed = this.#feeds.get(batch.meter);
    if (feed === undefined) this.#feeds.set(batch.meter, (feed = new SampleFeed()));
    const frame = feed.push(batch, performance.now() / 1000, isWatched);
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

  #upgrade(gate: Gate, request: IncomingMessage, socket: Duplex, head: Buffer): void {
    socket.on('error', () => socket.destroy());
    const caller = gate.refuseForeign(request.headers, true) ?? this.#refuseSocket(request) ?? gate.identify(request.headers);
    if (caller.kind !== 'refused') {
      this.#sockets.handleUpgrade(request, socket, head, (ws) => this.#welcome(ws, caller));
      return;
    }
    socket.end(`HTTP/1.1 ${caller.status} Refused\r\nContent-Type: text/plain; charset=utf-8\r\nConnection: close\r\n\r\n${caller.message}\n`);
  }

  #refuseSocket(request: IncomingMessage): Refusal | null {
    if (request.url !== '/live') return refused(404, 'NOT_FOUND', 'There is no websocket here.');
    return this.#clients.size < MAX_CLIENTS ? null : refused(503, 'TOO_MANY_DASHBOARDS', `There are ${MAX_CLIENTS} dashboards open: close one.`);
  }

  #welcome(socket: WebSocket, caller: Caller): void {
    const client: Client = { socket, caller, page: { send: (message) => sendTo(client, message) }, missedPings: 0, isBehind: false };
    this.#clients.add(client);
    socket.on('close', () => {
      if (this.#clients.delete(client)) this.#source.closed(client.page);
    });
    // The close event follows every error; without a listener an oversize message would end the service.
    socket.on('error', () => undefined);
    socket.on('pong', () => (client.missedPings = 0));
    socket.on('message', (data, isBinary) => {
      if (!isBinary) this.#answer(client, String(data));
      else if (refuseChange(caller) === null) this.#forward(client, data as Buffer);
    });
    const { checks, ...state } = this.#source.state();
    sendTo(client, { type: 'checks', checks });
    sendTo(client, { type: 'state', state });
    this.#sendOverview(client);
    sendTo(client, { type: 'located', location: this.#source.location() });
    const judged = this.#source.judgement();
    if (judged !== null) sendTo(client, { type: 'judgement', clock: this.#source.clock(), ...judged });
  }

  #forward(client: Client, data: Buffer): void {
    const frame = decodeForwardedFrame(data);
    if (frame === null) sendTo(client, { type: 'refused', request: 0, code: 'BAD_REQUEST', message: 'Not understood: a binary message holds the bytes of a meter.' });
    else this.#source.forwarded(frame, client.page);
  }

  #answer(client: Client, data: string): void {
    const parsed = parseClientMessage(data);
    if (parsed.kind === 'bad') {
      sendTo(client, { type: 'refused', request: parsed.request, code: 'BAD_REQUEST', message: `Not understood: ${parsed.why}` });
      return;
    }
    const { request, ...asked } = parsed.message;
    const refusal = onlyReads(asked) ? null : refuseChange(client.caller);
    if (refusal !== null) {
      sendTo(client, { type: 'refused', request, code: refusal.code, message: refusal.message });
      return;
    }
    const refuse = (error: unknown) => {
      // Anything but a refusal is a fault of the service: it must show in the terminal, and must not pass for done.
      if (!(error instanceof RequestRefused)) console.error(error);
      const { code, message } = error instanceof RequestRefused ? error
        : { code: 'INTERNAL', message: 'The service could not do this; its terminal says why.' };
      sendTo(client, { type: 'refused', request, code, message });
    };
    try {
      const outcome = this.#source.request(asked, client.page);
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
