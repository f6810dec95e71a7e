/**
 * What goes with the readings of a take, as comma-separated text. Marks: columns `time,text` and optional `kind` (mark, zone, flex, rig-proof
 * ...) and `count`. Motion: columns `time,value`.
 */
import { createReadStream } from 'node:fs';
import { parse } from 'csv-parse';
import type { Motion } from '../diagnosis/road.ts';
import { MARK_KINDS } from '../session/session.ts';
import type { MarkKind, MarkRecord } from '../session/session.ts';
import { ofTable, readNumber, UnusableFile } from './take-file.ts';

/**
 * @returns the marks in order of time, as those of take 1
 * @throws {UnusableFile} naming file and line
 */
export async function readMarksFile(path: string): Promise<MarkRecord[]> {
  const marks: MarkRecord[] = [];
  let at: ReturnType<typeof findColumns> | null = null;
  await readTable(path, 'marks', (record, line) => {
    if (at === null) at = findColumns(record, line);
    else marks.push(markOf(record, at, line, marks.length + 1));
  });
  if (at === null) throw new UnusableFile(0, 'the file of marks is empty');
  return marks.sort((a, b) => a.at - b.at);
}

/**
 * @returns size of the acceleration, in the unit of the file
 * @throws {UnusableFile} naming the line
 */
export async function readMotionFile(path: string): Promise<Motion> {
  const time: number[] = [];
  const size: number[] = [];
  let at: { time: number; value: number } | null = null;
  await readTable(path, 'motion', (record, line) => {
    if (at === null) {
      const names = record.map((name) => name.toLowerCase());
      at = { time: names.indexOf('time'), value: names.indexOf('value') };
      if (at.time < 0 || at.value < 0) throw new UnusableFile(line, 'the heading of the motion lacks "time" or "value"');
      return;
    }
    const [when, how] = [at.time, at.value].map((column) => readNumber((record[column] ?? '').replace(',', '.'))?.value ?? Number.NaN) as [number, number];
    if (!Number.isFinite(when) || !Number.isFinite(how)) throw new UnusableFile(line, `time and value of the motion are "${record[at.time] ?? ''}" and "${record[at.value] ?? ''}", not two numbers`);
    if (when < (time.at(-1) ?? -Infinity)) throw new UnusableFile(line, `time ${when} of the motion comes before ${time.at(-1)} of the line before`);
    time.push(when);
    size.push(Math.abs(how));
  });
  if (time.length === 0) throw new UnusableFile(0, 'the file of motion holds none');
  return { time, size };
}

/** @param take  each row, the heading too */
async function readTable(path: string, what: string, take: (record: readonly string[], line: number) => void): Promise<void> {
  const parser = parse({ bom: true, delimiter: [',', ';', '\t'], relax_column_count: true, skip_empty_lines: true, trim: true, info: true, max_record_size: 65536 });
  const input = createReadStream(path);
  input.on('error', (error) => parser.destroy(error));
  input.pipe(parser);
  try {
    for await (const { record, info: { lines } } of parser as AsyncIterable<{ record: string[]; info: { lines: number } }>) take(record, lines);
  } catch (error) {
    throw ofTable(error, what);
  }
}

function findColumns(heading: readonly string[], line: number): { time: number; text: number; kind: number; count: number } {
  const names = heading.map((name) => name.toLowerCase());
  const missing = ['time', 'text'].filter((name) => !names.includes(name));
  if (missing.length > 0) throw new UnusableFile(line, `the heading of the marks lacks ${missing.map((m) => `"${m}"`).join(' and ')}; needed are time, text and, if any, kind and count`);
  return { time: names.indexOf('time'), text: names.indexOf('text'), kind: names.indexOf('kind'), count: names.indexOf('count') };
}

function markOf(record: readonly string[], at: ReturnType<typeof findColumns>, line: number, id: number): MarkRecord {
  const cell = (i: number): string => (i < 0 ? '' : record[i] ?? '');
  const time = readNumber(cell(at.time).replace(',', '.'));
  if (time === null || !Number.isFinite(time.value)) throw new UnusableFile(line, `time of the mark is "${cell(at.time)}", not a number of seconds`);
  const kind = cell(at.kind) === '' ? 'mark' : MARK_KINDS.find((own) => own === cell(at.kind).toLowerCase());
  if (kind === undefined) throw new UnusableFile(line, `kind of the mark is "${cell(at.kind)}"; known are ${MARK_KINDS.join(', ')}`);
  const count = cell(at.count) === '' ? null : Number(cell(at.count));
  if (count !== null && !(Number.isInteger(count) && count >= 1)) throw new UnusableFile(line, `count is "${cell(at.count)}", not a whole number from 1`);
  return { id, take: 1, at: time.value, text: cell(at.text), ...(kind === 'mark' ? {} : { kind: kind satisfies MarkKind }), ...(count === null ? {} : { count }) };
}
