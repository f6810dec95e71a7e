/** Sizes of files and disks. Decimal prefixes (SI), two digits. Pure. */
export function bytesText(bytes: number): string {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : bytes < 1e9 ? `${(bytes / 1e6).toPrecision(2)} MB` : `${(bytes / 1e9).toPrecision(2)} GB`;
}
