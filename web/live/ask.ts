/** Requests to the service and their answers. */
import type { ClientRequest } from '../../server/live/protocol.ts';
import { texts } from '../texts.ts';

/** The service refused, or is not there; the message says what to do. */
export class RequestFailed extends Error {
  readonly code: string;
  constructor(code: string, message: string) {
    super(message);
    this.code = code;
  }
}

interface Waiting { done(result: unknown): void; fail(error: RequestFailed): void; readonly timer: number }

const ANSWER_PATIENCE = 5;
const waiting = new Map<number, Waiting>();
let lastRequest = 0;
let sendText: (text: string) => boolean = () => false;

/** Hands in the way to the service. */
export function useSender(send: (text: string) => boolean): void {
  sendText = send;
}

/**
 * @param patience  s to wait for an answer
 * @returns what the request gives back, undefined where it gives nothing
 * @throws {RequestFailed} when refused, or not answered because the service is away
 */
export function ask(request: ClientRequest, patience = ANSWER_PATIENCE): Promise<unknown> {
  return new Promise((done, fail) => {
    const number = ++lastRequest;
    if (!sendText(JSON.stringify({ ...request, request: number }))) {
      fail(new RequestFailed('NO_CONTACT', texts.trouble.noContact));
      return;
    }
    const timer = window.setTimeout(() => {
      waiting.delete(number);
      fail(new RequestFailed('NO_ANSWER', texts.trouble.noAnswer));
    }, patience * 1000);
    waiting.set(number, { done, fail, timer });
  });
}

export function answered(number: number, refusal: { code: string; message: string } | null, result?: unknown): void {
  const request = waiting.get(number);
  if (request === undefined) return;
  waiting.delete(number);
  clearTimeout(request.timer);
  if (refusal === null) request.done(result);
  else request.fail(new RequestFailed(refusal.code, refusal.message));
}

export function failAllWaiting(): void {
  for (const request of waiting.values()) {
    clearTimeout(request.timer);
    request.fail(new RequestFailed('NO_ANSWER', texts.trouble.noAnswer));
  }
  waiting.clear();
}
