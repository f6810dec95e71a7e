/**
 * Motion and position as further channels of a take, from a device that the user lets measure them. Each is recorded like a meter of its own.
 * Pure.
 */
import type { Quantity, Reading } from '../../drivers/reading.ts';
import type { MeterRecord } from './session.ts';

/** acceleration: its size, without gravity, m/s2 · speed over ground, m/s · latitude and longitude, degrees */
export const ROAD_CHANNELS = ['acceleration', 'speed', 'latitude', 'longitude'] as const;
export type RoadChannel = (typeof ROAD_CHANNELS)[number];

const QUANTITY: Record<RoadChannel, Quantity> = { acceleration: 'acceleration', speed: 'speed', latitude: 'angle', longitude: 'angle' };
const LABEL: Record<RoadChannel, string> = { acceleration: 'Acceleration', speed: 'Speed', latitude: 'Latitude', longitude: 'Longitude' };
/** Channels are numbered after all meters: a sample names its meter by one byte. */
const FIRST_INDEX = 240;
/** A device reckons the session clock from messages: it may be ahead by this much, s. */
const AHEAD = 1;

/** The record under which a channel is kept among the meters. */
export function channelRecord(channel: RoadChannel): MeterRecord {
  return {
    index: FIRST_INDEX + ROAD_CHANNELS.indexOf(channel), address: `motion:${channel}`, label: LABEL[channel], simulated: false,
    interval: null, aperture: null, accuracy: null, leadOhms: null,
  };
}

export interface ChannelSamples { readonly times: Float64Array; readonly readings: readonly Reading[] }

/**
 * Samples as they are recorded: in whole microseconds, strictly rising; those that are older than what is recorded already, or that claim to
 * come from the future, are left out.
 * @param after  time of the channel's newest sample so far, s
 * @param now  session clock, s
 */
export function channelSamples(channel: RoadChannel, times: readonly number[], values: readonly number[], after: number, now: number): ChannelSamples {
  const kept: number[] = [];
  const readings: Reading[] = [];
  let last = after;
  times.forEach((time, k) => {
    const at = Math.round(Math.min(time, now) * 1e6) / 1e6;
    if (time > now + AHEAD || at <= last) return;
    last = at;
    kept.push(at);
    readings.push({ quantity: QUANTITY[channel], coupling: 'none', value: values[k] as number, resolution: NaN, flags: 0 });
  });
  return { times: Float64Array.from(kept), readings };
}
