/** A meter on a serial port of the device that the page runs on, through Web Serial. */
import { texts } from '../texts.ts';
import { OneAtATime, PortTrouble, type BytePort, type PortListener } from './byte-port.ts';

export interface SerialSettings {
  readonly baud: number;
  readonly dataBits: 7 | 8;
  readonly parity: 'none' | 'even' | 'odd';
  readonly stopBits: 1 | 2;
  /** Null leaves the line as the system sets it. Opto-isolated cables are powered from these lines. */
  readonly dtr: boolean | null;
  readonly rts: boolean | null;
}

const BUFFER_BYTES = 4096;

/**
 * Lets the user choose a port; must be called from a press.
 * @throws {PortTrouble} CANCELLED when nothing was chosen
 */
export async function chooseSerial(settings: SerialSettings): Promise<BytePort> {
  const t = texts.carry.trouble;
  try {
    return new SerialPort(await navigator.serial!.requestPort(), settings);
  } catch (error) {
    const { name, message } = error as DOMException;
    if (name === 'NotFoundError') throw new PortTrouble('CANCELLED', t.cancelled);
    if (name === 'SecurityError' || name === 'NotAllowedError') throw new PortTrouble('FORBIDDEN', t.forbidden);
    throw new PortTrouble('FAILED', t.failed(message));
  }
}

class SerialPort implements BytePort {
  readonly name = '';
  readonly #port: WebSerialPort;
  readonly #settings: SerialSettings;
  #listener: PortListener | null = null;
  #reader: ReadableStreamDefaultReader<Uint8Array> | null = null;
  readonly #writes = new OneAtATime();

  constructor(port: WebSerialPort, settings: SerialSettings) {
    this.#port = port;
    this.#settings = settings;
  }

  async open(listener: PortListener): Promise<void> {
    const { baud, dataBits, parity, stopBits, dtr, rts } = this.#settings;
    try {
      await this.#port.open({ baudRate: baud, dataBits, parity, stopBits, bufferSize: BUFFER_BYTES });
      const signals = { ...(dtr === null ? {} : { dataTerminalReady: dtr }), ...(rts === null ? {} : { requestToSend: rts }) };
      if (Object.keys(signals).length > 0) await this.#port.setSignals(signals);
    } catch (error) {
      const { name, message } = error as DOMException;
      await this.#port.close().catch(() => undefined);
      throw name === 'NetworkError' ? new PortTrouble('BUSY', texts.carry.trouble.busy) : new PortTrouble('FAILED', texts.carry.trouble.failed(message));
    }
    this.#listener = listener;
    void this.#read();
  }

  write(bytes: Uint8Array): void {
    const { writable } = this.#port;
    if (writable === null || this.#listener === null) return;
    this.#writes.add(async () => {
      const writer = writable.getWriter();
      try {
        await writer.write(bytes);
      } finally {
        writer.releaseLock();
      }
    });
  }

  async close(): Promise<void> {
    this.#listener = null;
    await this.#reader?.cancel().catch(() => undefined);
    await this.#port.close().catch(() => undefined);
  }

  /** Until the port is closed or gone. A break, a framing or a parity error ends a stream, not the port: the next one goes on. */
  async #read(): Promise<void> {
    while (this.#listener !== null && this.#port.readable !== null) {
      const reader = this.#port.readable.getReader();
      this.#reader = reader;
      try {
        for (;;) {
          const { value, done } = await reader.read();
          if (done) break;
          if (value.length > 0) this.#listener?.onBytes(value);
        }
      } catch {
        // Whether the port is still there is told by `readable`.
      } finally {
        reader.releaseLock();
        this.#reader = null;
      }
    }
    const listener = this.#listener;
    this.#listener = null;
    if (listener === null) return;
    await this.#port.close().catch(() => undefined);
    listener.onGone();
  }
}
