/** Small whole numbers that seldom change, as runs: how many, which; until the column is full. */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';

export function writeRuns(out: ByteWriter, values: Uint8Array | Uint16Array): void {
  for (let from = 0, to = 0; from < values.length; from = to) {
    while (to < values.length && values[to] === values[from]) to++;
    out.count(to - from);
    out.count(values[from]!);
  }
}

export function readRuns<Column extends Uint8Array | Uint16Array>(from: ByteReader, into: Column): Column {
  for (let at = 0; at < into.length;) {
    const length = from.count();
    if (length === 0 || at + length > into.length) throw new DamagedBytes('a run does not fit its column');
    into.fill(from.count(), at, at + length);
    at += length;
  }
  return into;
}
