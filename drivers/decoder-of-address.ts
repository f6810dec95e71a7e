/** Which decoder an address asks for, and with what settings. */
import { AddressError, type AddressParts } from './address.ts';
import { FixedAsker } from './decoders/asker.ts';
import type { Decoder } from './decoders/decoder.ts';
import { FrameDecoder } from './decoders/frame-decoder.ts';
import { type Layout, type TextLayout, textOptions } from './decoders/index.ts';
import { LAYOUTS } from './decoders/layouts/index.ts';
import { REGISTER_TYPES, RegisterAsker } from './decoders/modbus.ts';
import { SCPI_FUNCTIONS, ScpiAsker, type ScpiFunction } from './decoders/scpi.ts';
import { TextLineDecoder, type TextLineOptions } from './decoders/text-lines.ts';
import { LineReader, type Newline } from './transports/line-reader.ts';

export interface DecoderChoice {
  /** One for every connection. */
  readonly newDecoder: () => Decoder;
  /** s from one question to the next; null for a meter that talks by itself. */
  readonly every: number | null;
}

/** @param layouts  layouts beside those that come with Loomtrace; these win @throws {AddressError} */
export function decoderOf(parts: AddressParts, layouts: readonly Layout[]): DecoderChoice {
  const kind = parts.choice('decoder', ['text', 'frame', 'scpi', 'modbus']) ?? 'text';
  try {
    switch (kind) {
      case 'text': return tried(textDecoder(parts, layouts));
      case 'frame': return tried(frameDecoder(parts, layouts));
      case 'scpi': return tried(scpiDecoder(parts));
      case 'modbus': return tried(modbusDecoder(parts));
    }
  } catch (error) {
    if (error instanceof RangeError) throw new AddressError(error.message);
    throw error;
  }
}

/** Makes one decoder now, so that a bad setting is refused with the address and not at the first connection. */
function tried(choice: DecoderChoice): DecoderChoice {
  choice.newDecoder();
  return choice;
}

function textDecoder(parts: AddressParts, layouts: readonly Layout[]): DecoderChoice {
  const layout = textLayout(parts, layouts);
  const newline: Newline = parts.choice('newline', ['lf', 'cr']) ?? layout?.newline ?? 'lf';
  const field = parts.number('field', (value) => Number.isInteger(value) && value >= 1, 'which value of the line, a whole number from 1');
  const decimal = parts.choice('decimal', ['auto', 'point', 'comma']);
  const unit = parts.textOption('unit');
  const options: TextLineOptions = {
    ...(layout === null ? {} : textOptions(layout)),
    ...(field === undefined ? {} : { field }), ...(decimal === undefined ? {} : { decimal }), ...(unit === undefined ? {} : { unit }),
  };
  const poll = pollOf(parts, newline);
  // An answer to a question begins at its first byte.
  const newReader = (): LineReader => new LineReader(new TextLineDecoder(options), { newline, startsAtLine: poll !== null });
  return asked(newReader, poll);
}

function textLayout(parts: AddressParts, layouts: readonly Layout[]): TextLayout | null {
  const name = parts.textOption('layout');
  if (name === undefined) return null;
  const known = layouts.filter((layout) => layout.layout === 'text/1');
  const found = known.find((layout) => layout.name === name);
  if (found !== undefined) return found;
  const hint = [...layouts, ...LAYOUTS].some((layout) => layout.name === name) ? `write decoder=frame&layout=${name}` : known.length === 0 ? 'there is none for lines of text: teach one' : `write one of ${known.map((layout) => layout.name).join(', ')}, or teach a new one`;
  throw new AddressError(`layout=${name}: ${hint}`);
}

function frameDecoder(parts: AddressParts, layouts: readonly Layout[]): DecoderChoice {
  const name = parts.textOption('layout');
  const all = [...layouts.filter((each) => each.layout === 'frame/1'), ...LAYOUTS];
  const layout = all.find((each) => each.name === name);
  if (layout === undefined) {
    throw new AddressError(`layout=${name ?? ''}: write one of ${[...new Set(all.map((each) => each.name))].join(', ')}, or teach a new one`);
  }
  return asked(() => new FrameDecoder(layout), pollOf(parts, null));
}

function asked(newDecoder: () => Decoder, poll: { command: Uint8Array; every: number } | null): DecoderChoice {
  if (poll === null) return { newDecoder, every: null };
  return { newDecoder: () => new FixedAsker(newDecoder(), poll.command, poll.every), every: poll.every };
}

function pollOf(parts: AddressParts, newline: Newline | null): { command: Uint8Array; every: number } | null {
  const text = parts.textOption('poll');
  const hex = parts.textOption('poll-hex');
  const every = parts.positive('poll-every', 'seconds between two questions');
  if (text === undefined && hex === undefined) {
    if (every !== undefined) throw new AddressError('poll-every is given without a poll command; write for example poll=READ?');
    return null;
  }
  if (text !== undefined && hex !== undefined) throw new AddressError('poll and poll-hex are both given; write one of them');
  if (hex !== undefined) {
    if (!/^(?:[0-9A-Fa-f]{2})+$/.test(hex)) throw new AddressError(`poll-hex=${hex}: write pairs of hexadecimal digits, such as 1003`);
    return { command: Buffer.from(hex, 'hex'), every: every ?? 0.5 };
  }
  const end = newline === null ? '' : newline === 'cr' ? '\r' : '\n';
  return { command: Buffer.from(text + end, 'latin1'), every: every ?? 0.5 };
}

function scpiDecoder(parts: AddressParts): DecoderChoice {
  const names = Object.keys(SCPI_FUNCTIONS).map((name) => name.toLowerCase());
  const chosen = parts.choice('function', names);
  const range = parts.positive('range', 'the full scale to lock, in the unit of the function') ?? null;
  const query = parts.choice('query', ['read', 'fetch']) === 'fetch' ? 'FETC?' : 'READ?';
  const every = parts.positive('poll-every', 'seconds between two questions') ?? 0.1;
  const patience = parts.positive('patience', 'seconds to wait for an answer') ?? 2;
  if (range !== null && chosen === undefined) throw new AddressError(`range=${range} is given without a function; write for example function=volt:dc`);
  const meterFunction = chosen === undefined ? null : (chosen.toUpperCase() as ScpiFunction);
  return { newDecoder: () => new ScpiAsker({ function: meterFunction, range, query, every, patience }), every };
}

function modbusDecoder(parts: AddressParts): DecoderChoice {
  const wholeNumber = (name: string, low: number, high: number): number | undefined => (
    parts.number(name, (value) => Number.isInteger(value) && value >= low && value <= high, `a whole number from ${low} to ${high}`)
  );
  const every = parts.positive('poll-every', 'seconds between two questions') ?? 0.2;
  const layout = {
    slave: wholeNumber('slave', 1, 247) ?? 1,
    function: parts.choice('registers', ['holding', 'input']) === 'input' ? 4 : 3,
    address: wholeNumber('register', 0, 65535) ?? 0,
    type: parts.choice('type', REGISTER_TYPES) ?? 'i16',
    wordOrder: parts.choice('word-order', ['high-first', 'low-first']) ?? 'high-first',
    decimals: wholeNumber('decimals', -12, 12) ?? 0,
    words: (parts.textOption('unit') ?? '').split(' ').filter((word) => word !== ''),
  } as const;
  return { newDecoder: () => new RegisterAsker(layout, every), every };
}
