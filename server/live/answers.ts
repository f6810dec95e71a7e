/** Answers that every route gives alike. */
import type { Response } from 'express';
import type { Caller, Refusal } from './access/index.ts';

/** Who asks, once the gate let them in. */
export function callerOf(response: Response): Caller {
  return response.locals['caller'] as Caller;
}

export function refuse(response: Response, { status, code, message }: Refusal): void {
  fail(response, status, code, message);
}

export function fail(response: Response, status: number, code: string, message: string): void {
  response.status(status).json({ code, message });
}
