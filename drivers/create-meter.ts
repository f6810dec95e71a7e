/** From an address to a meter. */
import { AddressError, AddressParts, parseAccuracy } from './address.ts';
import { decoderOf } from './decoder-of-address.ts';
import { type Layout, TextLineDecoder } from './decoders/index.ts';
import { LinkMeter } from './link-meter.ts';
import type { ByteMeter, Meter, MeterTraits } from './meter.ts';
import { type PlayedReading, PlaybackMeter } from './playback.ts';
import { type InstrumentOptions, level, SimulatedInstrument, type SimulatedSignal } from './simulated/index.ts';
import { SimulatedTransport } from './simulated/transport.ts';
import { LineReader } from './transports/line-reader.ts';
import type { PortIdentity } from './transports/ports.ts';
import { type LineSettings, portPath, type PortPlace, type SerialSettings, SerialTransport } from './transports/serial.ts';
import { ForwardedTransport, type ForwardedLink } from './transports/forwarded.ts';
import { PortControl } from './transports/rfc2217.ts';
import { TcpTransport } from './transports/tcp.ts';
import { type Clock, monotonicClock, type Transport } from './transports/transport.ts';

export interface MeterOptions {
  /** Monotonic clock, s. */
  readonly clock?: Clock;
  /** What a simulated meter measures; 12.5 V DC when left out. */
  readonly signal?: SimulatedSignal;
  /** Layouts beside those that come with Loomtrace. */
  readonly layouts?: readonly Layout[];
  /** Opens a recording to be played back, by the text after `playback:`. */
  readonly playback?: (target: string) => AsyncIterable<PlayedReading>;
}

/** A meter whose bytes a browser forwards: what the browser sends goes into `link`. */
export interface ForwardedMeter extends Meter {
  readonly link: ForwardedLink;
}

/** A meter that exists in software only. */
export interface SimulatedMeter extends Meter {
  /** The scenario named in the address: what to simulate is for the caller to know. */
  readonly scenario: string;
  readonly seed: number;
  /** Time 0 of the signal on the monotonic clock, s; null before `open`. */
  startedAt(): number | null;
  /** The leads touch something else from now on. */
  setSignal(signal: SimulatedSignal): void;
}

/** Nothing for this long and a meter counts as silent, s; or ten of its intervals, when that is longer. */
const SILENCE = 3;
const DEFAULT_SIGNAL: SimulatedSignal = { quantity: 'voltage', coupling: 'dc', at: level(12.5) };

/**
 * Makes the meter of an address; nothing is opened yet.
 * @param address  e.g. `serial:/dev/ttyUSB0?baud=9600` or `simulated:alder7?interval=0.1`
 * @throws {AddressError} for an address that cannot be used, saying what to write instead
 */
export function createMeter(address: string, options: MeterOptions = {}): Meter {
  const parts = new AddressParts(address);
  switch (parts.scheme) {
    case 'serial': return serialMeter(parts, options);
    case 'tcp': return networkMeter(parts, options, false);
    case 'rfc2217': return networkMeter(parts, options, true);
    case 'browser': return forwardedMeter(parts, options);
    case 'playback': return playbackMeter(parts, options);
    case 'simulated': return simulatedMeter(parts, options);
    default: throw new AddressError(`"${parts.scheme}:" is no kind of meter; write serial:, tcp:, rfc2217:, browser:, playback: or simulated:`);
  }
}

export function isForwardedMeter(meter: Meter): meter is ForwardedMeter {
  return 'link' in meter;
}

/** Whether bytes of this meter can be looked at: not those of a recording that is played back. */
export function isByteMeter(meter: Meter): meter is ByteMeter {
  return 'tap' in meter;
}

export function isSimulatedMeter(meter: Meter): meter is SimulatedMeter {
  return 'setSignal' in meter;
}

function serialMeter(parts: AddressParts, options: MeterOptions): Meter {
  const place = portPlace(parts);
  const settings: SerialSettings = { place, ...lineSettings(parts) };
  const label = place.kind === 'path' ? place.path : place.identity.serialNumber ?? 'serial adapter';
  return linkMeter(parts, label, options, (clock) => new SerialTransport(settings, clock));
}

