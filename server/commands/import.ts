/** `import FILE.csv`: a table of readings from anything becomes a session. Exit 0 imported, 2 not. Ctrl-C leaves nothing behind. */
import { parseAccuracy } from '../../drivers/address.ts';
import { CHECK_KINDS, WATCHINGS } from '../diagnosis/index.ts';
import {
  type Added, addSession, isSessionFile, type CsvPreview, DELIMITERS, importCsv, type Imported, type ImportOptions, type ImportPlan, isUnit, type PlanBeginning, previewCsv, TIME_FORMATS, type ValueColumn, ZONES,
} from '../recordings/index.ts';
import { sayCount } from '../diagnosis/wording.ts';
import type { CommandIo } from './command.ts';
import { fileErrorText, isFileError } from './file-error.ts';
import { parseOptions } from './parse-options.ts';
import { progressBar } from './progress-bar.ts';

export const IMPORT_USAGE = `import FILE.csv [options]

A session file (.sqlite) from elsewhere is added as it is. Of a table, columns, units and the form of the times are guessed; --preview shows the guess, the options correct it. Columns are named by
their heading or by their number from 1.

  --preview                show how the file would be read, import nothing
  --recordings DIR         folder of the sessions (default: recordings)
  --delimiter D            comma, semicolon, tab or bar
  --decimal D              point or comma
  --heading-rows N         rows before the first row of readings
  --time COLUMN[:FORMAT]   ${TIME_FORMATS.slice(0, 8).join(', ')},
                           ${TIME_FORMATS.slice(8).join(', ')}
  --date COLUMN            the date, where it stands apart from the time of day
  --zone ZONE              utc or local: what times without a zone mean (default: local, the clock of this machine)
  --interval S             for a file without times
  --value COLUMN[:UNIT]    a column of readings, may be given several times, e.g. --value 'CH1:mV'
  --unit COLUMN            column that names the unit
  --flag COLUMN            column with OL, blank or hold
  --kind KIND              ${CHECK_KINDS.slice(0, 6).join(', ')},
                           ${CHECK_KINDS.slice(6).join(', ')}
  --take TAKE              ${WATCHINGS.join(', ')} (default: wiggle)
  --low N, --high N        limits, in V, A or ohm
  --accuracy TEXT          of the meter, from its manual, e.g. '0.5%+2': without it the level is not judged
  --title, --vehicle, --complaint TEXT
  --quiet                  no progress bar
`;

class Misused extends Error {}

const OPTIONS = {
  preview: { type: 'boolean' }, recordings: { type: 'string', default: 'recordings' }, delimiter: { type: 'string' }, decimal: { type: 'string' },
  'heading-rows': { type: 'string' }, time: { type: 'string' }, date: { type: 'string' }, zone: { type: 'string' }, interval: { type: 'string' },
  value: { type: 'string', multiple: true }, unit: { type: 'string' }, flag: { type: 'string' }, kind: { type: 'string' }, take: { type: 'string' },
  low: { type: 'string' }, high: { type: 'string' }, accuracy: { type: 'string' }, title: { type: 'string' }, vehicle: { type: 'string' }, complaint: { type: 'string' },
  quiet: { type: 'boolean' }, help: { type: 'boolean', short: 'h' },
} as const;

