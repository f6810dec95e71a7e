/**
 * Which Bluetooth LE services carry the bytes of a serial line, by convention. Pure. Which characteristic notifies and which is written to
 * is told by their properties, since documents swap the names.
 */

/** UUIDs in full lower-case form; characteristics left out are found by their properties. */
export interface UartService {
  readonly service: string;
  readonly notify?: string;
  readonly write?: string;
}

/**
 * Sources: Zephyr API documentation, nus.h (BT_UUID_NUS_SRV_VAL and its characteristics), https://docs.zephyrproject.org/apidoc/latest/nus_8h.html;
 * FFE0 and FFE1: a convention of sample code, not assigned for this use, https://github.com/eric-b/demo-hm10 (Constants/Hm1xShortUuids.cs).
 */
export const UART_SERVICES: readonly UartService[] = [
  { service: '6e400001-b5a3-f393-e0a9-e50e24dcca9e' },
  { service: '0000ffe0-0000-1000-8000-00805f9b34fb' },
];

const BASE = '-0000-1000-8000-00805f9b34fb';

/**
 * @param text  a UUID as people write it: 4, 8 or 32 hexadecimal digits, with or without hyphens and "0x"
 * @returns the full lower-case form; null when it is none. Short ones stand on the Bluetooth base UUID (Bluetooth Core, volume 3, part B, 2.5.1; from memory)
 */
export function fullUuid(text: string): string | null {
  const digits = text.trim().toLowerCase().replace(/^0x/, '').replaceAll('-', '');
  if (/^[0-9a-f]{4}$/.test(digits)) return `0000${digits}${BASE}`;
  if (/^[0-9a-f]{8}$/.test(digits)) return `${digits}${BASE}`;
  if (!/^[0-9a-f]{32}$/.test(digits)) return null;
  return digits.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}
