/** What is listened to: a real serial port, whose baud rate can be changed while it is open, or the link of a meter as it is. */
import type { ByteMeter, LinkStatus } from '../meter.ts';
import { serialTrouble } from '../transports/serial-troubles.ts';
import { monotonicClock } from '../transports/transport.ts';
import type { Layout } from '../decoders/index.ts';
import { LAYOUTS } from '../decoders/layouts/index.ts';
import { identify, type Identification, type IdentifyOptions, type ListeningPort } from './identify-port.ts';

type SerialPort = import('serialport').SerialPort;

/** @returns the port, or why it does not open */
async function openListeningPort(path: string): Promise<ListeningPort | LinkStatus> {
  let port: SerialPort;
  let receive: (bytes: Uint8Array, arrival: number) => void = () => undefined;
  let parityNow: 'none' | 'even' = 'none';
  const open = async (baud: number, parity: 'none' | 'even'): Promise<void> => {
    const { SerialPort } = await import('serialport');
    port = new SerialPort({ path, baudRate: baud, parity, autoOpen: false });
    port.on('error', () => undefined);
    port.on('data', (bytes: Buffer) => receive(bytes, monotonicClock()));
    parityNow = parity;
    await new Promise<void>((resolve, reject) => port.open((error) => (error === null ? resolve() : reject(error))));
  };
  const close = (): Promise<void> => new Promise((resolve) => (port.isOpen ? port.close(() => resolve()) : resolve()));
  try {
    await open(9600, 'none');
  } catch (error) {
    return serialTrouble(path, error as Error);
  }
  return {
    setBaud: async (baud, parity = 'none') => {
      if (parity !== parityNow) {
        // The parity of an open port can't be changed.
        await close();
        return open(baud, parity);
      }
      await new Promise<void>((resolve, reject) => port.update({ baudRate: baud }, (error) => (error === null || error === undefined ? resolve() : reject(error))));
    },
    // Pseudo-terminals and some drivers have no such lines: then there is nothing to power.
    setLines: (lines) => new Promise((resolve) => port.set(lines, (error) => resolve(error === null || error === undefined))),
    onBytes: (handler) => { receive = handler; },
    write: (bytes) => void port.write(Buffer.from(bytes)),
    close,
  };
}

export type IdentifyPortOptions = Omit<IdentifyOptions, 'layouts'> & {
  /** Layouts beside those that come with Loomtrace. */
  readonly layouts?: readonly Layout[];
};

/** Listens on a serial port and says what could read it. The port must not be open elsewhere. */
export async function identifyPort(path: string, options: IdentifyPortOptions = {}): Promise<Identification> {
  const port = await openListeningPort(path);
  if ('state' in port) return { kind: 'trouble', status: port };
  return listenTo(port, options, (error) => serialTrouble(path, error));
}

/** Listens to an open meter at the settings that it has, beside its own decoder. */
export async function identifyMeter(meter: ByteMeter, options: IdentifyPortOptions = {}): Promise<Identification> {
  let stop: () => void = () => undefined;
  const link: ListeningPort = {
    onBytes: (receive) => { stop = meter.tap(receive); },
    write: (bytes) => void meter.send(bytes),
    close: () => Promise.resolve(stop()),
  };
  return listenTo(link, options, () => Promise.resolve(meter.status()));
}

/** @param troubleOf  what to tell when the port goes away meanwhile */
async function listenTo(port: ListeningPort, options: IdentifyPortOptions, troubleOf: (error: Error) => Promise<LinkStatus>): Promise<Identification> {
  try {
    return await identify(port, { ...options, layouts: [...(options.layouts ?? []), ...LAYOUTS] }, monotonicClock);
  } catch (error) {
    return { kind: 'trouble', status: await troubleOf(error as Error) };
  } finally {
    await port.close();
  }
}