/** @returns the exit code */
export async function importCommand(args: string[], io: CommandIo): Promise<number> {
  const stopping = new AbortController();
  const stop = () => stopping.abort();
  let bar: ReturnType<typeof progressBar> | null = null;
  try {
    const { values, positionals: [file, ...others] } = parse(args);
    if (values.help === true) {
      io.stdout.write(IMPORT_USAGE);
      return 0;
    }
    if (file === undefined || others.length > 0) throw new Misused('give one file');
    if (isSessionFile(file)) {
      const checking = values.quiet === true ? null : progressBar(io.stderr, 'checking');
      bar = checking;
      const added = addSession(file, values.recordings, { onProgress: (share) => checking?.show(share) });
      bar?.end();
      io.stdout.write(addedWords(added));
      return 0;
    }
    process.once('SIGINT', stop);
    const preview = await previewCsv(file, beginningOf(values));
    const plan = corrected(preview, values);
    if (values.preview === true) {
      io.stdout.write(describe(preview, plan));
      return 0;
    }
    bar = values.quiet === true ? null : progressBar(io.stderr, 'importing');
    const options: ImportOptions = {
      title: values.title, vehicle: values.vehicle, complaint: values.complaint,
      kind: oneOf('kind', values.kind, CHECK_KINDS), watching: oneOf('take', values.take, WATCHINGS),
      limits: { low: number('low', values.low), high: number('high', values.high) },
      accuracy: accuracyOf(values.accuracy), nowUs: Date.now() * 1000, signal: stopping.signal, onProgress: (share) => bar?.show(share),
    };
    const imported = await importCsv(file, values.recordings, plan, options);
    bar?.end();
    io.stdout.write(summary(imported));
    return 0;
  } catch (error) {
    bar?.end();
    if (stopping.signal.aborted) io.stderr.write('import: stopped, nothing was imported\n');
    else if (error instanceof Misused) io.stderr.write(`import: ${error.message}\n\n${IMPORT_USAGE}`);
    else if (isFileError(error)) io.stderr.write(`import: ${fileErrorText(error)}\n`);
    else if (error instanceof RangeError || (error instanceof Error && 'code' in error)) io.stderr.write(`import: ${error.message}\n`);
    else throw error;
    return 2;
  } finally {
    process.off('SIGINT', stop);
  }
}

function addedWords({ added, takes, isUnchanged, findings }: Added): string {
  const seals = isUnchanged ? 'unchanged since it was sealed' : `CHANGED since it was sealed:\n${findings.map(({ where, what }) => `  ${where}: ${what}`).join('\n')}`;
  return `Brought in as session ${added}: ${takes} ${takes === 1 ? 'take' : 'takes'}, ${seals}\n`;
}

function parse(args: string[]) {
  try {
    return parseOptions({ args, allowPositionals: true, options: OPTIONS });
  } catch (error) {
    throw new Misused((error as Error).message);
  }
}

type Values = ReturnType<typeof parse>['values'];

/** What is guessed only where the options leave it open, because the rest depends on it. */
function beginningOf(values: Values): PlanBeginning {
  const delimiters = { comma: ',', semicolon: ';', tab: '\t', bar: '|' } as const;
  const delimiter = delimiters[values.delimiter as keyof typeof delimiters] ?? DELIMITERS.find((one) => one === values.delimiter);
  if (values.delimiter !== undefined && delimiter === undefined) throw new Misused('the delimiter is comma, semicolon, tab or bar');
  const headingRows = number('heading-rows', values['heading-rows']);
  if (headingRows !== null && !(Number.isInteger(headingRows) && headingRows >= 0)) throw new Misused('--heading-rows is a whole number from 0');
  return { ...(delimiter === undefined ? {} : { delimiter }), ...(headingRows === null ? {} : { headingRows }) };
}

/** The guessed plan with what the options say instead. */
function corrected({ plan, heading }: CsvPreview, values: Values): ImportPlan {
  const columnOf = (text: string): number => {
    const byName = heading.indexOf(text);
    const byNumber = /^\d+$/.test(text) ? Number(text) - 1 : -1;
    const column = byName >= 0 ? byName : byNumber;
    if (column < 0 || column >= heading.length) throw new Misused(`there is no column "${text}"; there are ${heading.map((name) => `"${name}"`).join(', ')}`);
    return column;
  };
  const optional = (text: string | undefined, otherwise: number | null) => (text === undefined ? otherwise : columnOf(text));
  return {
    ...plan,
    decimal: oneOf('decimal', values.decimal, ['point', 'comma'] as const) ?? plan.decimal,
    time: timeOf(values, plan, columnOf),
    interval: number('interval', values.interval) ?? plan.interval,
    values: values.value?.map((text) => valueOf(text, heading, columnOf)) ?? plan.values,
    unitColumn: optional(values.unit, plan.unitColumn),
    flagColumn: optional(values.flag, plan.flagColumn),
  };
}

