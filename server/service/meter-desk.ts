/**
 * The meters at hand as their user deals with them: attached, let go, read in another way, described, remembered, and which of them judges. How each
 * is read is the bench's.
 */
import type { MeterOptions } from '../../drivers/index.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest } from '../live/protocol.ts';
import type { Library } from '../recordings/index.ts';
import { profileOf } from '../session/meter-profile.ts';
import type { MeterRecord } from '../session/session.ts';
import type { CarryDesk } from './carry-desk.ts';
import { isMeterAddress, type MeterBench, SCENARIO } from './meter-bench.ts';
import type { MeterMemory } from './meter-memory.ts';
import { profileOfPlayed } from './played-recording.ts';
import { ServiceError } from './service-error.ts';

export interface MeterDeskParts {
  readonly bench: MeterBench;
  readonly memory: MeterMemory;
  readonly library: () => Library;
  readonly carry: () => CarryDesk;
  /** What addresses may name: layouts, recordings. */
  readonly options: () => MeterOptions;
  readonly isTakeRunning: () => boolean;
  /** Meters came or went. */
  readonly onChanged: () => void;
  /** What is known of one has changed, or another one is read. */
  readonly onDescribed: () => void;
  /** From now on this one judges. */
  readonly onJudgedBy: (meter: number) => void;
}

type Request<Type extends ClientRequest['type']> = Extract<ClientRequest, { type: Type }>;
type Described = Request<'describe-meter'>;
export type MeterDeskRequest = Request<'attach-meter' | 'detach-meter' | 'null-leads' | 'measure-aperture' | 'play-take' | 'judge-by' | 'describe-meter'>;

export class MeterDesk {
  readonly #parts: MeterDeskParts;
  #judged = 0;

  constructor(parts: MeterDeskParts) {
    this.#parts = parts;
  }

  /** Index of the meter that the next take is judged by. */
  get judged(): number {
    return this.#judged;
  }

  /** Those asked for at the start; else those of last time that can still be understood; else a simulated one. */
  begin(asked: readonly string[]): void {
    const { bench, memory, options } = this.#parts;
    const remembered = memory.attached().filter((address) => isMeterAddress(address, options()));
    const addresses = asked.length > 0 ? asked : remembered.length > 0 ? remembered : [`simulated:${SCENARIO}`];
    for (const address of addresses) bench.attach(address, memory.profile(address));
  }

  /** @throws {RequestRefused} */
  carryOut(request: MeterDeskRequest): unknown {
    switch (request.type) {
      case 'attach-meter': return this.attach(request.address);
      case 'detach-meter': return this.detach(request.meter);
      case 'null-leads': return this.#nullLeads(request.meter);
      case 'measure-aperture':
        this.#need(request.meter);
        return this.#parts.bench.measureAperture(request.meter, request.isRunning);
      case 'play-take': return this.#play(request);
      case 'judge-by':
        this.#need(request.meter);
        this.#judged = request.meter;
        return this.#parts.onJudgedBy(request.meter);
      case 'describe-meter': return this.#describe(request);
    }
  }

  /** @throws {RequestRefused} for an address that can't be understood, and the like */
  attach(address: string, known = this.#parts.memory.profile(address)): MeterRecord {
    const { bench, isTakeRunning } = this.#parts;
    const record = refusing(() => bench.attach(address, known));
    // Who brings a meter of their own is through with the simulated one.
    const isFirstOwn = !record.simulated && record.playedAt === undefined && bench.record(this.#judged)?.simulated === true && !isTakeRunning();
    if (isFirstOwn || !bench.has(this.#judged)) this.#judged = record.index;
    this.#parts.onChanged();
    this.#parts.onDescribed();
    this.#remember();
    return record;
  }

  /** @throws {RequestRefused} METER_IN_USE while the running take is judged by it */
  detach(meter: number): void {
    const { bench, carry } = this.#parts;
    this.#need(meter);
    this.#refuseInUse(meter);
    void bench.detach(meter);
    carry().forget(meter);
    if (meter === this.#judged) this.#judged = bench.states()[0]?.index ?? meter;
    this.#parts.onChanged();
    this.#remember();
  }

  /** The same meter, read in another way from now on; it judges if it did, and its page goes on carrying it. @throws {RequestRefused} */
  async reread(meter: number, address: string): Promise<MeterRecord> {
    const { bench, memory, carry } = this.#parts;
    this.#need(meter);
    refusing(() => bench.check(address));
    const { interval: _, aperture: __, ...known } = profileOf(bench.record(meter)!);
    const isJudged = meter === this.#judged;
    this.#refuseInUse(meter);
    const carried = carry().release(meter);
    await bench.detach(meter);
    const record = refusing(() => bench.attach(address, { ...known, ...memory.profile(address) }));
    if (isJudged || !bench.has(this.#judged)) this.#judged = record.index;
    if (carried !== null) carry().resume(carried, meter, record);
    this.#parts.onDescribed();
    this.#remember();
    return record;
  }

  /** Meters have new numbers. @param moved  by old ones */
  renumber(moved: ReadonlyMap<number, number>): void {
    this.#judged = moved.get(this.#judged) ?? this.#judged;
    this.#parts.carry().renumber(moved, (meter) => this.#parts.bench.record(meter));
  }

  #nullLeads(meter: number): number {
    this.#need(meter);
    const leadOhms = refusing(() => this.#parts.bench.nullLeads(meter));
    this.#describe({ type: 'describe-meter', meter, leadOhms, leadsNulled: new Date().toISOString().slice(0, 10) });
    return leadOhms;
  }

  async #play({ session, take, speed }: Request<'play-take'>): Promise<MeterRecord> {
    const played = await profileOfPlayed(this.#parts.library(), session, take, speed);
    if (played === null) throw new RequestRefused('NO_SUCH_TAKE', `The session ${session} has no take ${take}.`);
    return this.attach(`playback:${encodeURIComponent(session)}/${take}?speed=${speed}`, played);
  }

  #describe({ meter, ...known }: Described): void {
    const { bench, memory } = this.#parts;
    const before = bench.record(meter);
    if (before === undefined) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
    const { type: _, ...profile } = { ...profileOf(before), ...known };
    const { interval, aperture } = profile;
    if (aperture && interval && aperture > interval) {
      throw new RequestRefused('APERTURE_TOO_LONG', 'A meter cannot average for longer than its sample interval: give an aperture up to the interval.');
    }
    bench.describe(meter, profile);
    if (before.playedAt === undefined) memory.learn(before.address, profile);
    this.#parts.onDescribed();
  }

  /** Those that a page carries or a recording plays come back with those only. */
  #remember(): void {
    const { bench, memory } = this.#parts;
    memory.setAttached(bench.states().map(({ address }) => address).filter((address) => !/^(browser|playback):/.test(address)));
  }

  #need(meter: number): void {
    if (!this.#parts.bench.has(meter)) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
  }

  #refuseInUse(meter: number): void {
    if (this.#parts.isTakeRunning() && meter === this.#judged) {
      throw new RequestRefused('METER_IN_USE', 'This meter is judged in the running take: stop the take first.');
    }
  }
}

/** What the user must mend is told to the dashboard that asked. */
function refusing<Result>(act: () => Result): Result {
  try {
    return act();
  } catch (error) {
    if (error instanceof ServiceError) throw new RequestRefused(error.code, error.message, { cause: error });
    throw error;
  }
}
