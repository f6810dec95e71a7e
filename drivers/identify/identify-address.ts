/** From an address to what could read the meter there: a serial port at every likely rate, any other link as it is. */
import { AddressParts, readAs } from '../address.ts';
import { createMeter, isByteMeter, portPlace } from '../create-meter.ts';
import { trouble } from '../link-trouble.ts';
import type { LinkStatus } from '../meter.ts';
import { listPorts, matchPort } from '../transports/ports.ts';
import { missingPort } from '../transports/serial-troubles.ts';
import type { Identification } from './identify-port.ts';
import { identifyMeter, identifyPort, type IdentifyPortOptions } from './listening-port.ts';

/** How long a network link may take to open, s. */
const OPEN_PATIENCE = 5;

/**
 * The meter must not be read meanwhile by anyone else.
 * @throws {AddressError} for an address that cannot be used
 */
export async function identifyAddress(address: string, options: IdentifyPortOptions = {}): Promise<Identification> {
  const parts = new AddressParts(address);
  if (parts.scheme !== 'serial') return identifyLink(address, options);
  const place = portPlace(parts);
  if (place.kind === 'path') return identifyPort(place.path, options);
  const match = matchPort((await listPorts()).ports, place.identity);
  if (match.kind === 'found') return identifyPort(match.port.path, options);
  const status = match.kind === 'missing' ? missingPort(address) : trouble('failed', 'PORT_AMBIGUOUS', `Unplug all but one of them, or give its path: ${match.ports.map(({ path }) => path).join(', ')}.`);
  return { kind: 'trouble', status };
}

async function identifyLink(address: string, options: IdentifyPortOptions): Promise<Identification> {
  // Read as text it sends nothing by itself.
  const meter = createMeter(readAs(address, null, ''));
  let status: LinkStatus = meter.status();
  const settled = new Promise<void>((resolve) => {
    const timer = setTimeout(resolve, OPEN_PATIENCE * 1000);
    options.signal?.addEventListener('abort', () => resolve());
    meter.open({
      onReadings: () => undefined,
      onStatus: (now) => {
        status = now;
        if (now.state !== 'open' && now.code === '') return;
        clearTimeout(timer);
        resolve();
      },
    });
  });
  try {
    await settled;
    if (status.state !== 'open' || !isByteMeter(meter)) return { kind: 'trouble', status };
    return await identifyMeter(meter, options);
  } finally {
    await meter.close();
  }
}
