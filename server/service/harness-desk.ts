/** What hands do to the harness in a take: the leads proved, zones flexed by choice or by the tool's pacing, flexes counted, provocations noted. */
import type { Exposure } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveState, LiveWiggle } from '../live/protocol.ts';
import type { Chart } from '../session/chart.ts';
import { sayPace } from '../session/pacing.ts';
import { NO_RIG, rigStanding } from '../session/rig.ts';
import { exposureOf, PROOF_TIME, provocationsIn, zoneNow } from '../session/take-account.ts';
import { WiggleGuide } from '../session/wiggle-guide.ts';
import type { TakeDesk } from './take-desk.ts';

export type HarnessRequest = Extract<ClientRequest, { type: 'flex' | 'prove-rig' | 'name-zones' | 'flex-zone' | 'pace' | 'provoke' }>;

/** What hands do to the harness, for a simulation to follow. */
export interface Hands {
  /** The harness is held still: the leads are being proved, or nobody flexes. */
  readonly areStill: boolean;
  /** Zone that is flexed; null for none, or when zones are not told apart. */
  readonly zone: string | null;
}

export interface HarnessDeskParts {
  readonly desk: TakeDesk;
  readonly chart: () => Chart | null;
  readonly onHands: (hands: Hands) => void;
  /** Ends the running take and begins another like it. */
  readonly beginAgain: () => void;
}

export class HarnessDesk {
  readonly #parts: HarnessDeskParts;
  readonly #guide = new WiggleGuide();

  constructor(parts: HarnessDeskParts) {
    this.#parts = parts;
  }

  /** Zones of the check at hand, in order along the harness. */
  zones(): readonly string[] {
    return this.#guide.zones(this.#parts.chart(), this.#parts.desk.session.check);
  }

  state(now: number): Pick<LiveState, 'rig' | 'wiggle' | 'exposure'> {
    const { session: { take, watching, ended }, view, evidence } = this.#parts.desk;
    const account = this.#parts.desk.account();
    const zones = take?.zones ?? (evidence === null ? undefined : ended[0]?.take.zones) ?? this.zones();
    const { pace, paceSeconds } = this.#guide;
    const isRunning = take !== null;
    const wiggle: LiveWiggle = {
      zones, zone: isRunning ? zoneNow(account) : null, provocations: isRunning ? account.provocations.at(-1)?.provocations ?? [] : [],
      report: evidence?.zones ?? null, paceSeconds,
      pace: pace === null || paceSeconds === null || !isRunning ? null : { ...pace, message: sayPace(zones, pace, paceSeconds) },
    };
    return {
      rig: view?.rig ?? (!isRunning && watching === 'spot' ? NO_RIG : rigStanding(account, watching, [])),
      wiggle,
      exposure: this.#exposure(now),
    };
  }

  act(request: HarnessRequest): void {
    const { desk } = this.#parts;
    switch (request.type) {
      case 'flex':
        desk.need('Start a wiggle take first: flexes are counted in a take.');
        return desk.note(request.count === 1 ? '1 flex' : `${request.count} flexes`, 'flex', request.count);
      case 'prove-rig':
        return this.#proveRig(request.isRunning);
      case 'name-zones':
        return this.#guide.nameZones(request.zones);
      case 'flex-zone':
        desk.need('Start a wiggle take first: zones are flexed in a take.');
        // A zone of one's own choice is the end of the tool's plan.
        this.#guide.setPace(null);
        return desk.note(request.zone ?? '', 'zone');
      case 'pace':
        this.#guide.setPace(request.seconds);
        if (request.seconds === null && desk.isRunning) desk.note('', 'zone');
        return;
      case 'provoke':
        desk.need('Start a take first: how it is provoked is noted in a take.');
        return desk.note(provocationsIn(request.provocations.join(' ')).join(', '), 'provocation');
    }
  }

  /** The plan of the pacing begins anew: a take began. */
  restart(): void {
    this.#guide.restart();
  }

  /** A proof ends by itself, exactly when its time is up. */
  endProof(now: number): void {
    const { provingSince } = this.#parts.desk.account();
    if (provingSince === null || now - provingSince < PROOF_TIME) return;
    this.#parts.desk.note('end', 'rig-proof', undefined, provingSince + PROOF_TIME);
    this.tellHands();
  }

  /** The next zone, when the tool paces and it is due; hands off once the source is found. */
  pace(now: number): void {
    const { desk } = this.#parts;
    const { take } = desk.session;
    const account = desk.account();
    if (take === null || take.watching !== 'wiggle' || account.provingSince !== null) return;
    if ((desk.view?.zones?.source ?? null) !== null) {
      if (!this.#guide.endPace()) return;
      desk.note('', 'zone', undefined, now);
      return this.tellHands();
    }
    const zone = this.#guide.step(take.zones ?? [], now, () => desk.view?.zones ?? null);
    if (zone === null || zone === zoneNow(account)) return;
    desk.note(zone, 'zone', undefined, now);
    this.tellHands();
  }

  tellHands(): void {
    const { desk, onHands } = this.#parts;
    const account = desk.account();
    // On the road nobody flexes, but it stands still while the leads are proved.
    if (desk.session.take?.watching !== 'wiggle') return onHands({ areStill: account.provingSince !== null, zone: null });
    const zone = zoneNow(account);
    const tellsZones = account.zoneChanges.some((change) => change.zone !== null);
    onHands({ areStill: account.provingSince !== null || (tellsZones && zone === null), zone });
  }

  #proveRig(isRunning: boolean): void {
    const { desk } = this.#parts;
    const take = desk.need('Start the wiggle or road take first: the leads are proved at its beginning.');
    if (take.watching === 'spot') throw new RequestRefused('NOT_FIXED', 'In a spot take the leads are held by hand: choose a wiggle or road take.');
    if (!isRunning) {
      if (desk.account().provingSince !== null) desk.note('end', 'rig-proof');
      return;
    }
    // What slipped once makes every dropout of that take doubtful.
    if (desk.view?.rig.state === 'loose') this.#parts.beginAgain();
    this.#guide.restart();
    desk.note('begin', 'rig-proof');
  }

  /** What was counted in the running take; time without zones counts as flexed. */
  #exposure(now: number): Exposure {
    const { session: { take }, view } = this.#parts.desk;
    const counted = take === null ? undefined : exposureOf(this.#parts.desk.account(), take.start, now, view?.judgement.gaps ?? []);
    return counted ?? { flexes: 0, flexedTime: 0 };
  }
}