/** @throws {AddressError} when it names no port */
export function portPlace(parts: AddressParts): PortPlace {
  const vendorId = parts.textOption('vendor');
  const productId = parts.textOption('product');
  const serialNumber = parts.textOption('serial-number');
  const identity: PortIdentity = {
    ...(vendorId === undefined ? {} : { vendorId }), ...(productId === undefined ? {} : { productId }), ...(serialNumber === undefined ? {} : { serialNumber }),
  };
  const hasIdentity = Object.keys(identity).length > 0;
  if (parts.target === '*') {
    if (!hasIdentity) throw new AddressError('serial:* names no adapter; write for example serial:*?serial-number=A10K3J');
    return { kind: 'adapter', identity };
  }
  if (hasIdentity) throw new AddressError('vendor, product and serial-number find a port by themselves; write serial:* in place of the path');
  if (parts.target === '') throw new AddressError('serial: names no port; write for example serial:/dev/ttyUSB0 or serial:COM3');
  return { kind: 'path', path: portPath(parts.target) };
}

function networkMeter(parts: AddressParts, options: MeterOptions, hasPortControl: boolean): Meter {
  const { host, port } = hostAndPort(parts);
  const settings = hasPortControl ? lineSettings(parts) : null;
  return linkMeter(parts, `${host}:${port}`, options, (clock) => (
    new TcpTransport({ host, port }, clock, settings === null ? null : () => new PortControl(settings))
  ));
}

function hostAndPort(parts: AddressParts): { host: string; port: number } {
  const match = /^(?:\[([0-9A-Fa-f:.]+)\]|([^:[\]/]+)):(\d{1,5})$/.exec(parts.target);
  const port = Number(match?.[3]);
  if (match === null || port < 1 || port > 65535) {
    throw new AddressError(`"${parts.target}" is no host and port; write for example ${parts.scheme}:192.168.1.20:4001`);
  }
  return { host: (match[1] ?? match[2]) as string, port };
}

/** What all meters at the end of a real link have in common. */
function linkMeter(parts: AddressParts, label: string, options: MeterOptions, newTransport: (clock: Clock) => Transport): Meter {
  const { newDecoder, every } = decoderOf(parts, options.layouts ?? []);
  const traits = traitsOf(parts, label);
  const silence = silenceOf(parts, traits, every);
  parts.finish();
  const clock = options.clock ?? monotonicClock;
  return new LinkMeter({ traits, transport: newTransport(clock), newDecoder, silence, clock });
}

function lineSettings(parts: AddressParts): LineSettings {
  const stopBits = parts.choice('stop-bits', ['1', '1.5', '2']);
  const onOff = (name: string): boolean | null => {
    const level = parts.choice(name, ['on', 'off']);
    return level === undefined ? null : level === 'on';
  };
  return {
    baud: parts.number('baud', (value) => Number.isInteger(value) && value >= 50 && value <= 12e6, 'a whole number such as 9600') ?? 9600,
    dataBits: (parts.number('data-bits', (value) => [5, 6, 7, 8].includes(value), '5, 6, 7 or 8') ?? 8) as 5 | 6 | 7 | 8,
    parity: parts.choice('parity', ['none', 'even', 'odd', 'mark', 'space']) ?? 'none',
    stopBits: stopBits === '2' ? 2 : stopBits === '1.5' ? 1.5 : 1,
    flow: parts.choice('flow', ['none', 'rts-cts', 'xon-xoff']) ?? 'none',
    dtr: onOff('dtr'),
    rts: onOff('rts'),
  };
}

function traitsOf(parts: AddressParts, label: string): MeterTraits {
  const interval = parts.positive('interval', 'seconds from one reading to the next') ?? null;
  const aperture = parts.positive('aperture', 'the seconds over which the meter averages') ?? null;
  if (interval !== null && aperture !== null && aperture > interval) {
    throw new AddressError(`aperture=${aperture}: the aperture cannot be longer than the interval of ${interval} s`);
  }
  const accuracy = parts.textOption('accuracy');
  return {
    address: parts.text,
    label: parts.textOption('label') ?? label,
    interval,
    aperture,
    accuracy: accuracy === undefined ? null : parseAccuracy(accuracy),
    leadOhms: parts.number('lead-ohms', (value) => value >= 0, 'the resistance of both leads together, ohm, 0 or more') ?? null,
    simulated: parts.scheme === 'simulated' || parts.scheme === 'playback',
  };
}

