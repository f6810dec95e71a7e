/** Small whole numbers that seldom change, as runs: a column of lengths and a column of what repeats. */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';
import { readIntegers, writeIntegers } from './integer-column.ts';

export function writeRuns(out: ByteWriter, values: Uint8Array | Uint16Array): void {
  const lengths: number[] = [];
  const repeated: number[] = [];
  for (let from = 0, to = 0; from < values.length; from = to) {
    while (to < values.length && values[to] === values[from]) to++;
    lengths.push(to - from);
    repeated.push(values[from]!);
  }
  out.count(lengths.length);
  if (lengths.length === 0) return;
  if (lengths.length === 1) {
    out.count(repeated[0]!);
    return;
  }
  writeIntegers(out, Float64Array.from(lengths));
  writeIntegers(out, Float64Array.from(repeated));
}

export function readRuns<Column extends Uint8Array | Uint16Array>(from: ByteReader, into: Column): Column {
  const runs = from.count();
  if (runs > into.length || (runs === 0) !== (into.length === 0)) throw new DamagedBytes('a column has an impossible number of runs');
  if (runs === 1) {
    into.fill(from.count());
    return into;
  }
  const lengths = runs === 0 ? [] : readIntegers(from, runs);
  const repeated = runs === 0 ? [] : readIntegers(from, runs);
  let at = 0;
  for (let run = 0; run < runs; run++) {
    const length = lengths[run]!;
    if (!(length >= 1) || at + length > into.length) throw new DamagedBytes('a run does not fit its column');
    into.fill(repeated[run]!, at, at + length);
    at += length;
  }
  if (at !== into.length) throw new DamagedBytes('the runs do not fill their column');
  return into;
}
