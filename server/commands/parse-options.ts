/** The options of a command, as `parseArgs` of Node reads them, with what is wrong said in one plain line. */
import { parseArgs } from 'node:util';
import type { ParseArgsConfig } from 'node:util';

/** @throws {Error} whose message names the option that is unknown, lacks its value or takes none, and for an unknown one those that there are */
export function parseOptions<T extends ParseArgsConfig>(config: T): ReturnType<typeof parseArgs<T>> {
  try {
    return parseArgs(config);
  } catch (error) {
    throw new Error(sayWrong(error as Error & { code?: string }, Object.keys(config.options ?? {})), { cause: error });
  }
}

function sayWrong({ code, message }: { code?: string; message: string }, known: readonly string[]): string {
  const [, named = ''] = /'([^']*)'/.exec(message) ?? [];
  const option = named.replace(/ <value>$/, '').replace(/^-\w, /, '');
  switch (code) {
    case 'ERR_PARSE_ARGS_UNKNOWN_OPTION': return `there is no option ${option}; there are ${known.map((name) => `--${name}`).join(', ')}`;
    case 'ERR_PARSE_ARGS_INVALID_OPTION_VALUE':
      if (message.includes('does not take')) return `${option} takes no value`;
      return `${option} needs a value${message.includes('ambiguous') ? `; one that begins with - is written ${option}=-...` : ''}`;
    case 'ERR_PARSE_ARGS_UNEXPECTED_POSITIONAL': return `"${named}" is no option, and nothing else is expected`;
    default: return message;
  }
}
