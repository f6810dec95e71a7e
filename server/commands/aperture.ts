/**
 * `aperture FILE.csv`: the aperture of a meter, measured from a take in which its lead was lifted and set down again some fifty
 * times. Exit 0 measured, 1 not enough taps, 2 when file or options are unusable.
 */
import { createReadStream } from 'node:fs';
import { findTapEdges, measureAperture } from '../diagnosis/index.ts';
import type { MeasuredAperture } from '../diagnosis/index.ts';
import type { CommandIo } from './command.ts';
import { fileErrorText, isFileError } from './file-error.ts';
import { parseOptions } from './parse-options.ts';
import { readTakeFile, UnusableFile } from './take-file.ts';

export const APERTURE_USAGE = `aperture FILE.csv [options]

  Touch a steady voltage (a battery), record, and lift the lead and set it down again about 50 times, each time for at
  least three readings, out of step with the display. FILE.csv has the columns time (s), value, unit.

  --json            one JSON object instead of the summary
`;

/** @returns the exit code */
export async function apertureCommand(args: string[], io: CommandIo): Promise<number> {
  let options;
  try {
    options = parseOptions({ args, allowPositionals: true, options: { json: { type: 'boolean' }, help: { type: 'boolean', short: 'h' } } });
  } catch (error) {
    io.stderr.write(`aperture: ${(error as Error).message}\n\n${APERTURE_USAGE}`);
    return 2;
  }
  const { values, positionals: [file, ...others] } = options;
  if (values.help === true) {
    io.stdout.write(APERTURE_USAGE);
    return 0;
  }
  if (file === undefined || others.length > 0) {
    io.stderr.write(`aperture: give one file\n\n${APERTURE_USAGE}`);
    return 2;
  }
  try {
    const { samples } = await readTakeFile(createReadStream(file), null);
    const interval = usualStep(samples.time);
    const taps = findTapEdges(samples.time, samples.value, interval);
    const measured = taps === null ? null : measureAperture(taps.edges, taps.noise);
    if (measured === null) {
      io.stderr.write(`aperture: ${taps === null ? 'the readings show no two levels' : `${taps.edges.length} usable edges; it takes at least ten`}: lift the lead and set it down more often, each time for three readings or more\n`);
      return 1;
    }
    io.stdout.write(values.json === true ? `${JSON.stringify(asJson(measured, interval))}\n` : summary(measured, interval));
    return 0;
  } catch (error) {
    if (error instanceof UnusableFile) io.stderr.write(`aperture: ${error.message}\n`);
    else if (isFileError(error)) io.stderr.write(`aperture: ${fileErrorText(error)}\n`);
    else throw error;
    return 2;
  }
}

/** Median of the steps of time, s. */
function usualStep(time: Float64Array): number {
  const steps = time.slice(1).map((end, i) => end - (time[i] as number)).sort();
  return steps[steps.length >> 1] ?? Number.NaN;
}

function asJson(measured: MeasuredAperture, interval: number): object {
  return {
    schema: 'aperture/1', interval_s: interval, aperture_s: { estimate: measured.part * interval, low: measured.low * interval, high: measured.high * interval },
    edges: measured.edges, edges_needed: measured.edgesNeeded, averaging: measured.isAveraging,
  };
}

function summary({ part, low, high, edges, edgesNeeded, isAveraging }: MeasuredAperture, interval: number): string {
  const milliseconds = (share: number): string => (share * interval * 1000).toPrecision(3);
  return [
    `Aperture ${milliseconds(part)} ms of a ${(interval * 1000).toPrecision(3)} ms interval (95 %: ${milliseconds(low)} to ${milliseconds(high)} ms), from ${edges} edges.`,
    ...(edgesNeeded > 0 ? [`About ${Math.ceil(edgesNeeded / 2)} more taps would bring it within a tenth of the interval.`] : []),
    ...(isAveraging ? ['The meter averages over several readings (or its contact bounced): the aperture alone does not describe it.'] : []),
    '',
  ].join('\n');
}
