/**
 * Requests that name exactly one of the service's own addresses, from pages that it served itself. This stops other web
 * pages (foreign Origin) and renamed hosts that resolve to this machine (foreign Host). Pure.
 */
import { refused, type Refusal } from './caller.ts';

export type Scheme = 'http' | 'https';

/** The Host values that the service answers to when it listens on a loopback address. */
export function ownHosts(address: string, port: number): ReadonlySet<string> {
  return hostsOf(['127.0.0.1', 'localhost', '::1', address], port);
}

/** The Host values of exactly these addresses, IPv6 in brackets. */
export function hostsOf(addresses: readonly string[], port: number): ReadonlySet<string> {
  return new Set(addresses.map((address) => hostText(address, port)));
}

/** `address:port` as in a URL; IPv6 in brackets. */
export function hostText(address: string, port: number): string {
  return `${address.includes(':') ? `[${address}]` : address}:${port}`;
}

/**
 * @param host  the Host header
 * @param origin  the Origin header; undefined when the client sent none
 * @param needsOrigin  true for a websocket and for anything that changes state: a browser always sends Origin there
 * @param scheme  of the service's own pages
 * @returns null when allowed
 */
export function refuseForeign(
  hosts: ReadonlySet<string>, host: string | undefined, origin: string | undefined, needsOrigin: boolean, scheme: Scheme = 'http',
): Refusal | null {
  if (host === undefined || !hosts.has(host.toLowerCase())) {
    return foreign(`This service does not answer to the host name "${host ?? ''}". Open it by the address that it printed at start.`);
  }
  if (origin === undefined) return needsOrigin ? foreign('A request from outside a page of this service is refused here.') : null;
  const own = origin.toLowerCase();
  const start = `${scheme}://`;
  return own.startsWith(start) && hosts.has(own.slice(start.length)) ? null : foreign(`A page from ${origin} may not use this service.`);
}

function foreign(message: string): Refusal {
  return refused(403, 'FOREIGN', message);
}

/** Loopback means the whole of 127.0.0.0/8, ::1 and the name localhost. */
export function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1') return true;
  const parts = host.split('.');
  return parts.length === 4 && parts[0] === '127' && parts.every((part) => /^\d{1,3}$/.test(part) && Number(part) <= 255);
}
