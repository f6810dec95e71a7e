/** When a reading has settled, and to what. Works at two readings a second and at a hundred thousand. */
import type { Coupling } from '../../drivers/reading.ts';
import type { SteadyReading } from './judgement.ts';
import { NewestList } from './newest-list.ts';
import { inOrder } from './noise-scale.ts';

/** Readings closer than this are taken together, s. */
const BLOCK = 0.025;
/** Shortest time that must look settled, s; and at least four readings. */
const LEAST_TIME = 0.3;
const LEAST_BLOCKS = 4;
const MOST_BLOCKS = 48;
/** Newest blocks that show how they scatter. */
const LOOKED = 12;
const KEPT = 500;

/** A steady reading with what its accuracy depends on. */
export interface SteadyStretch extends SteadyReading {
  readonly readings: number;
  /** Value of one count, the coarsest of its readings, SI; 0 when not known. */
  readonly count: number;
  readonly coupling: Coupling;
}

/** Scatter from block to block, whatever the trend, and the tolerance for the mean. */
interface Look { readonly tolerance: number; readonly scatter: number }

interface Stretch { start: number; end: number; n: number; mean: number; squares: number; strays: number; count: number; coupling: Coupling }

/**
 * Watches for steady stretches: a window of readings whose range is within a few counts or the noise, and whose trend is not
 * significant or within a count and a half. A stretch then grows until it is broken or the reading leaves its mean.
 */
export class SteadinessWatch {
  readonly #kept = new NewestList<SteadyStretch>(KEPT);
  readonly #times = new Float64Array(MOST_BLOCKS);
  readonly #means = new Float64Array(MOST_BLOCKS);
  readonly #differences = new Float64Array(LOOKED - 1);
  #filled = 0;
  #stretch: Stretch | null = null;
  // The block being filled.
  #start = 0;
  #n = 0;
  #sum = 0;
  #squares = 0;
  #count = 0;
  /** The coarsest of the block that is being gathered. */
  #blockCount = 0;
  /** Coupling of the readings that come. */
  coupling: Coupling = 'none';
  #interval = 0;
  /** Leads are held by hand: a stretch of scattered readings may be a lead that scratches about, and ends as soon as it rests. */
  isTouching = false;
  #rest = { mean: 0, since: 0 };

  /** @param count  value of one count, SI, 0 when unknown @param interval  s */
  setMeter(count: number, interval: number): void {
    this.#count = count > 0 ? count : 0;
    this.#interval = interval > 0 ? interval : 0;
  }

