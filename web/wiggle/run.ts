/** Runs what takes time in a wiggle take: the rig proof, and the pacing from zone to zone. */
import { effect, signal } from '@preact/signals';
import { request } from '../actions.ts';
import { voiceOn, zoneNames } from '../preferences.ts';
import { judged, live, pulse, serviceClock } from '../state.ts';
import { say } from '../sound/voice.ts';
import { texts } from '../texts.ts';
import { isRigProof, PROOF_TIME, rigProofOf } from './rig-proof.ts';
import { wiggleRecord, zoneNow, zoneReport } from './zone-record.ts';

/** Time in each zone when paced, s. */
export const PACE_TIME = 20;

export const isPaced = signal(false);

/** Starts the proof and ends it after its time; afterwards the check is chosen again. */
export async function proveRig(): Promise<void> {
  const now = live.value;
  if (now === null || isRigProof(now.check)) return;
  const { check, watching } = now;
  const proof = rigProofOf(check, texts.wiggle.proofCondition, texts.wiggle.proofInstruction);
  if (!(await request({ type: 'start-take', check: proof, watching: 'wiggle' }))) return;
  if (voiceOn.value) say(texts.wiggle.proofInstruction);
  const stop = effect(() => {
    const state = live.value;
    const clock = serviceClock.read(pulse.value);
    if (state === null || clock === null) return;
    const take = state.take;
    // Stopped by hand, or another check chosen: then that is what the user wants.
    const isOurs = take !== null && take.check.id === proof.id;
    if (take !== null && isOurs && clock - take.start < PROOF_TIME) return;
    if (take === null && !isRigProof(state.check)) return;
    queueMicrotask(() => stop());
    void (async () => {
      if (isOurs) await request({ type: 'stop-take' });
      if (take === null || isOurs) await request({ type: 'choose', check, watching });
    })();
  });
}

/** Notes that a zone is flexed from now on; the same zone again means that the hands are off. */
export function flexZone(zone: string): void {
  const now = live.value;
  if (now === null || now.take === null) return;
  void request({ type: 'mark', kind: 'zone', text: zoneNow(now.marks) === zone ? '' : zone });
}

/** Leads from zone to zone while it is switched on and a wiggle take runs. */
export function startPacing(): void {
  let since = -Infinity;
  let found: string | null = null;
  effect(() => {
    const now = live.value;
    const clock = serviceClock.read(pulse.value);
    const known = judged.value;
    if (!isPaced.value || now === null || now.take === null || clock === null || now.take.watching !== 'wiggle' || isRigProof(now.take.check)) {
      since = -Infinity;
      found = null;
      return;
    }
    if (known === null || known.take !== now.take.id || clock - since < PACE_TIME) return;
    const report = zoneReport(wiggleRecord(zoneNames.value, now.marks, known.judgement, clock));
    if (report !== null && report.source !== null) {
      if (found !== report.source) say(texts.wiggle.sourceFound(report.source));
      found = report.source;
      return;
    }
    const next = nextZone(zoneNames.value, zoneNow(now.marks), report?.flexNext ?? null);
    if (next === null) return;
    since = clock;
    say(texts.wiggle.paced(next, PACE_TIME));
    if (next !== zoneNow(now.marks)) void request({ type: 'mark', kind: 'zone', text: next });
  });
}

/** The zone that the evidence asks for; where it asks for the one at hand, the next along the harness. */
export function nextZone(zones: readonly string[], now: string | null, wanted: string | null): string | null {
  if (zones.length === 0) return null;
  if (wanted !== null && wanted !== now) return wanted;
  return zones[(zones.indexOf(now ?? '') + 1) % zones.length]!;
}
