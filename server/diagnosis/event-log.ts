/** The events of a take, and what a departure that has returned turns out to be. */
import { AveragingLearner } from './averaging-learner.ts';
import { depthOfInterest, readsNothing } from './check-traits.ts';
import type { Departure } from './departure.ts';
import type { EntryThreshold } from './entry-threshold.ts';
import type { Gap, JudgeSetup, Sag, Shift } from './judgement.ts';
import { leadsBack } from './loads-off.ts';
import { NewestList } from './newest-list.ts';
import { normalQuantile } from './normal.ts';
import type { Pace } from './pace.ts';
import { UNSETTLED } from './range-watch.ts';
import type { RangeWatch } from './range-watch.ts';
import type { SampleTally } from './sample-tally.ts';
import type { SweepWatch } from './sweep-watch.ts';
import type { TailLearner } from './tail-learner.ts';

const KEPT = 5000;

/** Mean of the farthest of n normal values, in deviations (Blom 1958). */
const farthestOf = (n: number): number => normalQuantile((n - 0.375) / (n + 0.25));

/** A finished departure that may be a dropout: the noise learned later still decides. */
export interface Candidate {
  readonly departure: Departure;
  readonly start: number;
  readonly end: number;
}

export interface EventLogParts {
  readonly setup: JudgeSetup;
  readonly tally: SampleTally;
  readonly pace: Pace;
  readonly threshold: EntryThreshold;
  readonly tail: TailLearner;
  readonly ranges: RangeWatch;
  readonly sweep: SweepWatch | null;
}

export class EventLog {
  readonly #parts: EventLogParts;
  readonly candidates = new NewestList<Candidate>(KEPT, (candidate) => this.isReal(candidate.departure));
  readonly sags = new NewestList<Sag>(KEPT);
  readonly shifts = new NewestList<Shift>(KEPT);
  readonly gaps = new NewestList<Gap>(KEPT);
  /** How the meter averages, as the dropouts tell. */
  readonly averaging = new AveragingLearner();
  /** Range changes that looked like dropouts. */
  rangeChanges = 0;

  constructor(parts: EventLogParts) { this.#parts = parts; }

  addGap(start: number, end: number): void {
    this.gaps.add({ start, end });
    this.#parts.tally.gapTime += end - start;
  }

  /** @param from  SI; NaN and infinities stand for over-range, as in `to` */
  addShift(at: number, from: number, to: number): void {
    this.shifts.add({ at, from: Number.isFinite(from) ? from : null, to: Number.isFinite(to) ? to : null });
  }

  /** Files a departure that has returned and can't be merged any more. */
  file(departure: Departure): void {
    const { pace, ranges, tail, threshold } = this.#parts;
    if (departure.readings <= UNSETTLED && !departure.overRange && ranges.hasLeft(departure.rangeBefore)) {
      // The level is what it was, in another range: a range hunt that nobody marked.
      departure.isWithdrawn = true;
      this.rangeChanges++;
      this.addGap(departure.first - pace.interval, departure.last);
      return;
    }
    const outcome = this.classify(departure);
    if (threshold.direction === 0 && departure.readings < 2 && !departure.alternates && Number.isFinite(departure.peak) && !this.#isOpen(departure)) {
      // Both ways are bad: one reading by itself may be noise, and then it says how far noise goes the other way.
      tail.add(departure.peakChange > 0 ? 1 : 0, departure.peak / departure.noise);
    }
    if (outcome === null) return;
    if ('departure' in outcome) {
      this.candidates.add(outcome);
      this.averaging.add(departure, pace.interval);
    } else this.sags.add(outcome);
  }

  /** Dropouts so far: those that stand out from all noise seen. @param pending  have returned, and may still become something else */
  dropouts(pending: readonly Departure[]): Candidate[] {
    const listed = this.candidates.items().filter((candidate) => this.isReal(candidate.departure));
    for (const departure of pending) {
      const last = this.classify(departure);
      if (last !== null && 'departure' in last && this.isReal(last.departure)) listed.push(last);
    }
    return listed;
  }

  /** Shallowest plateau that counts as a dropout, SI. */
  depthAt(level: number): number { return this.#parts.setup.depth ?? depthOfInterest(this.#parts.tally.quantity ?? 'voltage', level); }

  /** Size that a departure up (> 0) or down needs to be listed, as all noise and movement seen by now show, SI. @param noise  s when it left */
  leastListed(change: number, noise: number): number { return Math.max(noise * this.#parts.threshold.zOf(change), this.#parts.sweep?.motion ?? 0); }

  /** False for a departure that, as the noise learned since shows, was no more than noise. */
  isReal(departure: Departure): boolean {
    if (departure.isWithdrawn) return false;
    // One that reads nothing is what it looks like, however far interference once went the other way.
    if (this.#parts.sweep === null && this.#isOpen(departure)) return departure.peak >= departure.noiseAround * this.#parts.threshold.zWithoutTails;
    return !(Math.min(departure.peak, departure.edge) < this.leastListed(departure.peakChange, departure.noiseAround));
  }

  /** True for a departure to zero, where an open circuit takes a supply or a current. */
  #isOpen({ level, peakChange, noise, threshold }: Departure): boolean {
    return readsNothing(level + peakChange, level, noise, threshold);
  }

  /** Time at which the signal left: within the first reading by the part of it that was away, or in the dead time before. */
  startOf(away: Departure): number {
    const { interval } = this.#parts.pace;
    const aperture = Math.min(this.#parts.setup.aperture ?? interval, interval);
    const part = away.firstPart;
    if (away.readings < 2) return away.first - aperture / 2 - (interval - aperture) / 4;
    return part > 0.95 ? away.first - (interval + aperture) / 2 : away.first - part * aperture;
  }

  /** What a departure that has returned is; null when it was interference, which goes both ways. */
  classify(departure: Departure): Candidate | Sag | null {
    const start = this.startOf(departure);
    if (departure.fromOverRange) return this.#classifyClosing(departure, start);
    const isNoise = departure.opposite > 0.5 * departure.peak && !(departure.peak > 0.5 * Math.abs(departure.level) && Math.abs(departure.level) > 10 * departure.threshold);
    if (isNoise) return null;
    if (departure.isWithdrawn) return null;
    // A load that went off beside a shared ground has lowered the drop; its coming back is no dropout, however deep against the lower level.
    // One that has stood, and was not followed, stood elsewhere.
    const isBack = !departure.hasStood && leadsBack(departure.waysBack, departure.peak) !== undefined;
    const depth = departure.peak - departure.noise * farthestOf(departure.readings);
    const isShallow = depth < this.depthAt(departure.level) || isBack;
    if (isShallow && departure.isPlateau && !departure.overRange) {
      return { start, end: departure.last, depth: departure.peakChange };
    }
    return { departure, start, end: Math.max(departure.last, start) };
  }

  /** A short check whose over-range level closed for a moment. */
  #classifyClosing(departure: Departure, start: number): Candidate | Sag {
    const low = this.#parts.setup.limits.low;
    if (departure.readings >= 3 && low !== null && departure.peakChange > low) return { start, end: departure.last, depth: null };
    return { departure, start, end: Math.max(departure.last, start) };
  }
}