  /** Steady stretch at the moment; null while the reading moves. */
  get current(): SteadyStretch | null { return this.#stretch === null ? null : finished(this.#stretch); }
  /** Stretches so far, the running one last; the newest 500. */
  stretches(): SteadyStretch[] {
    const all = [...this.#kept.items()];
    if (this.#stretch !== null) all.push(finished(this.#stretch));
    return all;
  }
  /** The reading left its level, or data were lost: what comes is a new stretch. @returns the stretch that ended */
  break(): SteadyStretch | null {
    const stretch = this.#stretch;
    this.#stretch = null;
    this.#filled = 0;
    this.#n = 0;
    if (stretch === null) return null;
    const steady = finished(stretch);
    this.#kept.add(steady);
    return steady;
  }

  /**
   * @param end  time of the last of these readings, s @param n  how many @param mean  their mean, SI
   * @param squares  sum of squared differences from that mean
   * @returns a stretch that ended because the reading left its mean
   */
  add(end: number, n: number, mean: number, squares: number): SteadyStretch | null {
    if (this.#n === 0) {
      this.#start = end - n * this.#interval;
      this.#blockCount = 0;
      this.#sum = 0;
      this.#squares = 0;
    }
    const before = this.#n === 0 ? mean : this.#sum / this.#n;
    const all = this.#n + n;
    // Of the stretch only when the block turns out to belong to it: what ends it may be shown on a far coarser range.
    this.#blockCount = Math.max(this.#blockCount, this.#count);
    this.#squares += squares + ((mean - before) ** 2 * this.#n * n) / all;
    this.#sum += n * mean;
    this.#n = all;
    if (end - this.#start < BLOCK - 1e-9 && this.#interval < BLOCK) return null;
    return this.#endBlock(end);
  }

  #endBlock(end: number): SteadyStretch | null {
    const n = this.#n;
    const mean = this.#sum / n;
    const squares = this.#squares;
    const start = this.#start;
    this.#n = 0;
    const stretch = this.#stretch;
    if (stretch === null) {
      this.#times.copyWithin(0, 1);
      this.#means.copyWithin(0, 1);
      this.#times[MOST_BLOCKS - 1] = end;
      this.#means[MOST_BLOCKS - 1] = mean;
      if (this.#filled < MOST_BLOCKS) this.#filled++;
      const window = this.#settledWindow();
      if (window > 0) this.#open(window, end, end - start, n, squares);
      return null;
    }
    const off = Math.abs(mean - stretch.mean);
    // The last is worked out only where the others don't tell.
    if (off > 3 * this.#count && off > 0.005 * Math.abs(stretch.mean) && off > (6 * spreadOf(stretch)) / Math.sqrt(Math.max(1, Math.min(n, 4)))) {
      stretch.strays++;
      // One stray block may be noise; two are a departure.
      if (stretch.strays < 2) return null;
      const ended = this.break();
      return ended;
    }
    stretch.strays = 0;
    if (this.isTouching && spreadOf(stretch) > 4 * this.#restTolerance(mean) && this.#hasComeToRest(start, end, n, mean, squares)) {
      this.break();
      return null;
    }
    join(stretch, n, mean, squares);
    stretch.count = Math.max(stretch.count, this.#blockCount);
    stretch.end = end;
    return null;
  }

  /** How far readings of a lead that rests are apart: what the display or half a percent allows. */
  #restTolerance(mean: number): number {
    return Math.max(3 * this.#count, 0.005 * Math.abs(mean));
  }

  /** Whether the newest blocks rest, inside and from one to the next, for as long as a new stretch needs. */
  #hasComeToRest(start: number, end: number, n: number, mean: number, squares: number): boolean {
    const tolerance = this.#restTolerance(mean);
    const isInside = n < 2 || Math.sqrt(squares / (n - 1)) <= tolerance;
    if (!isInside || Math.abs(mean - this.#rest.mean) > tolerance) this.#rest = { mean, since: isInside ? start : end };
    return end - this.#rest.since >= Math.max(LEAST_TIME, LEAST_BLOCKS * this.#interval);
  }

  #open(window: number, end: number, blockTime: number, n: number, squares: number): void {
    const first = MOST_BLOCKS - window;
    const stretch: Stretch = { start: (this.#times[first] as number) - blockTime, end, n: 0, mean: 0, squares: 0, strays: 0, count: this.#count, coupling: this.coupling };
    for (let i = first; i < MOST_BLOCKS; i++) join(stretch, n, this.#means[i] as number, squares);
    this.#stretch = stretch;
  }

  /** Blocks of the newest window that is settled; 0 when there is none. */
  #settledWindow(): number {
    const blockTime = Math.max(this.#interval, BLOCK);
    const least = Math.max(LEAST_BLOCKS, Math.ceil(LEAST_TIME / blockTime));
    if (this.#filled < least) return 0;
    // A noisy reading needs a longer look: until its mean is known to within the tolerance, or the memory is full.
    const looked = Math.min(this.#filled, LOOKED);
    const look = this.#look(looked);
    const { tolerance, scatter } = look;
    const needed = Math.min(MOST_BLOCKS / 3, Math.ceil((2 * scatter / tolerance) ** 2));
    const window = Math.max(least, Number.isFinite(needed) ? needed : least);
    if (this.#filled < window) return 0;
    return this.#isSettled(window, window < looked ? this.#look(window) : look) ? window : 0;
  }

  /** @param window  newest blocks, 2 to `LOOKED` */
  #look(window: number): Look {
    const n = window - 1;
    const differences = this.#differences;
    for (let i = 0; i < n; i++) {
      const at = MOST_BLOCKS - window + i;
      differences[i] = (this.#means[at + 1] as number) - (this.#means[at] as number);
    }
    const middle = inOrder(differences, n, n >> 1);
    for (let i = 0; i < n; i++) differences[i] = Math.abs((differences[i] as number) - middle);
    const scatter = (1.4826 * inOrder(differences, n, n >> 1)) / Math.SQRT2;
    const newest = this.#means[MOST_BLOCKS - 1] as number;
    return { tolerance: Math.max(1.5 * this.#count, 0.001 * Math.abs(newest), 1e-300), scatter };
  }

  #isSettled(window: number, { tolerance, scatter }: Look): boolean {
    const first = MOST_BLOCKS - window;
    let low = Infinity;
    let high = -Infinity;
    let sumX = 0;
    let sumY = 0;
    const originX = this.#times[first] as number;
    const originY = this.#means[first] as number;
    for (let i = first; i < MOST_BLOCKS; i++) {
      const y = this.#means[i] as number;
      if (y < low) low = y;
      if (y > high) high = y;
      sumX += (this.#times[i] as number) - originX;
      sumY += y - originY;
    }
    if (high - low > Math.max(3 * this.#count, 2 * tolerance, 7 * scatter)) return false;
    const meanX = sumX / window;
    const meanY = sumY / window;
    let xx = 0;
    let xy = 0;
    let yy = 0;
    for (let i = first; i < MOST_BLOCKS; i++) {
      const x = (this.#times[i] as number) - originX - meanX;
      const y = (this.#means[i] as number) - originY - meanY;
      xx += x * x;
      xy += x * y;
      yy += y * y;
    }
    const slope = xx > 0 ? xy / xx : 0;
    const change = Math.abs(slope) * ((this.#times[MOST_BLOCKS - 1] as number) - originX);
    if (change <= tolerance) return true;
    const residual = Math.sqrt(Math.max(0, yy - slope * xy) / Math.max(1, window - 2));
    return Math.abs(slope) * Math.sqrt(xx) < 2.5 * residual;
  }
}

function join(stretch: Stretch, n: number, mean: number, squares: number): void {
  const all = stretch.n + n;
  const off = mean - stretch.mean;
  stretch.squares += squares + (off * off * stretch.n * n) / all;
  stretch.mean += (off * n) / all;
  stretch.n = all;
}

function spreadOf({ squares, n }: Stretch): number { return Math.sqrt(squares / Math.max(1, n - 1)); }

function finished(stretch: Stretch): SteadyStretch {
  return { start: stretch.start, end: stretch.end, value: stretch.mean, spread: spreadOf(stretch), readings: stretch.n, count: stretch.count, coupling: stretch.coupling };
}