function timeOf({ time, date, interval, zone: zoneText }: Values, plan: ImportPlan, columnOf: (text: string) => number): ImportPlan['time'] {
  const dateColumn = date === undefined ? plan.time?.dateColumn ?? null : columnOf(date);
  const zone = oneOf('zone', zoneText, ZONES) ?? plan.time?.zone ?? 'local';
  if (time === undefined) return interval !== undefined ? null : plan.time === null ? null : { ...plan.time, dateColumn, zone };
  const cut = time.lastIndexOf(':');
  const formatText = cut < 0 ? undefined : time.slice(cut + 1);
  const format = oneOf('time', formatText, TIME_FORMATS);
  return { column: columnOf(cut < 0 ? time : time.slice(0, cut)), format: format ?? plan.time?.format ?? 's', dateColumn, zone };
}

function valueOf(text: string, heading: readonly string[], columnOf: (text: string) => number): ValueColumn {
  const cut = text.lastIndexOf(':');
  const unit = cut < 0 ? '' : text.slice(cut + 1);
  const column = columnOf(cut < 0 ? text : text.slice(0, cut));
  if (unit !== '' && !isUnit(unit)) throw new Misused(`"${unit}" is no unit of a reading; use for example mV, V, A, Ohm, kOhm, Hz`);
  return { column, unit, label: heading[column]! };
}

function oneOf<Choice extends string>(name: string, text: string | undefined, choices: readonly Choice[]): Choice | undefined {
  if (text === undefined) return undefined;
  const choice = choices.find((one) => one === text);
  if (choice === undefined) throw new Misused(`--${name} is one of ${choices.join(', ')}`);
  return choice;
}

function accuracyOf(text: string | undefined): ImportOptions['accuracy'] {
  try {
    return text === undefined ? null : parseAccuracy(text);
  } catch {
    throw new Misused(`--accuracy is written like '0.5%+2', not "${text}"`);
  }
}

function number(name: string, text: string | undefined): number | null {
  if (text === undefined) return null;
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value)) throw new Misused(`--${name} is a number`);
  return value;
}

function describe({ heading, rows, doubts }: CsvPreview, plan: ImportPlan): string {
  const name = (column: number) => `"${heading[column]}"`;
  const { time } = plan;
  const lines = [
    `Columns: ${heading.map((text, i) => `${i + 1} "${text}"`).join(', ')}`,
    time === null ? `Time: none, one row every ${plan.interval ?? '?'} s`
      : `Time: ${name(time.column)} as ${time.format}${time.dateColumn === null ? '' : `, date in ${name(time.dateColumn)}`}`,
    ...plan.values.map(({ column, unit }) => `Readings: ${name(column)}${unit === '' ? '' : ` in ${unit}`}`),
    ...(plan.unitColumn === null ? [] : [`Unit: ${name(plan.unitColumn)}`]),
    ...(plan.flagColumn === null ? [] : [`Flag: ${name(plan.flagColumn)}`]),
    `First rows:`, ...rows.slice(0, 5).map((row) => `  ${row.join(' | ')}`),
    ...doubts,
  ];
  return `${lines.join('\n')}\n`;
}

function summary({ session, samples, takes, skipped, skippedFirst, spread }: Imported): string {
  const lines = [`Imported as ${session}: ${sayCount(samples, 'sample', 'samples')} in ${sayCount(takes, 'take', 'takes')}.`];
  if (spread > 0) lines.push(`${sayCount(spread, 'row', 'rows')} shared a time with the row above and ${spread === 1 ? 'was' : 'were'} spread evenly.`);
  if (skipped > 0) lines.push(`${sayCount(skipped, 'row was', 'rows were')} left out:`, ...skippedFirst.map(({ line, why }) => `  line ${line}: ${why}`));
  if (skipped > skippedFirst.length) lines.push('  ...');
  return `${lines.join('\n')}\n`;
}
