/**
 * The token's way to the device and back: a cookie that no script reads, that only this very host gets (the __Host- prefix:
 * RFC 6265bis, 4.1.3.2) and that no request from another site carries.
 */
import { PAIRED_DAYS } from './devices.ts';

const NAME = '__Host-loomtrace';

export function tokenCookie(token: string): string {
  return `${NAME}=${token}; Path=/; Max-Age=${PAIRED_DAYS * 86_400}; Secure; HttpOnly; SameSite=Strict`;
}

/** @param header the Cookie header @returns undefined when the device brought no token */
export function tokenOf(header: string | undefined): string | undefined {
  const start = `${NAME}=`;
  return header?.split(';').map((part) => part.trim()).find((part) => part.startsWith(start))?.slice(start.length);
}
