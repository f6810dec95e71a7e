/**
 * A take as it is judged: its samples, what the operator did, whether the readings can be what the check asks for, and the battery beside
 * it. The same for a running take and a stored one, so that both give the same answer. Pure.
 */
import { FOUND_CHANCE } from '../diagnosis/break-words.ts';
import { TakeJudge } from '../diagnosis/index.ts';
import type { BreakFinding, Claim, JudgeSetup, Judgement } from '../diagnosis/judgement.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';
import { defaultClaim } from '../diagnosis/silence.ts';
import type { ZoneReport } from '../diagnosis/zones.ts';
import { compareWithSource } from './battery-reference.ts';
import type { SourceStanding } from './battery-reference.ts';
import { judgeSetup } from './live-session.ts';
import { Plausibility } from './plausibility.ts';
import type { ReadingWarning } from './plausibility.ts';
import { NO_RIG, rigStanding } from './rig.ts';
import type { RigStanding } from './rig.ts';
import type { MarkRecord, MeterRecord, TakeRecord } from './session.ts';
import { compareMeters, kindBeside } from './several-meters.ts';
import { accountOf, exposureOf } from './take-account.ts';
import type { TakeAccount } from './take-account.ts';
import { zoneReport } from './zone-report.ts';

/** Everything known of a take at one moment. */
export interface TakeView {
  readonly judgement: Judgement;
  readonly account: TakeAccount;
  readonly rig: RigStanding;
  /** What the dropouts say about the zones; null while none has been flexed. */
  readonly zones: ZoneReport | null;
  /** What the battery beside the take says; null when none is watched. */
  readonly source: SourceStanding | null;
}

export class TakeWatch {
  readonly #take: TakeRecord;
  readonly #judge: TakeJudge;
  readonly #plausibility: Plausibility;
  readonly #battery: TakeJudge | null;
  /** Meters beside, by index. */
  readonly #beside = new Map<number, TakeJudge>();
  /** So many times as fast as life. */
  readonly #speed: number;
  #marks: readonly MarkRecord[] = [];
  #claim: Claim | null;

  /**
   * @param reference  the meter across the battery, where the take has one
   * @param beside  the meters that watch other points, where it has any
   */
  constructor(take: TakeRecord, meter: MeterRecord, reference?: MeterRecord, beside: readonly MeterRecord[] = []) {
    this.#take = take;
    this.#speed = meter.playedAt ?? 1;
    this.#claim = take.claim ?? null;
    this.#judge = new TakeJudge({ ...judgeSetup(take.check, take.watching, meter), ...take.said, claim: this.#claim, missingCondition: missing(take, '') });
    this.#plausibility = new Plausibility(take.check);
    this.#battery = reference === undefined ? null : new TakeJudge({
      ...judgeSetup({ kind: 'supply', limits: { low: null, high: null } }, 'wiggle', reference),
    });
    for (const leads of take.beside ?? []) {
      const record = beside.find(({ index }) => index === leads.meter);
      if (record === undefined) continue;
      const { kind: own, supply } = take.check;
      const kind = kindBeside(leads, take.chain, own);
      this.#beside.set(leads.meter, new TakeJudge(judgeSetup({ kind, limits: { low: null, high: null }, ...(supply === undefined ? {} : { supply }) }, take.watching, record)));
    }
  }

  push(samples: SampleColumns): void {
    this.#judge.push(samples);
    this.#plausibility.push(samples);
  }

  /** Samples of the meter across the battery. */
  pushReference(samples: SampleColumns): void {
    this.#battery?.push(samples);
  }

  /** Samples of a meter that watches other points; of any other they are none of this take's business. */
  pushBeside(meter: number, samples: SampleColumns): void {
    this.#beside.get(meter)?.push(samples);
  }

  /** What the operator did; marks that are only notes change nothing. */
  note(mark: MarkRecord): void {
    this.#marks = [...this.#marks, mark];
    const { condition } = accountOf(this.#marks, mark.at);
    this.#judge.revise({ missingCondition: missing(this.#take, condition) });
  }

  /** What the user says later of the meter counts for the whole take. */
  revise(change: Partial<Pick<JudgeSetup, 'accuracy' | 'ranges' | 'displayCounts' | 'leadOhms'>>): void {
    this.#judge.revise(change);
  }

  /** How often it has left its level and returned so far: cheap enough to ask at every sample. */
  get departures(): number {
    return this.#take.watching === 'spot' ? 0 : this.#judge.departures;
  }

  /** What is odd about the newest readings. */
  warnings(): ReadingWarning[] {
    return this.#plausibility.now();
  }

  /** @param now  session clock, s, up to which silence counts; the last sample when not given */
  view(now?: number): TakeView {
    const { start, watching } = this.#take;
    const bare = this.#judge.judgement(now);
    const end = now ?? start + bare.elapsed;
    const account = accountOf(this.#marks, end);
    const exposure = watching === 'wiggle' ? exposureOf(account, start, end, bare.gaps) : undefined;
    let judged = bare;
    if (exposure !== undefined) {
      // Flexes that nobody counted are not none: then the flexed time stands for them.
      this.#judge.revise({ claim: this.#claim ?? (exposure.flexes === 0 ? defaultClaim('wiggle', false) : null) });
      judged = this.#judge.judgement(now, exposure);
    }
    const rig = watching === 'spot' ? NO_RIG : rigStanding(account, watching, judged.dropouts);
    const source = this.#battery === null ? null : compareWithSource(judged, this.#battery.judgement(now));
    const { instead, partly } = this.#doubts(judged);
    const take = this.#take;
    const several = watching === 'spot' || this.#beside.size === 0 ? null : this.#compare(judged, account, now);
    let zones: ZoneReport | null | undefined;
    return {
      judgement: unhurried(this.#spoiled(weigh(judged, instead, rig, source, several), partly), this.#speed), account, rig, source,
      // Costs more than the rest together: only for whoever looks.
      get zones() { return zones === undefined ? (zones = zoneReport(take, account, judged, end)) : zones; },
    };
  }

  /** What keeps the readings from being judged at all, and what a part of them can't be. A spot take stands on its contact alone. */
  #doubts({ level, steady }: Judgement): { readonly instead: readonly ReadingWarning[]; readonly partly: readonly ReadingWarning[] } {
    const instead = this.#plausibility.instead(level);
    const contact = this.#take.watching === 'spot' ? steady.findLast(({ value }) => value === level) : undefined;
    if (contact === undefined) return { instead, partly: instead.length > 0 ? [] : this.#plausibility.partly(null) };
    const whole = instead.filter(({ code }) => code === 'LIVE_CIRCUIT' || code === 'LEADS_REVERSED');
    const inContact = this.#plausibility.partly(contact).filter(({ code }) => whole.every((own) => own.code !== code));
    return { instead: [...whole, ...inContact], partly: [] };
  }

  /** No pass stands on readings of which a part can't be what the check asks for; a dropout that was seen in the rest stays, and it is said. */
  #spoiled(judgement: Judgement, partly: readonly ReadingWarning[]): Judgement {
    if (partly.length === 0) return judgement;
    const why = partly.map(({ message }) => message);
    const isOnlyLive = judgement.verdict === 'intermittent' && judgement.dropouts.length > 0 &&
      judgement.dropouts.every(({ start, end }) => this.#plausibility.wasLive(start, end));
    if (judgement.verdict === 'pass' || isOnlyLive) return { ...judgement, verdict: 'undecided', levelVerdict: 'undecided', isUnfit: true, reasons: [...why, ...judgement.reasons] };
    const [decisive, ...rest] = judgement.reasons;
    return { ...judgement, reasons: [...(decisive === undefined ? [] : [decisive]), ...why, ...rest] };
  }

  /** The judged meter, those beside it, and the one across the battery, each at its own points. */
  #compare(judgement: Judgement, account: TakeAccount, now: number | undefined): BreakFinding | null {
    const { check, beside = [], chain } = this.#take;
    const battery = chain === undefined || this.#battery === null ? [] : [{ red: chain.points[0] as string, black: chain.points.at(-1) as string, judgement: this.#battery.judgement(now) }];
    return compareMeters(this.#take, account, [
      { red: check.red, black: check.black, judgement },
      ...beside.flatMap(({ meter, red, black }) => {
        const judge = this.#beside.get(meter);
        return judge === undefined ? [] : [{ red, black, judgement: judge.judgement(now) }];
      }),
      ...battery,
    ]);
  }
}

