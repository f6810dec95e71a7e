/**
 * A scripted bench meter that speaks the SCPI grammar: several commands a line parted by semicolons, short and long forms in any
 * case, optional nodes, an error queue of limited length, complaints about what it does not know. For tests, to be put at the end of a pty.
 */

export interface ScpiInstrument {
  /** Takes bytes as they come; answers through the function given at the start. */
  receive(bytes: Uint8Array): void;
  /** Header of every command understood, in order, in short form. */
  readonly heard: string[];
}

export interface ScpiScript {
  readonly identity: string;
  /** Answer to the n-th READ? (from 0): text, or null for none. */
  readonly reading: (n: number) => string | null;
  /** How long a measurement takes, ms. */
  readonly measureMs?: number;
}

const QUEUE_LENGTH = 10;
/** Long form with the short form in capitals, brackets enclose nodes that may be left out. */
const HEADERS = [
  '*IDN?', '*CLS', '*RST', '*OPC?', 'READ?', 'FETCh?', 'SYSTem:ERRor?', 'SYSTem:ERRor:NEXT?', 'CONFigure:VOLTage[:DC]', 'CONFigure:VOLTage:AC', 'CONFigure:CURRent[:DC]', 'CONFigure:RESistance',
  'FUNCtion?', 'SENSe:FUNCtion?',
];

/** Turns a header of the table into a pattern: each node in its short or its long form. */
function patternOf(header: string): RegExp {
  const source = header.replace(/[*?]/g, '\\$&').replace(/\[([^\]]*)\]/g, '(?:$1)?').replace(/([A-Z]+)([a-z]+)/g, (_, short: string, rest: string) => `${short}(?:${rest.toUpperCase()})?`);
  return new RegExp(`^:?${source}$`);
}
const PATTERNS = HEADERS.map((header) => ({ header, pattern: patternOf(header) }));

export function scpiInstrument(script: ScpiScript, answer: (text: string) => void): ScpiInstrument {
  const heard: string[] = [];
  let errors: string[] = [];
  let line = '';
  let readings = 0;
  let last: string | null = null;
  let measures = 'VOLT';
  let busyUntil = 0;
  const complain = (error: string): void => {
    if (errors.length >= QUEUE_LENGTH) errors[QUEUE_LENGTH - 1] = '-350,"Queue overflow"';
    else errors.push(error);
  };
  /** Commands are executed one after another: an answer waits for the measurement before it. */
  const say = (text: string, afterMs = 0): void => {
    busyUntil = Math.max(busyUntil, Date.now()) + afterMs;
    setTimeout(() => answer(`${text}\n`), Math.max(0, busyUntil - Date.now()));
  };

  const execute = (command: string): void => {
    const [header = '', parameter = ''] = command.trim().split(/\s+(.*)/);
    if (header === '') return;
    const known = PATTERNS.find(({ pattern }) => pattern.test(header.toUpperCase()));
    if (known === undefined) return complain('-113,"Undefined header"');
    heard.push(known.header.replace(/[a-z[\]]/g, ''));
    switch (known.header) {
      case '*IDN?': return say(script.identity);
      case '*CLS': errors = []; return;
      case '*OPC?': return say('1');
      case 'SYSTem:ERRor?': case 'SYSTem:ERRor:NEXT?': return say(errors.shift() ?? '0,"No error"');
      case 'SENSe:FUNCtion?': case 'FUNCtion?': return say(`"${measures}"`);
      case 'READ?': {
        last = script.reading(readings++);
        if (last !== null) say(last, script.measureMs ?? 0);
        return;
      }
      case 'FETCh?': return last === null ? complain('-230,"Data corrupt or stale"') : say(last);
      default: {
        if (parameter !== '' && Number.isNaN(Number(parameter)) && !/^(AUTO|DEF|MIN|MAX)/i.test(parameter)) return complain('-104,"Data type error"');
        measures = known.header.includes('RES') ? 'RES' : known.header.includes('CURR') ? 'CURR' : known.header.includes(':AC') ? 'VOLT:AC' : 'VOLT';
      }
    }
  };

  return {
    heard,
    receive(bytes) {
      for (const byte of bytes) {
        if (byte === 0x0a) {
          line.split(';').forEach(execute);
          line = '';
        } else if (byte !== 0x0d) {
          line += String.fromCharCode(byte);
        }
      }
    },
  };
}
