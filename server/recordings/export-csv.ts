/**
 * CSV as RFC 4180 has it (CRLF, a heading, nothing here needs quotes), one row a sample, with metadata as the W3C
 * recommendation "Metadata Vocabulary for Tabular Data" (17 December 2015) has it. Numbers are the shortest that give the
 * same double back; the columns time, value, unit and flag are those that `judge` reads.
 */
import { fromFunctionCode, UNITS } from '../../drivers/reading.ts';
import type { SamplePage } from './export.ts';
import { flagWords, judgeFlag } from './flag-words.ts';
import type { SessionReader } from './session-reader.ts';

interface CsvColumn {
  readonly name: string;
  readonly title: string;
  readonly datatype: string;
  readonly description: string;
}

const COLUMNS: readonly CsvColumn[] = [
  { name: 'time', title: 'time', datatype: 'double', description: 'End of the sample on the session clock, s' },
  { name: 'value', title: 'value', datatype: 'double', description: 'Value in the unit of its row; empty when over-range or blank' },
  { name: 'unit', title: 'unit', datatype: 'string', description: 'SI unit of value and resolution' },
  { name: 'flag', title: 'flag', datatype: 'string', description: 'OL: over-range; blank: no value shown; hold: an old value' },
  { name: 'quantity', title: 'quantity', datatype: 'string', description: 'What is measured' },
  { name: 'coupling', title: 'coupling', datatype: 'string', description: 'dc, ac, acdc, or none where the meter does not say' },
  { name: 'resolution', title: 'resolution', datatype: 'double', description: 'Value of one count; empty when not known' },
  { name: 'flags', title: 'flags', datatype: 'string', description: 'All that the display said, as words separated by spaces' },
  { name: 'take', title: 'take', datatype: 'integer', description: 'Number of the take' },
  { name: 'meter', title: 'meter', datatype: 'integer', description: 'Number of the meter' },
  { name: 'seq', title: 'seq', datatype: 'integer', description: 'Counts every sample of the session, all meters, from 1' },
  { name: 'arrival', title: 'arrival', datatype: 'double', description: 'Arrival as measured, on the session clock, s' },
];

export const CSV_HEADING = `${COLUMNS.map(({ title }) => title).join(',')}\r\n`;

export function csvRows({ take, meter, samples }: SamplePage): string {
  const { length, time, value, resolution, flags, functionCode, seq, arrival } = samples;
  let rows = '';
  for (let i = 0; i < length; i++) {
    const { unit, quantity, coupling } = functionText(functionCode[i]!);
    rows += `${time[i]},${number(value[i]!)},${unit},${judgeFlag(flags[i]!)},${quantity},${coupling},${number(resolution[i]!)},${flagWords(flags[i]!)},${take},${meter},${seq[i]},${arrival[i]}\r\n`;
  }
  return rows;
}

/** As XML Schema writes a double; empty for NaN, which is a value that is not there. */
function number(value: number): string {
  if (Number.isFinite(value)) return Object.is(value, -0) ? '-0' : String(value);
  return Number.isNaN(value) ? '' : value > 0 ? 'INF' : '-INF';
}

const texts = new Map<number, { unit: string; quantity: string; coupling: string }>();

function functionText(code: number): { unit: string; quantity: string; coupling: string } {
  let text = texts.get(code);
  if (text === undefined) {
    try {
      const { quantity, coupling } = fromFunctionCode(code);
      text = { unit: UNITS[quantity], quantity, coupling };
    } catch {
      text = { unit: '', quantity: 'unknown', coupling: 'none' };
    }
    texts.set(code, text);
  }
  return text;
}

/** The metadata document of an exported table. */
export function csvMetadata(reader: SessionReader, url: string): string {
  const info = reader.info();
  return `${JSON.stringify({
    '@context': ['http://www.w3.org/ns/csvw', { '@language': 'en' }],
    url,
    'dc:title': info.title === '' ? `Session ${info.id}` : info.title,
    'dc:description': 'Samples of meters watching a harness; times are on the session clock, which began at dc:date.',
    'dc:date': { '@value': new Date(info.startedAtUs / 1000).toISOString(), '@type': 'dateTime' },
    'dc:subject': info.vehicle,
    dialect: { header: true, headerRowCount: 1, delimiter: ',', lineTerminators: ['\r\n'], encoding: 'utf-8' },
    tableSchema: {
      columns: COLUMNS.map(({ name, title, datatype, description }) => ({
        name, titles: title, datatype, 'dc:description': description, null: '', required: ['time', 'take', 'meter', 'seq', 'arrival'].includes(name),
      })),
      primaryKey: ['meter', 'seq'],
    },
  }, null, 2)}\n`;
}
