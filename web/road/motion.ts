/**
 * Motion and position of this device as further channels of a road take, if its user lets them be measured. Everything is
 * dated on the session clock when it is measured, gathered, and sent a few times a second.
 */
import { signal } from '@preact/signals';
import { ask } from '../live/index.ts';
import type { RoadChannel } from '../../server/live/protocol.ts';
import { live, serviceClock } from '../state.ts';

/** denied: the user said no · missing: the browser can't, or only over HTTPS · silent: allowed, but nothing comes */
export type SensorState = 'off' | 'asking' | 'on' | 'denied' | 'missing' | 'silent';

export const motionState = signal<SensorState>('off');
export const positionState = signal<SensorState>('off');

const SEND_MS = 500;
/** Allowed but silent for so long: say so. */
const SILENT_MS = 2_000;
/** Standard gravity, m/s2 (ISO 80000-3). */
const GRAVITY = 9.80665;

const waiting = new Map<RoadChannel, { times: number[]; values: number[] }>();
let sending = 0;

function note(channel: RoadChannel, at: number, value: number): void {
  const queue = waiting.get(channel) ?? { times: [], values: [] };
  waiting.set(channel, queue);
  // Two events of one time would not be rising.
  if (at <= (queue.times.at(-1) ?? -Infinity)) return;
  queue.times.push(at);
  queue.values.push(value);
}

function startSending(): void {
  if (sending !== 0) return;
  sending = window.setInterval(() => {
    const isRoad = live.value?.take?.watching === 'road';
    for (const [channel, { times, values }] of waiting) {
      // Between takes nothing is recorded; what a lost contact or a refusal swallows is a gap in the channel.
      if (isRoad && times.length > 0) void ask({ type: 'motion', channel, times, values }).catch(() => undefined);
    }
    waiting.clear();
  }, SEND_MS);
}

/** Size of an acceleration without gravity, m/s2; null when the device gives none. */
export function accelerationOf(event: Pick<DeviceMotionEvent, 'acceleration' | 'accelerationIncludingGravity'>): number | null {
  const free = event.acceleration;
  if (free !== null && free.x !== null && free.y !== null && free.z !== null) return Math.hypot(free.x, free.y, free.z);
  const raw = event.accelerationIncludingGravity;
  if (raw === null || raw.x === null || raw.y === null || raw.z === null) return null;
  // Good enough for bumps: the direction of gravity is not known, its size is.
  return Math.abs(Math.hypot(raw.x, raw.y, raw.z) - GRAVITY);
}

let lastMotion = -Infinity;

function onMotion(event: DeviceMotionEvent): void {
  const size = accelerationOf(event);
  const at = serviceClock.read(event.timeStamp / 1000);
  if (size === null || at === null) return;
  lastMotion = performance.now();
  motionState.value = 'on';
  note('acceleration', at, size);
}

/** Call from a click: some browsers ask their user then. */
export async function startMotion(): Promise<void> {
  if (typeof DeviceMotionEvent === 'undefined') {
    motionState.value = 'missing';
    return;
  }
  motionState.value = 'asking';
  const { requestPermission } = DeviceMotionEvent as unknown as { requestPermission?: () => Promise<string> };
  try {
    if (requestPermission !== undefined && (await requestPermission.call(DeviceMotionEvent)) !== 'granted') {
      motionState.value = 'denied';
      return;
    }
  } catch {
    motionState.value = 'denied';
    return;
  }
  addEventListener('devicemotion', onMotion);
  startSending();
  const asked = performance.now();
  const watch = setInterval(() => {
    if (motionState.value !== 'on' && motionState.value !== 'asking' && motionState.value !== 'silent') clearInterval(watch);
    else if (performance.now() - Math.max(lastMotion, asked) > SILENT_MS) motionState.value = 'silent';
  }, SILENT_MS / 2);
}

export function stopMotion(): void {
  removeEventListener('devicemotion', onMotion);
  motionState.value = 'off';
}

let positionWatch: number | null = null;

/** Call from a click: the browser asks its user. */
export function startPosition(): void {
  if (!('geolocation' in navigator) || !isSecureContext) {
    positionState.value = 'missing';
    return;
  }
  positionState.value = 'asking';
  positionWatch = navigator.geolocation.watchPosition(({ coords }) => {
    const at = serviceClock.read(performance.now() / 1000);
    if (at === null) return;
    positionState.value = 'on';
    note('latitude', at, coords.latitude);
    note('longitude', at, coords.longitude);
    if (coords.speed !== null && Number.isFinite(coords.speed)) note('speed', at, coords.speed);
  }, (error) => {
    positionState.value = error.code === error.PERMISSION_DENIED ? 'denied' : 'silent';
  }, { enableHighAccuracy: true });
  startSending();
}

export function stopPosition(): void {
  if (positionWatch !== null) navigator.geolocation.clearWatch(positionWatch);
  positionWatch = null;
  positionState.value = 'off';
}
