/** Which addresses belong to a network of one's own, and which of them this machine has. */
import { BlockList, isIP } from 'node:net';
import { networkInterfaces } from 'node:os';

/**
 * Address ranges that no router of the internet forwards: private use (RFC 1918), shared by a provider's customers
 * (RFC 6598), link-local (RFC 3927, RFC 4291), unique local (RFC 4193), and loopback (RFC 1122, RFC 4291).
 */
export const PRIVATE_RANGES = [
  '10.0.0.0/8', '172.16.0.0/12', '192.168.0.0/16', '100.64.0.0/10', '169.254.0.0/16', '127.0.0.0/8',
  'fc00::/7', 'fe80::/10', '::1/128',
] as const;

const ranges = new BlockList();
for (const range of PRIVATE_RANGES) {
  const [address, prefix] = range.split('/') as [string, string];
  ranges.addSubnet(address, Number(prefix), address.includes(':') ? 'ipv6' : 'ipv4');
}

/** False too for what is no address at all. */
export function isPrivateAddress(address: string): boolean {
  const family = isIP(address);
  return family !== 0 && ranges.check(address, family === 6 ? 'ipv6' : 'ipv4');
}

export interface OwnAddress {
  readonly address: string;
  /** Name of the interface, as the system calls it: tells the workshop's network from others. */
  readonly network: string;
}

/** The private IPv4 addresses of this machine by which others can reach it, in the system's order. */
export function ownPrivateAddresses(): OwnAddress[] {
  return Object.entries(networkInterfaces()).flatMap(([network, addresses]) =>
    (addresses ?? [])
      .filter(({ family, internal, address }) => family === 'IPv4' && !internal && isPrivateAddress(address))
      .map(({ address }) => ({ address, network })));
}
