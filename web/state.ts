/** Everything the screens show, in one place. Written by live/, the review loader and user actions; screens only read. */
import { computed, signal } from '@preact/signals';
import { fromFunctionCode, Flag, type Quantity } from '../drivers/reading.ts';
import type { Judgement } from '../server/diagnosis/judgement.ts';
import type { LiveLocation, LiveMeter, LiveState } from '../server/live/protocol.ts';
import type { Capture } from '../server/session/capture.ts';
import { ServiceClock } from './live/service-clock.ts';
import { nextStepOf, type NextStep } from './next-step.ts';
import { parseRoute, type Route } from './routes.ts';
import { TraceBuffer } from './trace/trace-buffer.ts';

/** Contact with the service, as far as this page knows. */
export interface ServiceContact {
  readonly state: 'connecting' | 'open' | 'lost';
  /** Page clock, s, when the service was last heard; null for never. */
  readonly heardAt: number | null;
}

/** The newest sample of a meter. */
export interface LatestReading {
  readonly quantity: Quantity;
  readonly coupling: string;
  /** SI; NaN when beyond range or blank. */
  readonly value: number;
  readonly resolution: number;
  readonly flags: number;
  /** Session clock, s. */
  readonly at: number;
}

export interface Notice { readonly kind: 'trouble' | 'done'; readonly text: string }

export const route = signal<Route>(parseRoute(''));
export const contact = signal<ServiceContact>({ state: 'connecting', heardAt: null });
export const live = signal<LiveState | null>(null);
export const judged = signal<{ readonly take: number; readonly judgement: Judgement } | null>(null);
/** What the running spot take has captured; null while the leads are still being placed. */
export const captured = signal<Capture | null>(null);
/** The search for the fault, as the service told it last. */
export const faultSearch = signal<LiveLocation | null>(null);
/** Checks skipped since the last result was accepted, by id. */
export const passedOver = signal<readonly string[]>([]);
/** By meter index. */
export const latest = signal<ReadonlyMap<number, LatestReading>>(new Map());
/** What the user was told last: a refusal with what to do, or a confirmation. */
export const notice = signal<Notice | null>(null);
/** Page clock, s; goes on twice a second, so that ages on the screen do. */
export const pulse = signal(0);
/** Departures that have been announced: goes up with each one, with the page clock, s, of the last. */
export const dropoutAlert = signal<{ readonly count: number; readonly at: number }>({ count: 0, at: -Infinity });

export const serviceClock = new ServiceClock();

/** Samples kept for the live trace, per meter: two minutes at a thousand readings a second. */
const LIVE_SAMPLES = 120_000;
const buffers = new Map<number, TraceBuffer>();

export function traceOf(meter: number): TraceBuffer {
  let buffer = buffers.get(meter);
  if (buffer === undefined) buffers.set(meter, (buffer = new TraceBuffer(LIVE_SAMPLES)));
  return buffer;
}

export function forgetTraces(): void {
  for (const buffer of buffers.values()) buffer.clear();
  latest.value = new Map();
}

/** Index of the meter that is judged. */
export const judgedMeter = computed(() => live.value?.take?.meter ?? live.value?.judgedMeter ?? 0);
export const meter = computed<LiveMeter | null>(() => live.value?.meters.find((m) => m.index === judgedMeter.value) ?? null);
/** Of the meter that is judged; nothing of one that was taken away. */
export const reading = computed<LatestReading | null>(() => (meter.value === null ? null : (latest.value.get(judgedMeter.value) ?? null)));

/** Judgement of the running take; of the one that ended last when none runs. */
export const shownJudgement = computed<Judgement | null>(() => {
  const now = live.value;
  const known = judged.value;
  if (now === null || known === null) return null;
  return now.take === null || now.take.id === known.take ? known.judgement : null;
});

/** What comes after the chosen check: by the search for the fault where something was read, else by the list. */
export const nextStep = computed<NextStep | null>(() => (live.value === null ? null : nextStepOf(live.value, faultSearch.value?.result ?? null, passedOver.value)));

/** Screens are locked against touch during a road take: nothing reacts but marks and the unlocking. */
export const isTouchLocked = computed(() => live.value?.road.isLocked === true && live.value.take?.watching === 'road' && route.value.screen === 'road');

/** How old the reading is, s, when it is older than the meter's pace explains; null while it is fresh. */
export const staleFor = computed<number | null>(() => {
  const shown = reading.value;
  const clock = serviceClock.read(pulse.value);
  if (shown === null || clock === null) return null;
  const age = clock - shown.at;
  const pace = meter.value?.interval ?? shownJudgement.value?.interval ?? 0.5;
  return age > Math.max(1.5, 3 * pace) ? age : null;
});

export function isBeyondRange(shown: LatestReading): boolean {
  return (shown.flags & Flag.overRange) !== 0;
}

export function latestFrom(code: number, rest: Omit<LatestReading, 'quantity' | 'coupling'>): LatestReading {
  return { ...fromFunctionCode(code), ...rest };
}
