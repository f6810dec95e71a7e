/** From ended takes to the readings that a case is located by: levels, and what flexing showed, zone by zone. */
import type { Quantity } from '../../drivers/reading.ts';
import { accuracyAt } from '../diagnosis/range-accuracy.ts';
import type { Chart } from './chart.ts';
import type { CaseReading } from './locate-case.ts';
import type { MeterRecord, TakeSummary } from './session.ts';

/** Flexes a second where nobody counted them (common practice, no source). */
const FLEXES_PER_SECOND = 1;
/** Two readings of one place are the same when they differ by less than this part: batteries sag (common practice, no source). */
const ALIKE = 0.05;

/**
 * @param takes  of one standing of the circuit: all before a repair, or all after it
 * @param isKnown  whether a check of this id belongs to the circuit; others go by their leads
 */
export function caseReadings(takes: readonly TakeSummary[], meters: readonly MeterRecord[], chart: Chart, isKnown: (check: string) => boolean): CaseReading[] {
  const inOrder = [...takes].sort((left, right) => left.start - right.start);
  return inOrder.flatMap((take, order) => {
    const level = levelOf(take);
    if (level === undefined) return [];
    const { check } = take;
    // A spot take that was made again counts as it was the last time; that it was read alike before speaks for it.
    if (take.watching === 'spot' && inOrder.slice(order + 1).some((later) => isSpotAgain(later, take))) return [];
    const earlier = take.watching === 'spot' ? inOrder.slice(0, order).filter((own) => isSpotAgain(own, take)) : [];
    const quantity = take.judgement.quantity === 'resistance' ? 'resistance' as const : 'voltage' as const;
    const uncertainty = uncertaintyOf(take, level, meters.find((meter) => meter.index === take.meter));
    const repeats = earlier.filter((own) => isAlike(levelOf(own) as number | null, level, uncertainty)).length;
    const base: CaseReading = {
      ...(isKnown(check.id) ? { check: check.id } : { kind: check.kind, red: check.red, black: check.black, ...(check.arrangement === undefined ? {} : { removed: check.arrangement.removed, unplugged: check.arrangement.unplugged }) }),
      value: level, quantity, ...(uncertainty === null ? {} : { uncertainty }), ...(check.lamp === true ? { lamp: true } : {}), ...(repeats > 0 ? { repeats } : {}), take: take.id,
    };
    return take.watching === 'spot' ? [base] : flexings(take, chart).map((flexing) => (flexing === null ? base : { ...base, flexing }));
  });
}

function isSpotAgain(own: TakeSummary, of: TakeSummary): boolean {
  return own.watching === 'spot' && own.check.id === of.check.id && own.check.red === of.check.red && own.check.black === of.check.black && levelOf(own) !== undefined;
}

function isAlike(first: number | null, second: number | null, uncertainty: number | null): boolean {
  if (first === null || second === null) return first === second;
  return Math.abs(first - second) < Math.max(ALIKE * Math.abs(second), 4 * (uncertainty ?? 0));
}

/** SI; null for over-range; undefined where the take tells no level, was made without the state that its check asks for, or of readings that can't be what it asks for. */
function levelOf({ judgement, check, account, watching }: TakeSummary): number | null | undefined {
  if (account !== undefined && check.condition !== '' && account.condition !== check.condition && judgement.levelVerdict === 'undecided') return undefined;
  if (judgement.isUnfit === true) return undefined;
  if (judgement.quantity !== 'voltage' && judgement.quantity !== 'resistance') return undefined;
  if (judgement.levelOverRange) return null;
  // What lifted leads read last is a steady stretch too: in a spot take the level is that of the contact which was judged.
  const last = watching === 'spot' ? undefined : judgement.steady[judgement.steady.length - 1]?.value;
  return last ?? judgement.level ?? undefined;
}

/** Limit of error taken as evenly spread (GUM 4.3.7); null when the meter's accuracy is not known. */
function uncertaintyOf({ judgement }: TakeSummary, level: number | null, meter: MeterRecord | undefined): number | null {
  if (meter === undefined || judgement.resolution === null || level === null) return null;
  const accuracy = accuracyAt(meter, { quantity: judgement.quantity as Quantity, coupling: 'none', value: level, count: judgement.resolution });
  if (accuracy === null) return null;
  const { fraction, counts } = accuracy;
  const error = fraction * Math.abs(level) + counts * judgement.resolution;
  return error > 0 ? error / Math.sqrt(3) : null;
}

/** What was flexed in a take and what it showed; one for each zone where zones were named, null where nothing was flexed. */
function flexings(take: TakeSummary, chart: Chart): (CaseReading['flexing'] | null)[] {
  const { account, judgement } = take;
  const end = take.end ?? take.start + judgement.elapsed;
  const starts = judgement.dropouts.map((dropout) => dropout.start);
  const changes = account?.zoneChanges ?? [];
  const counted = account?.flexes ?? 0;
  if (changes.length === 0) {
    // On the road nobody flexes: what shows counts, silence is the road claim's matter.
    if (take.watching === 'road' && starts.length === 0) return [null];
    const seconds = end - take.start;
    return [{ flexes: Math.max(1, counted > 0 ? counted : take.watching === 'road' ? starts.length : Math.round(seconds * FLEXES_PER_SECOND)), dropouts: starts.length }];
  }
  const zones = new Map<string, { seconds: number; dropouts: number }>();
  let flexed = 0;
  changes.forEach(({ at, zone }, order) => {
    if (zone === null) return;
    const until = changes[order + 1]?.at ?? end;
    const own = zones.get(zone) ?? { seconds: 0, dropouts: 0 };
    flexed += until - at;
    zones.set(zone, { seconds: own.seconds + until - at, dropouts: own.dropouts + starts.filter((start) => start >= at && start < until).length });
  });
  const found = [...zones].flatMap(([zone, { seconds, dropouts }]) => {
    const parts = chart.spans.filter((span) => span.route === zone || span.id === zone).map((span) => span.id);
    const flexes = Math.round(counted > 0 ? (counted * seconds) / flexed : seconds * FLEXES_PER_SECOND);
    return parts.length === 0 || flexes < 1 ? [] : [{ flexes, dropouts, parts }];
  });
  return found.length === 0 ? [null] : found;
}
