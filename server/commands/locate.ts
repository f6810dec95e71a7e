/** `locate CASE.json`: chart and readings in, the likeliest faults, the next check and contradictions out. Exit 0 when located, 2 when file or options are unusable. */
import { readFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { problemText } from '../session/chart-validation.ts';
import { chanceWords } from '../session/fault-words.ts';
import type { Located } from '../session/locate-case.ts';
import { locateCase, readCase } from '../session/locate-case.ts';
import type { CommandIo } from './command.ts';

export const LOCATE_USAGE = `locate CASE.json [--json]

CASE.json holds one object:
  chart        points, panels, spans, components, circuits (as the dashboard exports a chart)
  circuit      id of the circuit (default: the first of the chart)
  temperature  of the conductors, degC (default: 20)
  symptoms     [{"load": ID, "works": true or false}]
  readings     [{"check": ID, "value": N}] by a check of the circuit, or
               [{"kind": KIND, "red": POINT, "black": POINT, "value": N}] by leads; SI units, null for over-range;
               also "uncertainty" (standard, SI), "removed" and "unplugged" (parts and connectors),
               "flexing": {"flexes": N, "dropouts": N, "parts": [ID]} for a wiggle take
  openPanels   panels that are off
  state        "as found", "dead" or "isolated"
  meter        {"displayCounts", "volts": {"fraction", "counts"}, "ohms": {...}, "leastVolts", "leastOhms"}

  --json       one JSON object: {faults: [{kind, at, chance}], next: [{check, leads, minutes}], contradictions: [...]}
`;

/** @returns the exit code */
export async function locateCommand(args: string[], io: CommandIo): Promise<number> {
  let options: { positionals: string[]; values: { json?: boolean | undefined; help?: boolean | undefined } };
  try {
    options = parseArgs({ args, allowPositionals: true, options: { json: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } } });
  } catch (error) {
    return refuse(io, `${(error as Error).message}\n\n${LOCATE_USAGE}`);
  }
  if (options.values.help === true) {
    io.stdout.write(LOCATE_USAGE);
    return 0;
  }
  const [file, ...more] = options.positionals;
  if (file === undefined || more.length > 0) return refuse(io, `give one file\n\n${LOCATE_USAGE}`);
  let input: unknown;
  try {
    input = JSON.parse(await readFile(file, 'utf8'));
  } catch (error) {
    if (error instanceof SyntaxError) return refuse(io, `${file} is not JSON: ${error.message}\n`);
    return refuse(io, `can't read ${file}: ${(error as Error).message}\n`);
  }
  const read = readCase(input);
  if (read.kind === 'problems') return refuse(io, `${file} can't be used:\n${read.problems.map((problem) => `  ${problemText(problem)}\n`).join('')}`);
  const located = locateCase(read.case);
  io.stdout.write(options.values.json === true ? `${JSON.stringify(locatedAsJson(located))}\n` : locatedAsText(located));
  return 0;
}

function refuse(io: CommandIo, message: string): number {
  io.stderr.write(`locate: ${message}`);
  return 2;
}

function locatedAsJson({ faults, next, isFound, expectedMinutes, contradictions }: Located): object {
  return {
    schema: 'locate/1', found: isFound, expected_minutes: expectedMinutes,
    faults: faults.map(({ kind, at, other, intermittent, chance, ohms, words }) => ({ kind, at, ...(other === undefined ? {} : { other }), intermittent, chance, ohms, words })),
    next: next.map(({ check, leads, minutes, words }) => ({ check, leads, minutes, words })),
    contradictions: contradictions.map(({ reading, check, chance, words }) => ({ reading, check, chance, words })),
  };
}

function locatedAsText({ faults, next, isFound, expectedMinutes, contradictions }: Located): string {
  const lines = [
    ...contradictions.map(({ words }) => words),
    ...faults.slice(0, 5).map(({ chance, words }) => `${chanceWords(chance).padStart(11)}  ${words}`),
    isFound ? 'Sure enough to open the harness there.' : next.length === 0 ? 'No check tells more.' : `Next (about ${Math.round(expectedMinutes)} minutes to the end):`,
    ...next.map(({ words, minutes }, order) => `${order + 1}. ${words} About ${minutes.toFixed(1)} minutes.`),
  ];
  return `${lines.join('\n')}\n`;
}