/** What is not known of the state that the check asks for, as the judge says it; null when all is well. */
function missing({ check }: Pick<TakeRecord, 'check'>, said: string): string | null {
  return check.condition === '' || said === check.condition ? null : `nobody has confirmed the state it needs: ${check.condition}`;
}

/** A recording played faster than life is for looking at: its intervals and dropouts are shorter than they were. */
function unhurried(judgement: Judgement, speed: number): Judgement {
  if (speed <= 1) return judgement;
  return { ...judgement, verdict: 'undecided', levelVerdict: 'undecided', reasons: [`Played back ${speed} times as fast as it was: for looking at, not for a verdict.`, ...judgement.reasons] };
}

/** The judgement with what the samples alone don't tell. */
function weigh(bare: Judgement, instead: readonly ReadingWarning[], rig: RigStanding, source: SourceStanding | null, several: BreakFinding | null): Judgement {
  const judgement = several === null ? bare : { ...bare, several };
  const undecided = (why: readonly string[]): Judgement => ({ ...judgement, verdict: 'undecided', reasons: [...why, ...judgement.reasons] });
  if (instead.length > 0) return { ...undecided(instead.map(({ message }) => message)), levelVerdict: 'undecided', isUnfit: true };
  if (judgement.dropouts.length === 0) return judgement;
  const isSteadyFailure = judgement.verdict === 'fail';
  if (rig.state === 'loose' && !isSteadyFailure) return undecided([rig.message]);
  if (source !== null && source.together > 0 && source.alone + source.blind === 0 && !isSteadyFailure) return undecided([source.message]);
  const place = several?.places[0];
  if (several !== null && place !== undefined && place.place.kind !== 'between' && place.chance >= FOUND_CHANCE && !isSteadyFailure) return undecided([several.message]);
  const remarks = [
    ...(several === null ? [] : [several.message]),
    ...(source === null || source.message === '' ? [] : [source.message]),
    ...(['unproved', 'again', 'loose'].includes(rig.state) ? [rig.message] : []),
  ];
  const [decisive, ...rest] = judgement.reasons;
  return remarks.length === 0 ? judgement : { ...judgement, reasons: [...(decisive === undefined ? [] : [decisive]), ...remarks, ...rest] };
}
