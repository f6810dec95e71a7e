/**
 * Who may talk to the service: requests that name exactly one of its own addresses, from pages that it served itself.
 * This stops other web pages (foreign Origin) and renamed hosts that resolve to this machine (foreign Host). Pure.
 */

/** The Host values that the service answers to when it listens on a loopback address. */
export function ownHosts(address: string, port: number): ReadonlySet<string> {
  const names = new Set(['127.0.0.1', 'localhost', '[::1]', address.includes(':') ? `[${address}]` : address]);
  return new Set([...names].map((name) => `${name}:${port}`));
}

export type Refusal = { readonly status: 403; readonly message: string };

/**
 * @param host  the Host header
 * @param origin  the Origin header; undefined when the client sent none
 * @param needsOrigin  true for a websocket and for anything that changes state: a browser always sends Origin there
 * @returns null when allowed
 */
export function refuseForeign(
  hosts: ReadonlySet<string>, host: string | undefined, origin: string | undefined, needsOrigin: boolean,
): Refusal | null {
  if (host === undefined || !hosts.has(host.toLowerCase())) {
    return { status: 403, message: `This service does not answer to the host name "${host ?? ''}". Open it by the address that it printed at start.` };
  }
  if (origin === undefined) {
    return needsOrigin ? { status: 403, message: 'A request from outside a page of this service is refused here.' } : null;
  }
  const own = origin.toLowerCase();
  if (!own.startsWith('http://') || !hosts.has(own.slice('http://'.length))) {
    return { status: 403, message: `A page from ${origin} may not use this service.` };
  }
  return null;
}

/** Loopback means the whole of 127.0.0.0/8, ::1 and the name localhost. */
export function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1') return true;
  const parts = host.split('.');
  return parts.length === 4 && parts[0] === '127' && parts.every((part) => /^\d{1,3}$/.test(part) && Number(part) <= 255);
}
