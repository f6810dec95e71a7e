/** What every request and every websocket passes before anything acts on it; each listener has a gate of its own. */
import type { IncomingHttpHeaders } from 'node:http';
import { LOCAL, type Caller, type Refusal } from './caller.ts';
import { refuseForeign } from './foreign.ts';

export interface Gate {
  /** @param needsOrigin see refuseForeign @returns null for a request to an own address, from an own page */
  refuseForeign(headers: IncomingHttpHeaders, needsOrigin: boolean): Refusal | null;
  /** Who asks, or why they may not: called after refuseForeign. */
  identify(headers: IncomingHttpHeaders): Caller | Refusal;
}

/** The gate of the loopback listener: whoever can open a page on this machine is trusted. */
export class LoopbackGate implements Gate {
  readonly #hosts: () => ReadonlySet<string>;

  /** @param hosts the Host values answered to; empty until the port is known */
  constructor(hosts: () => ReadonlySet<string>) {
    this.#hosts = hosts;
  }

  refuseForeign(headers: IncomingHttpHeaders, needsOrigin: boolean): Refusal | null {
    return refuseForeign(this.#hosts(), headers.host, headers.origin, needsOrigin);
  }

  identify(): Caller {
    return LOCAL;
  }
}
