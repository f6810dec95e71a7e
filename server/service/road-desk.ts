/** The road: armed and locked, and what a phone measures of motion and position, recorded beside the meters. */
import type { ClientRequest, LiveRoad } from '../live/protocol.ts';
import { channelRecord, channelSamples } from '../session/road-channels.ts';
import type { ChannelSamples, RoadChannel } from '../session/road-channels.ts';
import type { MeterRecord } from '../session/session.ts';

export type RoadRequest = Extract<ClientRequest, { type: 'arm' | 'lock' }>;

export class RoadDesk {
  #isArmed = false;
  #isLocked = false;
  /** Newest sample of each channel that has ever come in this session. */
  readonly #newest = new Map<RoadChannel, { at: number; value: number }>();

  state(meter: MeterRecord | undefined): LiveRoad {
    const isForwarded = meter?.address.startsWith('browser:') === true;
    return {
      isArmed: this.#isArmed, isLocked: this.#isLocked,
      channels: [...this.#newest].map(([channel, { at, value }]) => ({ channel, at, value })).filter(({ at }) => at > -Infinity),
      message: isForwarded
        ? 'This meter reaches the service through a browser: its readings stop when that phone locks or sleeps. Plug it into the computer for the drive, or keep the phone awake.'
        : '',
    };
  }

  act(request: RoadRequest): void {
    if (request.type === 'lock') {
      this.#isLocked = request.isLocked;
      return;
    }
    this.#isArmed = request.isArmed;
    if (!request.isArmed) this.#isLocked = false;
  }

  hasChannel(channel: RoadChannel): boolean {
    return this.#newest.has(channel);
  }

  indexOf(channel: RoadChannel): number {
    return channelRecord(channel).index;
  }

  /** Records of the channels that have come in, as if of meters. */
  records(): MeterRecord[] {
    return [...this.#newest.keys()].map(channelRecord);
  }

  /** @param start  of the take: what was measured before belongs to none @returns what is to be recorded */
  accept(channel: RoadChannel, times: readonly number[], values: readonly number[], start: number, now: number): ChannelSamples {
    const samples = channelSamples(channel, times, values, Math.max(start, this.#newest.get(channel)?.at ?? start), now);
    const at = samples.times.at(-1);
    const value = samples.readings.at(-1)?.value;
    this.#newest.set(channel, at === undefined || value === undefined ? this.#newest.get(channel) ?? { at: -Infinity, value: NaN } : { at, value });
    return samples;
  }
}
