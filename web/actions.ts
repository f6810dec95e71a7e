/** What a person can do, from a button, a key or a foot switch alike. Troubles end up in `notice`. */
import { effect, type Signal } from '@preact/signals';
import type { ClientRequest } from '../server/live/protocol.ts';
import type { Watching } from '../server/diagnosis/judgement.ts';
import type { NextTake } from '../server/session/candidate-checks.ts';
import type { Check } from '../server/session/session.ts';
import { ask, RequestFailed } from './live/index.ts';
import { endsItself } from './preferences.ts';
import { allowSound, soundState, stopSound } from './sound/audio.ts';
import { routeHash } from './routes.ts';
import { live, nextStep, notice, route } from './state.ts';
import { texts } from './texts.ts';

/** @param patience  s to wait for an answer; the usual when left out @returns whether the service did it */
export async function request(asked: ClientRequest, patience?: number): Promise<boolean> {
  const before = notice.value;
  try {
    await ask(asked, patience);
    // A trouble that was told while the answer was on its way stays.
    if (before?.kind === 'trouble' && notice.value === before) notice.value = null;
    return true;
  } catch (error) {
    if (!(error instanceof RequestFailed)) throw error;
    notice.value = { kind: 'trouble', text: error.message };
    return false;
  }
}

export function startOrStopTake(): void {
  const now = live.value;
  if (now === null) notice.value = { kind: 'trouble', text: texts.trouble.noContact };
  else if (now.take !== null) void (now.take.watching === 'road' ? stopRoadTake() : request({ type: 'stop-take' }));
  else if (route.value.screen === 'road') void startRoadTake();
  else void startTake(now.watching);
}

/** What was chosen last, until the service has told so: a take that is started at once is one of that. */
let chosen: { readonly check: Check; readonly watching: Watching } | null = null;

function startTake(usual: Watching): Promise<boolean> {
  const { check, watching } = chosen ?? { check: live.value!.check, watching: usual };
  return request({ type: 'start-take', check, watching, ...(watching === 'wiggle' && endsItself.value ? { endsItself: true } : {}) });
}

/** All is set for the drive: what had to be read and proved stood on the screen above the button. */
export async function startRoadTake(): Promise<void> {
  if (await request({ type: 'arm', isArmed: true })) await startTake('road');
}

export async function stopRoadTake(): Promise<void> {
  if (await request({ type: 'stop-take' })) await request({ type: 'arm', isArmed: false });
}

/** A long recording is looked through before anything is added to it, s. */
const OPENING_PATIENCE = 120;

/** Goes on with a recorded session, on the watch screen. */
export async function goOnWith(session: string): Promise<void> {
  if (await request({ type: 'go-on', session }, OPENING_PATIENCE)) location.hash = routeHash({ screen: 'watch' });
}

/** Harness still, leads tugged; a take is begun for it where none runs. */
export async function proveRig(): Promise<void> {
  const now = live.value;
  if (now === null || (now.take === null && !(await startTake(now.watching)))) return;
  await request({ type: 'prove-rig', isRunning: true });
}

/** The zone is flexed from now on; the same zone again, or null, means that the hands are off. */
export function flexZone(zone: string | null): void {
  const now = live.value;
  if (now === null || now.take === null) notice.value = { kind: 'trouble', text: texts.trouble.zoneNeedsTake };
  else void request({ type: 'flex-zone', zone: now.wiggle.zone === zone ? null : zone });
}

export function acknowledge(caution: string): Promise<boolean> {
  return request({ type: 'acknowledge', caution });
}

export function confirmCondition(isMet: boolean): Promise<boolean> {
  return request({ type: 'confirm-condition', isMet });
}

export async function choose(check: Check, watching: Watching): Promise<boolean> {
  const own = { check, watching };
  chosen = own;
  const isDone = await request({ type: 'choose', check, watching });
  const known = live.value;
  // The state that follows the answer holds the choice.
  const dispose = effect(() => {
    if (isDone && live.value === known) return;
    if (chosen === own) chosen = null;
    queueMicrotask(() => dispose());
  });
  return isDone;
}

/** The check that the search asks for, on the watch screen; refusals stay where one is. */
export async function goToTake({ check, watching }: Pick<NextTake, 'check' | 'watching'>): Promise<void> {
  if (await choose(check, watching)) location.hash = routeHash({ screen: 'watch' });
}

/** What was found goes into the session where nothing was written yet; then on to the repair. */
export async function goToRepair(finding: string): Promise<void> {
  const repair = live.value?.repair;
  if (repair !== undefined && repair.finding === '' && !(await request({ type: 'note-finding', basedOn: repair.revision, text: finding }))) return;
  location.hash = routeHash({ screen: 'repair', session: null });
}

export function goToNextCheck(): void {
  const now = live.value;
  const next = nextStep.value;
  if (now === null) notice.value = { kind: 'trouble', text: texts.trouble.noContact };
  else if (next === null) notice.value = { kind: 'trouble', text: texts.trouble.noNextCheck };
  else if (next.kind === 'found') notice.value = { kind: 'done', text: texts.next.found(next.words) };
  else void choose(next.check, next.watching);
}

export async function mark(text = ''): Promise<void> {
  if (live.value?.take === null) notice.value = { kind: 'trouble', text: texts.trouble.markNeedsTake };
  else if (await request({ type: 'mark', text: text === '' ? texts.marks.plain : text })) notice.value = { kind: 'done', text: texts.marks.made };
}

export function countFlex(): void {
  const now = live.value;
  if (now?.take?.watching !== 'wiggle') notice.value = { kind: 'trouble', text: texts.trouble.flexNeedsWiggle };
  else void request({ type: 'flex', count: 1 });
}

export async function switchSound(): Promise<void> {
  if (soundState.value === 'on') await stopSound();
  else if (!(await allowSound())) notice.value = { kind: 'trouble', text: soundState.value === 'missing' ? texts.sound.missingLong : texts.sound.blockedLong };
}

/** Turns the tone or the voice on or off; on means that sound as a whole is allowed too. */
export async function switchFollower(on: Signal<boolean>): Promise<void> {
  on.value = !on.value;
  if (on.value && soundState.value !== 'on') await switchSound();
}
