/** A meter at the end of a transport: transport, decoder and what is known of the meter, put together. */
import { isAsker } from './decoders/asker.ts';
import type { Decoder, DecodeSink } from './decoders/decoder.ts';
import { trouble, untroubled } from './link-trouble.ts';
import type { ByteMeter, LinkCounts, LinkStatus, MeterListener, MeterTraits } from './meter.ts';
import type { Reading } from './reading.ts';
import type { Clock, Transport } from './transports/transport.ts';

export interface LinkMeterParts {
  readonly traits: MeterTraits;
  readonly transport: Transport;
  /** Called for every connection. An asker gets to ask. */
  readonly newDecoder: () => Decoder;
  /** Nothing for longer than this and the meter counts as silent, s. */
  readonly silence: number;
  readonly clock: Clock;
}

/** How often silence is looked for, s. */
const WATCH_EVERY = 0.25;
/** So many bytes without one reading, and the user is told that the settings may be wrong. */
const UNREADABLE_BYTES = 512;

export class LinkMeter implements ByteMeter {
  readonly traits: MeterTraits;
  readonly #parts: LinkMeterParts;
  #listener: MeterListener | null = null;
  #decoder: Decoder;
  #status: LinkStatus = untroubled('closed');
  #connected = false;
  #lastBytesAt = 0;
  #bytesSinceReading = 0;
  #readings = 0;
  #skipped = 0;
  #bytes = 0;
  #batch: Reading[] = [];
  #watch: NodeJS.Timeout | null = null;
  #askTimer: NodeJS.Timeout | null = null;
  readonly #taps = new Set<(bytes: Uint8Array, arrival: number) => void>();
  readonly #sink: DecodeSink = {
    reading: (reading) => {
      this.#batch.push(reading);
    },
    skipped: () => {
      this.#skipped++;
    },
  };

  constructor(parts: LinkMeterParts) {
    this.traits = parts.traits;
    this.#parts = parts;
    this.#decoder = parts.newDecoder();
  }

  status(): LinkStatus {
    return this.#status;
  }

  counts(): LinkCounts {
    return { readings: this.#readings, skipped: this.#skipped, bytes: this.#bytes };
  }

  /** @throws {RangeError} when it is open already */
  open(listener: MeterListener): void {
    if (this.#listener !== null) throw new RangeError('this meter is open already');
    this.#listener = listener;
    this.#status = untroubled('opening');
    this.#watch = setInterval(() => this.#lookForSilence(), WATCH_EVERY * 1000);
    this.#parts.transport.open({
      onConnected: () => this.#onConnected(),
      onBytes: (bytes, arrival) => this.#onBytes(bytes, arrival),
      onStatus: (status) => this.#onStatus(status),
    });
  }

  tap(look: (bytes: Uint8Array, arrival: number) => void): () => void {
    this.#taps.add(look);
    return () => this.#taps.delete(look);
  }

  send(bytes: Uint8Array): boolean {
    return this.#connected && this.#parts.transport.write(bytes);
  }

  async close(): Promise<void> {
    if (this.#watch !== null) clearInterval(this.#watch);
    this.#stopAsking();
    this.#connected = false;
    await this.#parts.transport.close();
    if (this.#listener !== null) this.#tell(untroubled('closed'));
    this.#listener = null;
  }

  #onConnected(): void {
    this.#connected = true;
    this.#decoder = this.#parts.newDecoder();
    this.#lastBytesAt = this.#parts.clock();
    this.#bytesSinceReading = 0;
    this.#tell(untroubled('open'));
    this.#ask();
  }

  #onBytes(bytes: Uint8Array, arrival: number): void {
    this.#bytes += bytes.length;
    this.#bytesSinceReading += bytes.length;
    this.#lastBytesAt = arrival;
    for (const look of this.#taps) look(bytes, arrival);
    this.#decoder.decode(bytes, this.#sink);
    this.#ask();
    if (this.#batch.length > 0) {
      const readings = this.#batch;
      this.#batch = [];
      this.#readings += readings.length;
      this.#bytesSinceReading = 0;
      if (this.#status.state !== 'open' || this.#status.code !== '') this.#tell(untroubled('open'));
      this.#listener?.onReadings({ arrival, readings });
    } else if (this.#bytesSinceReading > UNREADABLE_BYTES) {
      this.#tell(trouble('open', 'METER_UNREADABLE', 'Check baud rate, parity and that the right kind of meter is chosen.'));
    } else if (this.#status.state === 'silent') {
      this.#tell(untroubled('open'));
    }
  }

  #onStatus(status: LinkStatus): void {
    if (status.state !== 'open') {
      this.#connected = false;
      this.#stopAsking();
    }
    this.#tell(status);
  }

  #lookForSilence(): void {
    if (!this.#connected || this.#parts.clock() - this.#lastBytesAt < this.#parts.silence) return;
    this.#parts.transport.checkLink();
    if (!this.#connected || this.#status.state === 'silent') return;
    const advice = !isAsker(this.#decoder)
      ? 'Is it switched on, awake, and set to send its readings? It may need a poll command.'
      : 'Is it switched on, and are poll command and baud rate right?';
    this.#tell(trouble('silent', 'METER_SILENT', advice));
  }

  /** Sends what the decoder wants to ask now, and comes back when it wants to ask again. */
  #ask(): void {
    const decoder = this.#decoder;
    if (!this.#connected || !isAsker(decoder)) return;
    this.#stopAsking();
    const question = decoder.ask(this.#parts.clock());
    if (question !== null) this.#parts.transport.write(question);
    const wait = Math.max(0, decoder.askAgainAt() - this.#parts.clock());
    if (Number.isFinite(wait)) this.#askTimer = setTimeout(() => this.#ask(), wait * 1000);
  }

  #stopAsking(): void {
    if (this.#askTimer !== null) clearTimeout(this.#askTimer);
    this.#askTimer = null;
  }

  #tell(status: LinkStatus): void {
    if (status.state === this.#status.state && status.code === this.#status.code && status.message === this.#status.message) return;
    this.#status = status;
    this.#listener?.onStatus(status);
  }
}
