/**
 * Meter addresses: one notation for every way in which a meter can be reached.
 *
 *   serial:/dev/ttyUSB0?baud=9600&data-bits=8&parity=none&stop-bits=1&dtr=on&rts=off&newline=lf
 *   serial:*?serial-number=A10K3J&baud=2400&decoder=frame&layout=mirrored-display-14
 *   tcp:192.168.1.20:4001          rfc2217:192.168.1.20:4001?baud=9600
 *   serial:/dev/ttyUSB0?decoder=scpi&function=volt:dc&poll-every=0.1
 *   serial:/dev/ttyUSB0?decoder=modbus&slave=1&registers=input&register=0&type=i16&decimals=2&unit=V
 *   browser:pocket-meter           playback:SESSION/TAKE?speed=4
 *   simulated:alder7?interval=0.1&aperture=0.09&counts=6000&noise=0.4&seed=1&range=fitting
 *
 * Every meter may be given what is known of it: label, interval, aperture, accuracy=0.5%+2, lead-ohms, silence. A `+` is a plus
 * sign; other signs that a URI reserves may be written as %XX.
 */

/** The address cannot be used; the message says what to write instead. */
export class AddressError extends Error {
  readonly code = 'ADDRESS_INVALID';
  constructor(message: string) {
    super(message);
    this.name = 'AddressError';
  }
}

/** An address taken apart. Options are read through the methods; `finish` refuses those that nobody asked for. */
export class AddressParts {
  readonly text: string;
  readonly scheme: string;
  /** Between the colon and the question mark: a device, a host and port, a scenario. */
  readonly target: string;
  readonly #options: ReadonlyMap<string, string>;
  readonly #known = new Set<string>();

  /** @throws {AddressError} for text that is no address */
  constructor(text: string) {
    const parts = /^([a-z][a-z0-9]*):([^?]*)(?:\?(.*))?$/s.exec(text.trim());
    if (parts === null) {
      throw new AddressError(`"${text}" is no meter address; write for example serial:/dev/ttyUSB0?baud=9600 or simulated:alder7`);
    }
    const [, scheme, target, query] = parts as unknown as [string, string, string, string | undefined];
    this.text = text.trim();
    this.scheme = scheme;
    this.target = decodePercent(target);
    const options = new Map<string, string>();
    for (const pair of (query ?? '').split('&')) {
      if (pair === '') continue;
      const equals = pair.indexOf('=');
      if (equals <= 0) throw new AddressError(`the option "${pair}" has no value; write name=value`);
      const name = decodePercent(pair.slice(0, equals));
      if (options.has(name)) throw new AddressError(`the option "${name}" is given twice`);
      options.set(name, decodePercent(pair.slice(equals + 1)));
    }
    this.#options = options;
  }

  textOption(name: string): string | undefined {
    this.#known.add(name);
    return this.#options.get(name);
  }

  /** @param allowed  in words, for the message: "a number from 1 to 9" */
  number(name: string, isAllowed: (value: number) => boolean, allowed: string): number | undefined {
    const text = this.textOption(name);
    if (text === undefined) return undefined;
    const value = text.trim() === '' ? NaN : Number(text);
    if (!Number.isFinite(value) || !isAllowed(value)) throw new AddressError(`${name}=${text}: write ${allowed}`);
    return value;
  }

  /** A number above zero. */
  positive(name: string, what: string): number | undefined {
    return this.number(name, (value) => value > 0, `${what}, above 0`);
  }

  choice<T extends string>(name: string, choices: readonly T[]): T | undefined {
    const text = this.textOption(name);
    if (text === undefined) return undefined;
    const found = choices.find((choice) => choice === text.toLowerCase());
    if (found === undefined) throw new AddressError(`${name}=${text}: write one of ${choices.join(', ')}`);
    return found;
  }

  /** @throws {AddressError} for an option that this kind of meter does not have */
  finish(): void {
    for (const name of this.#options.keys()) {
      if (!this.#known.has(name)) {
        throw new AddressError(`${this.scheme}: meters have no option "${name}"; they have ${[...this.#known].sort().join(', ')}`);
      }
    }
  }
}

/** Like decodeURIComponent, but leaves alone what is no escape, so that `0.5%+2` may be typed as it is. */
function decodePercent(text: string): string {
  return text.replace(/(?:%[0-9A-Fa-f]{2})+/g, (escape) => {
    try {
      return decodeURIComponent(escape);
    } catch {
      return escape;
    }
  });
}

/** @returns accuracy from e.g. `0.5%+2`, `0.5%`, `0.1%+4` @throws {AddressError} */
export function parseAccuracy(text: string): { fraction: number; counts: number } {
  const parts = /^\s*(\d+(?:\.\d+)?)\s*%\s*(?:\+\s*(\d+(?:\.\d+)?))?\s*$/.exec(text);
  if (parts === null) throw new AddressError(`accuracy=${text}: write percent of reading plus counts, as in 0.5%+2`);
  return { fraction: Number(`${parts[1]}e-2`), counts: Number(parts[2] ?? 0) };
}

/** How a serial line is set. */
const LINE_OPTIONS: ReadonlySet<string> = new Set(['baud', 'data-bits', 'parity', 'stop-bits', 'flow', 'dtr', 'rts']);
/** How what comes is read. */
const DECODER_OPTIONS: ReadonlySet<string> = new Set([
  'decoder', 'layout', 'newline', 'field', 'decimal', 'unit', 'poll', 'poll-hex', 'poll-every', 'function', 'range', 'query', 'patience', 'slave', 'registers', 'register', 'type',
  'word-order', 'decimals',
]);
/** What finds an adapter under any port name. */
const PLACE_OPTIONS: ReadonlySet<string> = new Set(['vendor', 'product', 'serial-number']);

/** @returns what is left of an address when only some of its options are kept; as it is when it is no address */
function keeping(address: string, isKept: (name: string) => boolean): string {
  const [place, ...rest] = address.trim().split('?');
  const kept = rest.join('?').split('&').filter((pair) => pair !== '' && isKept(decodePercent(pair.split('=')[0] as string)));
  return kept.length === 0 ? (place as string) : `${place}?${kept.join('&')}`;
}

/** Where the meter is, without any setting: two addresses of one port have the same. */
export function placeOf(address: string): string {
  return keeping(address, (name) => PLACE_OPTIONS.has(name));
}

/**
 * The same meter read in another way; what is known of it stays.
 * @param baud  null keeps the line as it is set
 * @param settings  options of the line and the decoder, as in "parity=even&decoder=scpi"
 */
export function readAs(address: string, baud: number | null, settings: string): string {
  const given = new Set(settings.split('&').map((pair) => pair.split('=')[0] as string));
  const kept = keeping(address, (name) => !DECODER_OPTIONS.has(name) && (baud === null || !LINE_OPTIONS.has(name)) && !given.has(name));
  const added = [baud === null ? '' : `baud=${baud}`, settings].filter((part) => part !== '').join('&');
  return added === '' ? kept : `${kept}${kept.includes('?') ? '&' : '?'}${added}`;
}
