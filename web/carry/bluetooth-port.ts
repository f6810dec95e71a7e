/** A meter on Bluetooth LE: the service that carries its serial line is found, its notifications are the bytes. */
import { texts } from '../texts.ts';
import { OneAtATime, PortTrouble, within, type BytePort, type PortListener } from './byte-port.ts';
import { UART_SERVICES, type UartService } from './uart-services.ts';

/** Connecting may never settle, and can't be called off cleanly: it is given up after this, s. */
const CONNECT_PATIENCE = 10;
/** What one write carries at least everywhere: an attribute of the smallest packet (23 bytes less 3). */
const WRITE_BYTES = 20;

/**
 * Lets the user choose a device; must be called from a press.
 * @param own  a service that the user typed, looked for first
 * @throws {PortTrouble} CANCELLED when nothing was chosen
 */
export async function chooseBluetooth(own: UartService | null): Promise<BytePort> {
  const services = own === null ? UART_SERVICES : [own, ...UART_SERVICES];
  try {
    // Meters often don't advertise the service that they have.
    const device = await navigator.bluetooth!.requestDevice({ acceptAllDevices: true, optionalServices: [...new Set(services.map(({ service }) => service))] });
    return new BluetoothPort(device, services);
  } catch (error) {
    throw chooseTrouble(error);
  }
}

function chooseTrouble(error: unknown): PortTrouble {
  const t = texts.carry.trouble;
  const { name, message } = error as DOMException;
  if (name === 'NotFoundError') return /adapter/i.test(message) ? new PortTrouble('NO_ADAPTER', t.noAdapter) : new PortTrouble('CANCELLED', t.cancelled);
  if (name === 'SecurityError' || name === 'NotAllowedError') return new PortTrouble('FORBIDDEN', t.forbidden);
  return new PortTrouble('FAILED', t.failed(message));
}

interface Line { readonly notify: BluetoothCharacteristic; readonly write: BluetoothCharacteristic | null }

class BluetoothPort implements BytePort {
  readonly #device: BluetoothPeer;
  readonly #services: readonly UartService[];
  #listener: PortListener | null = null;
  #line: Line | null = null;
  readonly #writes = new OneAtATime();

  constructor(device: BluetoothPeer, services: readonly UartService[]) {
    this.#device = device;
    this.#services = services;
    device.addEventListener('gattserverdisconnected', () => this.#lose());
  }

  get name(): string {
    return this.#device.name ?? '';
  }

  async open(listener: PortListener): Promise<void> {
    const t = texts.carry.trouble;
    const { gatt } = this.#device;
    if (gatt === undefined) throw new PortTrouble('NO_SERVICE', t.noService);
    try {
      await within(CONNECT_PATIENCE, gatt.connect(), t.noAnswer);
      // Whatever was found before died with the connection: all of it is looked up again.
      const line = await within(CONNECT_PATIENCE, this.#findLine(gatt), t.noAnswer);
      this.#line = line;
      this.#listener = listener;
      // Before notifications are on, so that the first one is not lost.
      line.notify.addEventListener('characteristicvaluechanged', this.#take);
      await within(CONNECT_PATIENCE, line.notify.startNotifications(), t.noAnswer);
    } catch (error) {
      this.#forget();
      gatt.disconnect();
      if (error instanceof PortTrouble) throw error;
      throw new PortTrouble('FAILED', t.failed((error as Error).message));
    }
  }

  write(bytes: Uint8Array): void {
    const characteristic = this.#line?.write;
    if (characteristic === null || characteristic === undefined) return;
    this.#writes.add(async () => {
      for (let at = 0; at < bytes.length; at += WRITE_BYTES) {
        const piece = bytes.slice(at, at + WRITE_BYTES);
        if (characteristic.properties.writeWithoutResponse) await characteristic.writeValueWithoutResponse(piece);
        else await characteristic.writeValueWithResponse(piece);
      }
    });
  }

  close(): Promise<void> {
    this.#forget();
    this.#device.gatt?.disconnect();
    return Promise.resolve();
  }

  async #findLine(gatt: BluetoothServer): Promise<Line> {
    const services = await gatt.getPrimaryServices().catch((error: DOMException) => {
      if (error.name === 'NotFoundError') return [];
      throw error;
    });
    for (const wanted of this.#services) {
      const service = services.find(({ uuid }) => uuid === wanted.service);
      if (service === undefined) continue;
      const characteristics = await service.getCharacteristics();
      const notify = characteristics.find(({ uuid, properties }) => (wanted.notify === undefined ? properties.notify || properties.indicate : uuid === wanted.notify));
      const write = characteristics.find(({ uuid, properties }) => (wanted.write === undefined ? properties.write || properties.writeWithoutResponse : uuid === wanted.write));
      if (notify !== undefined) return { notify, write: write ?? null };
    }
    throw new PortTrouble('NO_SERVICE', texts.carry.trouble.noService);
  }

  readonly #take = (event: Event): void => {
    const { value } = event.target as BluetoothCharacteristic;
    if (value !== null && value.byteLength > 0) this.#listener?.onBytes(new Uint8Array(value.buffer, value.byteOffset, value.byteLength).slice());
  };

  #lose(): void {
    const listener = this.#listener;
    this.#forget();
    listener?.onGone();
  }

  #forget(): void {
    this.#line?.notify.removeEventListener('characteristicvaluechanged', this.#take);
    this.#line = null;
    this.#listener = null;
  }
}
