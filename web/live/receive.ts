/** Turns what the service says into state. */
import { batch } from '@preact/signals';
import type { LiveState, ServerMessage } from '../../server/live/protocol.ts';
import { decodeSampleFrame } from '../../server/live/sample-frame.ts';
import { CaptureWatch } from '../../server/session/capture.ts';
import {
  captured, contact, dropoutAlert, faultSearch, forgetTraces, judged, latest, latestFrom, live, passedOver, pulse, serviceClock, traceOf, type LatestReading,
} from '../state.ts';
import { answered, failAllWaiting, useSender } from './ask.ts';
import { forwardingSaid, useByteSender } from './forwarding.ts';
import { Link } from './link.ts';

/** Departures known of a take; a page that joins a running take does not announce what was before. */
let known: { take: number; departures: number } | null = null;
/** The checks offered, which come apart from the state. */
let checks: LiveState['checks'] = [];
const captures = new CaptureWatch();
const fresh = new Map<number, LatestReading>();
let frameAsked = false;

function pageClock(): number {
  return performance.now() / 1000;
}

export function startLive(): void {
  const scheme = location.protocol === 'https:' ? 'wss:' : 'ws:';
  const link = new Link(`${scheme}//${location.host}/live`, {
    onOpen: () => {
      known = null;
      contact.value = { state: 'open', heardAt: pageClock() };
    },
    onLost: () => {
      failAllWaiting();
      contact.value = { ...contact.value, state: 'lost' };
    },
    onText: (text) => batch(() => receive(JSON.parse(text) as ServerMessage)),
    onBytes: receiveSamples,
  });
  useSender((text) => link.send(text));
  useByteSender((bytes) => link.send(bytes));
  setInterval(() => (pulse.value = pageClock()), 500);
}

/** How exactly the page knows when it heard the service last, s: everything that shows contact follows each change. */
const HEARD_EVERY = 0.25;

function noteHeard(): void {
  const now = pageClock();
  const { state, heardAt } = contact.peek();
  if (state !== 'open' || heardAt === null || now - heardAt >= HEARD_EVERY) contact.value = { state: 'open', heardAt: now };
}

function receive(message: ServerMessage): void {
  noteHeard();
  switch (message.type) {
    case 'checks':
      checks = message.checks;
      if (live.value !== null) live.value = { ...live.value, checks };
      return;
    case 'state': return receiveState({ ...message.state, checks });
    case 'judgement':
      serviceClock.hear(message.clock, pageClock());
      judged.value = { take: message.take, judgement: message.judgement };
      readCapture(message.clock);
      announce(message.take, message.judgement.dropouts.reduce((sum, dropout) => sum + dropout.count, 0));
      return;
    case 'departure': return announce(message.take, message.departures);
    case 'write-meter':
    case 'meter-moved': return forwardingSaid(message);
    case 'located':
      faultSearch.value = message.location;
      return;
    case 'alive': return serviceClock.hear(message.clock, pageClock());
    case 'done': return answered(message.request, null, message.result);
    case 'refused': return answered(message.request, message);
  }
}

function receiveState(state: LiveState): void {
  const before = live.value?.session.id;
  if (before !== undefined && before !== state.session.id) {
    forgetTraces();
    passedOver.value = [];
    judged.value = null;
  }
  serviceClock.hear(state.clock, pageClock());
  // A take seen from its beginning has no departures that were missed.
  if (state.take !== null && state.take.id !== known?.take && live.value !== null && live.value.take?.id !== state.take.id) {
    known = { take: state.take.id, departures: 0 };
  }
  live.value = state;
  readCapture(state.clock);
}

/** @param clock  session clock of what was heard, s */
function readCapture(clock: number): void {
  const take = live.value?.take ?? null;
  const known = judged.value;
  captured.value = take?.watching === 'spot' && known?.take === take.id ? captures.next(take.id, known.judgement, clock) : null;
}

function announce(take: number, departures: number): void {
  if (known?.take === take && departures > known.departures) {
    dropoutAlert.value = { count: dropoutAlert.value.count + departures - known.departures, at: pageClock() };
  }
  known = { take, departures };
}

function receiveSamples(bytes: ArrayBuffer): void {
  const frame = decodeSampleFrame(bytes);
  const interval = live.value?.meters.find((m) => m.index === frame.meter)?.interval ?? null;
  traceOf(frame.meter).append(frame, interval);
  const last = frame.length - 1;
  if (last < 0) return;
  fresh.set(frame.meter, latestFrom(frame.functionCode[last]!, {
    value: frame.value[last]!, resolution: frame.resolution[last]!, flags: frame.flags[last]!, at: frame.time[last]!,
  }));
  if (frameAsked) return;
  frameAsked = true;
  // Figures change once a frame of the screen, however fast the meter is.
  requestAnimationFrame(() => {
    frameAsked = false;
    latest.value = new Map([...latest.value, ...fresh]);
    fresh.clear();
  });
}
