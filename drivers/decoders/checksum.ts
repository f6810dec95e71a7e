/** Check sums that frames carry. Pure. */

export const CHECKSUMS = ['sum8', 'xor8', 'crc16-modbus'] as const;
export type Checksum = (typeof CHECKSUMS)[number];

/** How many bytes a check sum takes in a frame. */
export function checksumLength(kind: Checksum): number {
  return kind === 'crc16-modbus' ? 2 : 1;
}

/** Sum of all bytes, lowest 8 bits. */
export function sum8(bytes: Uint8Array): number {
  return bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0);
}

/** All bytes combined by exclusive or. */
export function xor8(bytes: Uint8Array): number {
  return bytes.reduce((sum, byte) => sum ^ byte, 0);
}

/** CRC-16/MODBUS: polynomial 0x8005 (reflected 0xA001), start 0xFFFF; check value of "123456789" is 0x4B37. */
export function crc16Modbus(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc & 1) !== 0 ? (crc >>> 1) ^ 0xa001 : crc >>> 1;
  }
  return crc;
}

/** @returns true when the check sum that stands at `at` (16 bits: low byte first) is that of the bytes from `from` to `at` */
export function checksumFits(kind: Checksum, frame: Uint8Array, from: number, at: number): boolean {
  const covered = frame.subarray(from, at);
  if (kind === 'sum8') return frame[at] === sum8(covered);
  if (kind === 'xor8') return frame[at] === xor8(covered);
  const crc = crc16Modbus(covered);
  return frame[at] === (crc & 0xff) && frame[at + 1] === crc >>> 8;
}
