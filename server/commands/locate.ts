/** `locate CASE.json`: chart and readings in, the likeliest faults, the next check and contradictions out. Exit 0 when located, 2 when file or options are unusable. */
import { readFile } from 'node:fs/promises';
import { problemText } from '../session/chart-validation.ts';
import { chanceWords } from '../session/fault-words.ts';
import { readCase } from '../session/locate-case.ts';
import type { Located } from '../session/located.ts';
import { locateCase } from '../session/located.ts';
import type { CommandIo } from './command.ts';
import { fileErrorText, isFileError } from './file-error.ts';
import { parseOptions } from './parse-options.ts';

export const LOCATE_USAGE = `locate CASE.json [--json]

CASE.json holds one object:
  chart        points, panels, spans, components, circuits (as the dashboard exports a chart)
  circuit      id of the circuit (default: the first of the chart)
  temperature  of the conductors, degC (default: 20)
  symptoms     [{"load": ID, "works": true or false}]
  readings     [{"check": ID, "value": N}] by a check of the circuit, or
               [{"kind": KIND, "red": POINT, "black": POINT, "value": N}] by leads; SI units, null for over-range;
               also "uncertainty" (standard, SI), "removed" and "unplugged" (parts and connectors),
               "flexing": {"flexes": N, "dropouts": N, "parts": [ID]} for a wiggle take,
               "repeats" (times it was read alike before), "take" (the take that it comes from)
  openPanels   panels that are off
  state        "as found", "dead" or "isolated"
  distance     what was read for the place along the wire; every figure {"value", "count"}, count: what the last digit
               of the display stands for. One of
               {"method": "both-ends", "span", "fromFirst", "fromSecond", "endToEnd"}: ohms to ground from each end, and
               end to end (null: as charted); leads nulled
               {"method": "current", "span", "amps", "atFirst", "atSecond", "endToEndVolts"}: about 1 A, limited, driven into
               the first end of the isolated span, volts to ground at both; and volts along the whole wire with that current
               {"method": "drops", "amps", "drops": [{"span", "volts"}]}: the drop along each span with its current
  meter        {"displayCounts", "volts": {"fraction", "counts"}, "ohms": {...}, "leastVolts", "leastOhms"}

  --json       one JSON object: {faults: [{kind, at, chance}], next: [{check, leads, minutes}], contradictions: [...],
               double: null or {chance, faults, words}, distance: null or {method, span, metres, low, high, words, doubts}}
`;

/** @returns the exit code */
export async function locateCommand(args: string[], io: CommandIo): Promise<number> {
  let options: { positionals: string[]; values: { json?: boolean | undefined; help?: boolean | undefined } };
  try {
    options = parseOptions({ args, allowPositionals: true, options: { json: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } } });
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
    if (!isFileError(error)) throw error;
    return refuse(io, `${fileErrorText(error)}\n`);
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

function locatedAsJson({ faults, next, isFound, expectedMinutes, contradictions, double, distance }: Located): object {
  const faultAsJson = ({ kind, at, other, intermittent, chance, ohms, words }: Located['faults'][number]): object => ({ kind, at, ...(other === undefined ? {} : { other }), intermittent, chance, ohms, words });
  return {
    schema: 'locate/1', found: isFound, expected_minutes: expectedMinutes,
    faults: faults.map(faultAsJson),
    next: next.map(({ check, leads, minutes, words, why }) => ({ check, leads, minutes, words, why })),
    contradictions: contradictions.map(({ reading, check, chance, words }) => ({ reading, check, chance, words })),
    double: double === null ? null : { chance: double.chance, faults: double.faults.map(faultAsJson), words: double.words },
    distance: distance === null ? null : {
      method: distance.method, span: distance.span, metres: distance.place?.distance ?? null, low: distance.place?.low ?? null, high: distance.place?.high ?? null,
      ...(distance.excess.length === 0 ? {} : { excess: distance.excess.map(({ at, excess, uncertainty, isBad }) => ({ at, ohms: excess, uncertainty, bad: isBad })) }),
      words: distance.words, doubts: distance.doubts, basis: distance.basis,
    },
  };
}

function locatedAsText({ faults, next, isFound, expectedMinutes, contradictions, double, distance }: Located): string {
  const lines = [
    // Said once of a check, however many of its readings are in doubt.
    ...new Set(contradictions.map(({ words }) => words)),
    ...(double === null ? [] : [double.words]),
    ...faults.slice(0, 5).map(({ chance, words }) => `${chanceWords(chance).padStart(11)}  ${words}`),
    ...(distance === null ? [] : [`Along the wire: ${distance.words}`, ...distance.doubts.map((doubt) => `  doubtful: ${doubt}`)]),
    isFound ? 'Sure enough to open the harness there.' : next.length === 0 ? 'No check tells more.' : `Next (about ${Math.round(expectedMinutes)} minutes to the end):`,
    ...next.map(({ words, why, minutes }, order) => `${order + 1}. ${words} About ${minutes.toFixed(1)} minutes. ${why}`.trim()),
  ];
  return `${lines.join('\n')}\n`;
}
