/**
 * Parquet, a row group a page, through hyparquet-writer. Times as whole microseconds (INT64), because a TIMESTAMP of this
 * writer is cut to milliseconds; values that are not there are null; what a code means stands in columns of its own.
 */
import { fileWriter, ParquetWriter, schemaFromColumnData } from 'hyparquet-writer';
import { fromFunctionCode, UNITS } from '../../drivers/reading.ts';
import { flagWords } from './flag-words.ts';
import type { SamplePage, SampleSource } from './export.ts';
import type { SessionReader } from './session-reader.ts';

export async function writeParquet(file: string, reader: SessionReader, source: SampleSource): Promise<void> {
  const writer = fileWriter(file);
  const info = reader.info();
  const parquet = new ParquetWriter({
    writer,
    schema: schemaFromColumnData({ columnData: columnsOf(null) }),
    createdBy: 'loomtrace',
    kvMetadata: [
      { key: 'session', value: JSON.stringify(info) },
      { key: 'meters', value: JSON.stringify(reader.meters()) },
      { key: 'takes', value: JSON.stringify(reader.takes().map(({ take }) => take)) },
    ],
  });
  for await (const page of source.pages()) {
    await parquet.write({ columnData: columnsOf(page).map(({ name, data }) => ({ name, data })), rowGroupSize: page.samples.length });
  }
  await parquet.finish();
}

type Column = { name: string; type: 'INT32' | 'INT64' | 'DOUBLE' | 'STRING'; nullable: boolean; data: (number | bigint | string | null)[] };

function columnsOf(page: SamplePage | null): Column[] {
  const { take, meter, samples } = page ?? { take: 0, meter: 0, samples: null };
  const whole = (values: Float64Array | undefined) => Array.from(values ?? [], (value) => BigInt(Math.round(value)));
  const microseconds = (values: Float64Array | undefined) => Array.from(values ?? [], (value) => BigInt(Math.round(value * 1e6)));
  const optional = (values: Float64Array | undefined) => Array.from(values ?? [], (value) => (Number.isNaN(value) ? null : value));
  const codes = Array.from(samples?.functionCode ?? [], meaningOf);
  const n = samples?.length ?? 0;
  return [
    { name: 'take', type: 'INT32', nullable: false, data: new Array<number>(n).fill(take) },
    { name: 'meter', type: 'INT32', nullable: false, data: new Array<number>(n).fill(meter) },
    { name: 'seq', type: 'INT64', nullable: false, data: whole(samples?.seq) },
    { name: 'time_us', type: 'INT64', nullable: false, data: microseconds(samples?.time) },
    { name: 'arrival_us', type: 'INT64', nullable: false, data: microseconds(samples?.arrival) },
    { name: 'value', type: 'DOUBLE', nullable: true, data: optional(samples?.value) },
    { name: 'unit', type: 'STRING', nullable: false, data: codes.map(({ unit }) => unit) },
    { name: 'quantity', type: 'STRING', nullable: false, data: codes.map(({ quantity }) => quantity) },
    { name: 'coupling', type: 'STRING', nullable: false, data: codes.map(({ coupling }) => coupling) },
    { name: 'resolution', type: 'DOUBLE', nullable: true, data: optional(samples?.resolution) },
    { name: 'flags', type: 'STRING', nullable: false, data: Array.from(samples?.flags ?? [], flagWords) },
  ];
}

function meaningOf(code: number): { unit: string; quantity: string; coupling: string } {
  try {
    const { quantity, coupling } = fromFunctionCode(code);
    return { unit: UNITS[quantity], quantity, coupling };
  } catch {
    return { unit: '', quantity: 'unknown', coupling: 'none' };
  }
}