/** @param every  s from one question to the next; null for a meter that talks by itself */
function silenceOf(parts: AddressParts, traits: MeterTraits, every: number | null): number {
  const given = parts.positive('silence', 'seconds without a byte after which the meter counts as silent');
  return given ?? Math.max(SILENCE, 10 * (traits.interval ?? 0), 4 * (every ?? 0));
}

function forwardedMeter(parts: AddressParts, options: MeterOptions): ForwardedMeter {
  if (parts.target === '') throw new AddressError('browser: has no name; write for example browser:pocket-meter');
  const link = new ForwardedTransport();
  return Object.assign(linkMeter(parts, parts.target, options, () => link), { link: link as ForwardedLink });
}

function playbackMeter(parts: AddressParts, options: MeterOptions): Meter {
  const open = options.playback;
  if (open === undefined) throw new AddressError('playback: is not available here');
  if (parts.target === '') throw new AddressError('playback: names no recording; write for example playback:SESSION/TAKE?speed=4');
  const { target } = parts;
  const speed = parts.number('speed', (value) => value >= 1, 'how many times as fast, 1 or more') ?? 1;
  const traits = { ...traitsOf(parts, `playback of ${target}`), playedAt: speed };
  parts.finish();
  return new PlaybackMeter(traits, () => open(target), speed, options.clock ?? monotonicClock);
}

function simulatedMeter(parts: AddressParts, options: MeterOptions): SimulatedMeter {
  const traits = traitsOf(parts, 'simulated meter');
  const interval = traits.interval ?? 0.1;
  const wholeNumber = (value: number): boolean => Number.isInteger(value);
  const instrumentOptions: InstrumentOptions = {
    interval,
    aperture: traits.aperture ?? 0.9 * interval,
    counts: parts.number('counts', (value) => wholeNumber(value) && value >= 99 && value <= 1e8, 'the largest number shown, such as 6000') ?? 6000,
    noise: parts.number('noise', (value) => value >= 0, 'standard deviation in counts, 0 or more') ?? 0.4,
    seed: parts.number('seed', wholeNumber, 'a whole number') ?? 1,
    range: rangeOf(parts),
    hunt: parts.number('hunt', (value) => value >= 0, 'seconds without a value after a change of range, 0 or more') ?? 0,
  };
  const batch = parts.number('batch', (value) => value >= 0, 'seconds for which lines are held back, 0 or more') ?? 0;
  const silence = silenceOf(parts, { ...traits, interval }, null);
  parts.finish();
  const clock = options.clock ?? monotonicClock;
  const instrument = new SimulatedInstrument(options.signal ?? DEFAULT_SIGNAL, instrumentOptions);
  const transport = new SimulatedTransport(instrument, batch, clock);
  const meter = new LinkMeter({
    // A simulated meter's make is known, whether the address says it or not.
    traits: { ...traits, interval, aperture: instrumentOptions.aperture, accuracy: traits.accuracy ?? { fraction: 0.005, counts: 2 } },
    transport,
    newDecoder: () => new LineReader(new TextLineDecoder(), { newline: 'lf', startsAtLine: true }),
    silence,
    clock,
  });
  return Object.assign(meter, {
    scenario: parts.target,
    seed: instrumentOptions.seed,
    startedAt: () => transport.startedAt,
    setSignal: (signal: SimulatedSignal) => instrument.setSignal(signal),
  });
}

function rangeOf(parts: AddressParts): InstrumentOptions['range'] {
  const text = parts.textOption('range');
  if (text === undefined || text === 'fitting' || text === 'hunting') return text ?? 'fitting';
  const range = parts.positive('range', 'fitting, hunting, or the full scale to lock in SI, such as 60');
  return range ?? 'fitting';
}
