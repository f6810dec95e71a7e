/** `judge FILE.csv`: a stored take, judged without a screen. Exit 0 when it was judged, 2 when file or options are unusable. */
import { createReadStream, readFileSync } from 'node:fs';
import type { Quantity } from '../../drivers/reading.ts';
import { CHECK_KINDS, expectedQuantities, judgeAll, WATCHINGS } from '../diagnosis/index.ts';
import type { CheckKind, JudgeSetup, Judgement, Watching } from '../diagnosis/index.ts';
import { USUAL_SUPPLY } from '../diagnosis/silence.ts';
import { RecordingError } from '../recordings/index.ts';
import { parseProfile, type MeterProfile } from '../session/meter-profile.ts';
import type { CommandIo } from './command.ts';
import { fileErrorText, isFileError } from './file-error.ts';
import { judgeWithMarks } from './judge-marks.ts';
import { judgeSession } from './judge-session.ts';
import { judgementAsJson } from './judge-output.ts';
import type { MarksSaid } from './judge-output.ts';
import { judgementAsText } from './judge-text.ts';
import { readMarksFile, readMotionFile } from './marks-file.ts';
import { parseOptions } from './parse-options.ts';
import { readTakeFile, UnusableFile } from './take-file.ts';

export const JUDGE_USAGE = `judge FILE.csv [options]

With a recording, SESSION.sqlite, in place of the table: judges its takes again and says what differs from what it holds.

FILE.csv has the columns time (s), value, unit and, if any, flag (OL).

  --kind KIND       ${CHECK_KINDS.slice(0, 6).join(', ')},
                    ${CHECK_KINDS.slice(6).join(', ')}
                    (default: supply for volts, continuity for ohms, current for amperes)
  --take TAKE       ${WATCHINGS.join(', ')} (default: wiggle)
  --low N, --high N limits, in V, A or ohm
  --interval S      sample interval, s (default: measured)
  --aperture S      part of the interval over which the meter averages, s
  --accuracy TEXT   from the meter's manual, e.g. '0.5%+2': of the reading, and counts
  --profile FILE    what is known of the meter, saved on the Meters screen: accuracy by range, leads, timing;
                    the options above and below go first
  --lead-ohms R     resistance of the leads, ohm, taken off ohms readings
  --depth N         shallowest plateau that counts as a dropout, in V, A or ohm
  --load-ohms R     what loads the circuit where the leads are, ohm
  --supply V        nominal voltage of the system (default: 12): what an open lifts a reading on the ground side to
  --marks MARKS.csv what was done in the take: columns time (s), text and, if any, kind
                    (zone: flexed from then on; flex: flexed count times; rig-proof: begin, end) and count
  --motion MOTION.csv  how a road take moved: columns time (s) and value (size of the acceleration without gravity, in one unit)
  --flexes N        how often the harness was flexed in all, without a file of marks
  --json            one JSON object instead of the summary
`;

const NUMBERS = ['low', 'high', 'interval', 'aperture', 'lead-ohms', 'depth', 'load-ohms', 'supply', 'flexes'] as const;
const TEXTS = ['kind', 'take', 'accuracy', 'profile', 'marks', 'motion', ...NUMBERS] as const;

class UnusableOptions extends Error {
  readonly code = 'OPTIONS_UNUSABLE';
}

/** @returns the exit code */
export async function judgeCommand(args: string[], io: CommandIo): Promise<number> {
  try {
    const options = readOptions(args);
    if (options === 'help') {
      io.stdout.write(JUDGE_USAGE);
      return 0;
    }
    if (options.file.endsWith('.sqlite')) {
      io.stdout.write(judgeSession(options.file, options.json));
      return 0;
    }
    const file = await readTakeFile(createReadStream(options.file), options.interval);
    const kind = options.kind ?? usualKind(file.quantity);
    const expected = expectedQuantities(kind);
    if (expected.length > 0 && !expected.includes(file.quantity)) {
      throw new UnusableFile(file.lines[0] as number, `a ${kind} check needs ${expected.join(' or ')}, this file holds ${file.quantity}`);
    }
    const setup: JudgeSetup = { ...options.setup, kind };
    const { judgement, said }: { judgement: Judgement; said?: MarksSaid } = options.marks === null && options.motion === null
      ? { judgement: judgeAll(setup, file.samples, options.flexes === null ? undefined : { flexes: options.flexes, flexedTime: Infinity }) }
      : judgeWithMarks(
        setup, file.samples, options.marks === null ? [] : await readMarksFile(options.marks), options.motion === null ? null : await readMotionFile(options.motion),
      );
    io.stdout.write(options.json ? `${JSON.stringify(judgementAsJson(judgement, said))}\n` : judgementAsText(judgement, said));
    return 0;
  } catch (error) {
    if (error instanceof UnusableOptions) io.stderr.write(`judge: ${error.message}\n\n${JUDGE_USAGE}`);
    else if (error instanceof UnusableFile || error instanceof RecordingError) io.stderr.write(`judge: ${error.message}\n`);
    else if (isFileError(error)) io.stderr.write(`judge: ${fileErrorText(error)}\n`);
    else throw error;
    return 2;
  }
}

interface Options {
  readonly file: string;
  readonly json: boolean;
  readonly kind: CheckKind | null;
  readonly interval: number | null;
  readonly marks: string | null;
  readonly motion: string | null;
  readonly flexes: number | null;
  readonly setup: Omit<JudgeSetup, 'kind'>;
}

