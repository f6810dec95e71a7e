/**
 * Which serial ports there are, and which of them is the meter of last time. A port's name changes with the order of
 * plugging; its adapter's vendor, product and serial number do not.
 */
import { watch } from 'node:fs';

export interface PortListing {
  /** What an address names, e.g. /dev/ttyUSB0 or COM3. */
  readonly path: string;
  /** Text that the adapter's maker put into it; empty when none. */
  readonly maker: string;
  /** Hexadecimal, as the system lists them; empty when the port is no USB device. */
  readonly vendorId: string;
  readonly productId: string;
  readonly serialNumber: string;
  /** True for a port that something is plugged into; built-in ports that may lead nowhere are listed too. */
  readonly isAdapter: boolean;
}

export interface PortList {
  readonly ports: readonly PortListing[];
  /** Why the list may be incomplete; empty when it is not. A port can always be given by its path. */
  readonly message: string;
}

/** What tells one adapter from another. Left out: anything will do. */
export interface PortIdentity {
  readonly vendorId?: string;
  readonly productId?: string;
  readonly serialNumber?: string;
}

export type PortMatch =
  | { readonly kind: 'found'; readonly port: PortListing }
  | { readonly kind: 'missing' }
  /** Several adapters fit, as twins without a serial number do. */
  | { readonly kind: 'ambiguous'; readonly ports: readonly PortListing[] };

/** Lists the ports, adapters first. Never throws: a system that can't list its ports says so in `message`. */
export async function listPorts(): Promise<PortList> {
  try {
    const { SerialPort } = await import('serialport');
    const listed = await SerialPort.list();
    const ports = listed.map(({ path, manufacturer, vendorId, productId, serialNumber }) => ({
      path, maker: manufacturer ?? '', vendorId: (vendorId ?? '').toLowerCase(), productId: (productId ?? '').toLowerCase(), serialNumber: serialNumber ?? '',
      isAdapter: vendorId !== undefined,
    }));
    ports.sort((a, b) => Number(b.isAdapter) - Number(a.isAdapter) || a.path.localeCompare(b.path, 'en', { numeric: true }));
    return { ports, message: '' };
  } catch (error) {
    const { message, code, path = '' } = error as NodeJS.ErrnoException;
    const why = code === 'ENOENT' && path !== '' ? `${path}, the program that lists them, is not installed` : message;
    return { ports: [], message: `The ports of this computer can't be listed (${why}); type the path of the port instead.` };
  }
}

/** Finds the one adapter with this identity. */
export function matchPort(ports: readonly PortListing[], identity: PortIdentity): PortMatch {
  const fits = (wanted: string | undefined, is: string): boolean => wanted === undefined || wanted.toLowerCase() === is.toLowerCase();
  const found = ports.filter((port) => (
    port.isAdapter && fits(identity.vendorId, port.vendorId) && fits(identity.productId, port.productId) && fits(identity.serialNumber, port.serialNumber)
  ));
  if (found.length > 1) return { kind: 'ambiguous', ports: found };
  return found[0] === undefined ? { kind: 'missing' } : { kind: 'found', port: found[0] };
}

/** @returns an address that finds this adapter again under any name; by path for a port that has no identity */
export function addressOfPort(port: PortListing): string {
  if (!port.isAdapter || port.serialNumber === '') return `serial:${port.path}`;
  return `serial:*?vendor=${port.vendorId}&product=${port.productId}&serial-number=${encodeURIComponent(port.serialNumber)}`;
}

/** How long the system is given to finish with a new device node before the list is read, ms. */
const SETTLE_MS = 150;
/** Where folders can't be watched the list is read this often, ms. */
const POLL_MS = 1000;

/**
 * Calls back with the list now and whenever it changes, until stopped.
 * @param folder  where device nodes come and go
 */
export function watchPorts(onChange: (list: PortList) => void, folder = '/dev', list: () => Promise<PortList> = listPorts): { stop(): void } {
  let last = '';
  let timer: NodeJS.Timeout | null = null;
  let isStopped = false;
  const look = async (): Promise<void> => {
    const now = await list();
    const text = JSON.stringify(now);
    if (isStopped || text === last) return;
    last = text;
    onChange(now);
  };
  const lookSoon = (): void => {
    if (timer !== null) clearTimeout(timer);
    timer = setTimeout(() => void look(), SETTLE_MS);
  };
  let watcher: { close(): void };
  try {
    const folderWatcher = watch(folder, lookSoon);
    folderWatcher.on('error', () => undefined);
    watcher = folderWatcher;
  } catch {
    const poll = setInterval(() => void look(), POLL_MS);
    watcher = { close: () => clearInterval(poll) };
  }
  void look();
  return {
    stop() {
      isStopped = true;
      watcher.close();
      if (timer !== null) clearTimeout(timer);
    },
  };
}
