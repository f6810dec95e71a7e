/**
 * Meters that hang on a dashboard's own device: each is carried by one page, which forwards its bytes and gets the questions for it.
 * A second page is refused while the first is there.
 */
import { placeOf, type ForwardedLink } from '../../drivers/index.ts';
import { RequestRefused, type ForwardedFrame, type HubPage } from '../live/index.ts';
import type { CarryRequest } from '../live/protocol.ts';
import type { MeterRecord } from '../session/session.ts';

export interface CarryParts {
  /** @throws {RequestRefused} for an address that can't be attached */
  readonly attach: (address: string) => MeterRecord;
  readonly detach: (meter: number) => void;
  /** The attached meter at a place, whatever its settings. */
  readonly find: (place: string) => MeterRecord | null;
  /** Null when the meter is gone or does not hang on a page. */
  readonly link: (meter: number) => ForwardedLink | null;
  /** Session clock, s. */
  readonly now: () => number;
  /** Monotonic clock at time 0 of the session clock, s. */
  readonly startedAt: () => number;
}

export interface Carried {
  page: HubPage;
  readonly carrier: string;
  /** Session clock, s, of the newest chunk. */
  lastAt: number;
  /** Bytes that may still come in this second. */
  allowance: number;
  allowedAt: number;
}

/** A page's own reckoning of when a chunk came is believed when it is not older than this, s. */
const OLDEST = 1;
/** More than ten times what a serial meter sends at 115,200 baud: what is beyond it is no meter. */
const MOST_BYTES_A_SECOND = 128 * 1024;
const PAGE_GONE = 'The page that forwards this meter was closed, or lost contact with the service: open it again on that phone or tablet.';

export class CarryDesk {
  readonly #parts: CarryParts;
  readonly #carried = new Map<number, Carried>();

  constructor(parts: CarryParts) {
    this.#parts = parts;
  }

  /** @throws {RequestRefused} */
  carryOut(request: CarryRequest, page: HubPage): unknown {
    if (request.type === 'carry-meter') return this.#carry(request.address, request.carrier, page);
    const link = this.#linkFor(request.meter, page);
    if (link === null) throw new RequestRefused('NOT_CARRIED', 'This page does not carry that meter: choose the meter again.');
    if (request.isConnected) link.connected();
    else link.disconnected(request.reason);
    return undefined;
  }

  /** Bytes of a page's meter; those of a meter that the page does not carry are dropped, and show as a missing chunk. */
  onForwarded(frame: ForwardedFrame, page: HubPage): void {
    const link = this.#linkFor(frame.meter, page);
    const carried = this.#carried.get(frame.meter);
    if (link === null || carried === undefined || !this.#isAllowed(carried, frame.bytes.length)) return;
    link.receive(frame.sequence, frame.bytes, this.#arrival(carried, frame.at));
  }

  onPageClosed(page: HubPage): void {
    for (const [meter, carried] of this.#carried) if (carried.page === page) this.#drop(meter);
  }

  /** The meter was let go of. */
  forget(meter: number): void {
    this.#carried.delete(meter);
  }

  /** The page that carries a meter, for a meter that is read anew; it is let go of. */
  release(meter: number): Carried | null {
    const carried = this.#carried.get(meter) ?? null;
    this.#carried.delete(meter);
    return carried;
  }

  /** The page goes on with the same meter under another number, and is told so. */
  resume(carried: Carried, from: number, record: MeterRecord): void {
    this.#take(record.index, carried);
    carried.page.send({ type: 'meter-moved', meter: from, to: record.index, address: record.address });
  }

  /** Meters go on under other numbers. @param moved  new numbers by old ones @param recordOf  by the new number */
  renumber(moved: ReadonlyMap<number, number>, recordOf: (meter: number) => MeterRecord | undefined): void {
    const carried = [...moved].flatMap(([from, to]) => {
      const own = this.release(from);
      const record = recordOf(to);
      return own === null || record === undefined ? [] : [{ own, from, record }];
    });
    for (const { own, from, record } of carried) this.resume(own, from, record);
  }

  #carry(address: string, carrier: string, page: HubPage): MeterRecord {
    const place = placeOf(address);
    if (!place.startsWith('browser:')) throw new RequestRefused('BAD_ADDRESS', `${address}: a page carries meters like browser:pocket-meter only.`);
    const known = this.#parts.find(place);
    const holder = known === null ? undefined : this.#carried.get(known.index);
    if (holder !== undefined && holder.carrier !== carrier) {
      throw new RequestRefused('CARRIED_ELSEWHERE', `Another page already carries a meter "${decodeName(place)}": let go of it there first, or give this one another name.`);
    }
    if (known !== null && known.address !== address) this.#parts.detach(known.index);
    const record = known !== null && known.address === address ? known : this.#parts.attach(address);
    this.#take(record.index, { page, carrier, lastAt: -Infinity, allowance: MOST_BYTES_A_SECOND, allowedAt: this.#parts.now() });
    return record;
  }

  #take(meter: number, carried: Carried): void {
    this.#carried.set(meter, carried);
    const link = this.#parts.link(meter);
    if (link !== null) link.onWrite = (bytes) => carried.page.send({ type: 'write-meter', meter, bytes: Buffer.from(bytes).toString('base64') });
  }

  #drop(meter: number): void {
    this.#carried.delete(meter);
    const link = this.#parts.link(meter);
    if (link === null) return;
    link.onWrite = null;
    link.disconnected(PAGE_GONE);
  }

  #linkFor(meter: number, page: HubPage): ForwardedLink | null {
    return this.#carried.get(meter)?.page === page ? this.#parts.link(meter) : null;
  }

  /**
   * When the page received it, as the page reckons, so that the delay of the network is not in it; never later than now, never before the
   * chunk before it. A page whose clock says otherwise is not believed, and the time of arrival here counts.
   * @returns monotonic clock, s
   */
  #arrival(carried: Carried, at: number): number {
    const now = this.#parts.now();
    const isBelieved = at <= now && at > now - OLDEST;
    carried.lastAt = Math.max(isBelieved ? at : now, carried.lastAt > now ? -Infinity : carried.lastAt);
    return carried.lastAt + this.#parts.startedAt();
  }

  #isAllowed(carried: Carried, bytes: number): boolean {
    const now = this.#parts.now();
    carried.allowance = Math.min(MOST_BYTES_A_SECOND, carried.allowance + Math.max(0, now - carried.allowedAt) * MOST_BYTES_A_SECOND);
    carried.allowedAt = now;
    if (bytes > carried.allowance) return false;
    carried.allowance -= bytes;
    return true;
  }
}

function decodeName(place: string): string {
  const name = place.slice('browser:'.length);
  try {
    return decodeURIComponent(name);
  } catch {
    return name;
  }
}