function readOptions(args: readonly string[]): Options | 'help' {
  const known = Object.fromEntries(TEXTS.map((name) => [name, { type: 'string' }] as const));
  let parsed: { values: Record<string, string | boolean | undefined>; positionals: string[] };
  try {
    parsed = parseOptions({ args: joinValues(args), options: { ...known, json: { type: 'boolean' }, help: { type: 'boolean' } }, allowPositionals: true });
  } catch (error) {
    throw new UnusableOptions((error as Error).message);
  }
  const { values, positionals } = parsed;
  if (values['help'] === true) return 'help';
  if (positionals.length !== 1) throw new UnusableOptions(positionals.length === 0 ? 'which file?' : `one file at a time, not ${positionals.length}`);
  const number = (name: (typeof NUMBERS)[number], least: number): number | null => {
    const text = values[name];
    if (typeof text !== 'string') return null;
    const value = Number(text);
    if (text.trim() === '' || !Number.isFinite(value)) throw new UnusableOptions(`--${name} is a number, not "${text}"`);
    if (!(value > least)) throw new UnusableOptions(`--${name} is above ${least}, not ${text}`);
    return value;
  };
  const low = number('low', -Infinity);
  const high = number('high', -Infinity);
  if (low !== null && high !== null && low > high) throw new UnusableOptions(`--low ${low} is above --high ${high}`);
  const profile = readProfile(values['profile']);
  const accuracy = readAccuracy(values['accuracy']);
  const leadOhms = number('lead-ohms', -1e-12) ?? profile.leadOhms ?? null;
  const interval = number('interval', 0) ?? profile.interval ?? null;
  const loadOhms = number('load-ohms', 0);
  const supply = number('supply', 0);
  const flexes = number('flexes', 0);
  if (flexes !== null && !Number.isInteger(flexes)) throw new UnusableOptions(`--flexes is a whole number, not ${flexes}`);
  const marks = typeof values['marks'] === 'string' ? values['marks'] : null;
  if (marks !== null && flexes !== null) throw new UnusableOptions('--flexes stands for a file of marks: give one of them');
  const motion = typeof values['motion'] === 'string' ? values['motion'] : null;
  const watching = oneOf<Watching>('take', values['take'], WATCHINGS) ?? 'wiggle';
  if (motion !== null && watching !== 'road') throw new UnusableOptions('--motion is compared with the dropouts of a road take: give --take road');
  if (flexes !== null && watching !== 'wiggle') throw new UnusableOptions('--flexes counts in a wiggle take only');
  return {
    file: positionals[0] as string,
    json: values['json'] === true,
    kind: oneOf<CheckKind>('kind', values['kind'], CHECK_KINDS),
    interval, marks, motion, flexes,
    setup: {
      watching, limits: { low, high }, interval, aperture: number('aperture', 0) ?? profile.aperture ?? null,
      // An accuracy that is typed holds everywhere.
      accuracy: accuracy ?? profile.accuracy ?? null, ranges: accuracy === null ? profile.ranges ?? [] : [], displayCounts: profile.displayCounts ?? null, leadOhms, depth: number('depth', 0), shiftAfter: null, missingCondition: null, claim: null,
      load: loadOhms === null ? null : { ohms: loadOhms, volts: supply ?? USUAL_SUPPLY }, ...(supply === null ? {} : { supply }),
    },
  };
}

/** `--low -0.5` as `--low=-0.5`, so that a negative number is no option. */
function joinValues(args: readonly string[]): string[] {
  const joined: string[] = [];
  for (let i = 0; i < args.length; i++) {
    const arg = args[i] as string;
    const next = args[i + 1];
    if (TEXTS.some((name) => arg === `--${name}`) && next !== undefined && /^-[\d.]/.test(next)) {
      joined.push(`${arg}=${next}`);
      i++;
    } else joined.push(arg);
  }
  return joined;
}

function oneOf<T extends string>(name: string, text: string | boolean | undefined, allowed: readonly T[]): T | null {
  if (text === undefined) return null;
  const found = allowed.find((one) => one === text);
  if (found === undefined) throw new UnusableOptions(`--${name} is one of ${allowed.join(', ')}, not "${String(text)}"`);
  return found;
}

function readProfile(file: string | boolean | undefined): MeterProfile {
  if (typeof file !== 'string') return {};
  const parsed = parseProfile(readFileSync(file, 'utf8'));
  if (parsed.kind === 'unusable') throw new UnusableOptions(`--profile ${file}: ${parsed.faults.join('; ')}`);
  return parsed.profile;
}

function readAccuracy(text: string | boolean | undefined): JudgeSetup['accuracy'] {
  if (typeof text !== 'string') return null;
  const match = /^\s*(?:\+\/-|\u00b1)?\s*\(?\s*([\d.]+)\s*%\s*(?:\+\s*(\d+)\s*(?:counts?|digits?|d)?)?\s*\)?\s*$/i.exec(text);
  const percent = Number(match?.[1]);
  if (match === null || !Number.isFinite(percent)) throw new UnusableOptions(`--accuracy is written like '0.5%+2', not "${text}"`);
  return { fraction: percent / 100, counts: Number(match[2] ?? 0) };
}

function usualKind(quantity: Quantity): CheckKind {
  return quantity === 'voltage' ? 'supply' : quantity === 'resistance' ? 'continuity' : quantity === 'current' ? 'current' : 'sensor-sweep';
}
