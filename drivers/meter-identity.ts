/** What a meter is remembered by. */
import { AddressParts } from './address.ts';

/**
 * The part of an address that names the instrument rather than how it is read: its adapter by serial number (with vendor and product,
 * because cheap adapters share numbers), else port, host or name; and the slave on a bus of several. Baud rate, decoder and what
 * the address says of the meter may change; it stays the same meter. One in software is what its whole address says.
 * @throws {AddressError} for text that is no address
 */
export function meterIdentity(address: string): string {
  const parts = new AddressParts(address);
  if (parts.scheme === 'simulated' || parts.scheme === 'playback') return parts.text;
  const named = [
    ...(parts.target === '*' ? ['vendor', 'product', 'serial-number'] : []), 'slave',
  ].flatMap((name) => {
    const text = parts.textOption(name);
    return text === undefined ? [] : [`${name}=${name === 'vendor' || name === 'product' ? text.toLowerCase() : text}`];
  });
  return `${parts.scheme}:${parts.target}${named.length === 0 ? '' : `?${named.join('&')}`}`;
}
