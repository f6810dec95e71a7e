/** The command-line entry point: `loomtrace COMMAND`. Each command is a file in commands/. */
import { argv, stderr, stdout, versions } from 'node:process';
import type { Command } from './commands/command.ts';

const HELP = `Loomtrace finds electrical faults in vehicle and machine harnesses from the live readings of a meter.

  npm start -- [options]                  the service and its dashboard
  npm run --silent loomtrace -- COMMAND   without a screen:

  serve    the same as npm start                                  serve --help
  judge    judges a file of readings                              judge FILE.csv [--kind supply] [--json]
  locate   finds the faulty span from a chart and readings        locate CASE.json [--json]
  verify   says whether a recording was changed, and where        verify FILE.sqlite [--hash H]
  report   the report of a recording as an HTML page              report FILE.sqlite --out OUT.html
  export   writes a recording as CSV, JSON, Parquet or a copy     export FILE.sqlite OUT.csv
  import   makes a recording of a table, or adds a whole session  import FILE.csv
  aperture measures a meter's aperture from a take of taps        aperture FILE.csv
`;

const COMMANDS: Record<string, () => Promise<Command>> = {
  serve: async () => (await import('./commands/serve.ts')).serveCommand,
  judge: async () => (await import('./commands/judge.ts')).judgeCommand,
  verify: async () => (await import('./commands/verify.ts')).verifyCommand,
  report: async () => (await import('./commands/report.ts')).reportCommand,
  export: async () => (await import('./commands/export.ts')).exportCommand,
  import: async () => (await import('./commands/import.ts')).importCommand,
  aperture: async () => (await import('./commands/aperture.ts')).apertureCommand,
  locate: async () => (await import('./commands/locate.ts')).locateCommand,
};

const [name = '--help', ...args] = argv.slice(2);
const load = COMMANDS[name];
if (load !== undefined) {
  const command = await load();
  process.exitCode = await command(args, { stdout, stderr });
} else if (name === '--help' || name === '-h' || name === 'help') {
  stdout.write(HELP);
} else {
  stderr.write(`There is no command "${name}" (Node ${versions.node}).\n\n${HELP}`);
  process.exitCode = 2;
}
