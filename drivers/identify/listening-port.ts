/** A real serial port to listen on, whose baud rate can be changed while it is open. */
import type { LinkStatus } from '../meter.ts';
import { serialTrouble } from '../transports/serial-troubles.ts';
import { monotonicClock } from '../transports/transport.ts';
import type { FrameLayout } from '../decoders/frame-layout.ts';
import { LAYOUTS } from '../decoders/layouts/index.ts';
import { identify, type Identification, type ListeningPort } from './identify-port.ts';

/** @returns the port, or why it does not open */
async function openListeningPort(path: string): Promise<ListeningPort | LinkStatus> {
  const { SerialPort } = await import('serialport');
  const port = new SerialPort({ path, baudRate: 9600, autoOpen: false });
  port.on('error', () => undefined);
  try {
    await new Promise<void>((resolve, reject) => port.open((error) => (error === null ? resolve() : reject(error))));
  } catch (error) {
    return serialTrouble(path, error as Error);
  }
  return {
    setBaud: (baud) => new Promise((resolve, reject) => port.update({ baudRate: baud }, (error) => (error === null || error === undefined ? resolve() : reject(error)))),
    onBytes: (receive) => void port.on('data', (bytes: Buffer) => receive(bytes, monotonicClock())),
    write: (bytes) => void port.write(Buffer.from(bytes)),
    close: () => new Promise((resolve) => (port.isOpen ? port.close(() => resolve()) : resolve())),
  };
}

export interface IdentifyPortOptions {
  /** Layouts beside those that come with Loomtrace. */
  readonly layouts?: readonly FrameLayout[];
  /** The user has agreed that something is sent when nothing is heard. */
  readonly mayAsk?: boolean;
  /** s for everything; 5 when left out. */
  readonly patience?: number;
  readonly signal?: AbortSignal;
}

/** Listens on a serial port and says what could read it. The port must not be open elsewhere. */
export async function identifyPort(path: string, options: IdentifyPortOptions = {}): Promise<Identification> {
  const port = await openListeningPort(path);
  if ('state' in port) return { kind: 'trouble', status: port };
  try {
    return await identify(port, { ...options, layouts: [...(options.layouts ?? []), ...LAYOUTS] }, monotonicClock);
  } finally {
    await port.close();
  }
}
