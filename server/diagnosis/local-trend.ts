/** The level of a quiet circuit as value and slope, from recent readings, with older ones forgotten gradually. */

/** A block of quiet readings: time of its middle, s, and mean, SI. As a whole, since a call with plain numbers boxes each of them. */
export interface Point { readonly middle: number; readonly mean: number }

/**
 * Discounted least squares: a straight line through all blocks of readings, each weighing `keep` times as much as the next
 * newer one (Brown 1963). Without a significant slope the level is the weighted mean, which scatters less.
 */
export class LocalTrend {
  readonly #keep: number;
  /** Values are kept relative to this one, so that large levels lose no digits. */
  #origin = 0;
  #last = 0;
  // Weighted sums over blocks, x = time before the newest block (<= 0), y = value - origin.
  #w = 0;
  #x = 0;
  #xx = 0;
  #y = 0;
  #xy = 0;
  /** Mean size of what the next block differs from its prediction. */
  #surprise = 0;
  #surprises = 0;
  #slope = 0;
  #value = 0;

  /** Scatter that rounding alone makes, SI. */
  #floor = 0;

  /** @param memory  blocks after which a block has lost most of its weight (> 1) */
  constructor(memory: number) { this.#keep = 1 - 1 / memory; }

  /** Value at the newest block, SI. */
  get value(): number { return this.#origin + this.#value; }
  /** SI per second; 0 while no slope is significant. */
  get slope(): number { return this.#slope; }
  /** Time of the newest block, s. */
  get time(): number { return this.#last; }
  /** Blocks that the level rests on, by weight. */
  get weight(): number { return this.#w; }
  /** Scatter of a block around its prediction (deviation if normal), SI. */
  get surprise(): number { return Math.max(1.2533 * this.#surprise, this.#floor); }
  get surprises(): number { return this.#surprises; }

  /** A display that stands still for long still moves by a count. @param count  value of one count, SI; NaN or 0 when not known */
  setCount(count: number): void { this.#floor = count > 0 ? count / Math.sqrt(12) : 0; }

  /** Begins anew at a level known from some readings. */
  restart(time: number, value: number, weight: number): void {
    this.#origin = value;
    this.#last = time;
    this.#w = weight;
    this.#x = 0;
    this.#xx = 0;
    this.#y = 0;
    this.#xy = 0;
    this.#slope = 0;
    this.#value = 0;
  }

  /** After a pause the old slope says nothing more. */
  forgetSlope(): void {
    const value = this.value;
    this.restart(this.#last, value, Math.min(this.#w, 4));
  }

  predict(time: number): number { return this.#origin + this.#value + this.#slope * (time - this.#last); }

  /** Later than those before. */
  add({ middle: time, mean: value }: Point): void {
    const dt = time - this.#last;
    const y = value - this.#origin;
    const off = Math.abs(y - this.#value - this.#slope * dt);
    this.#surprises++;
    this.#surprise += (off - this.#surprise) / Math.min(this.#surprises, 24);
    const keep = this.#keep;
    this.#xx = keep * (this.#xx - 2 * dt * this.#x + dt * dt * this.#w);
    this.#x = keep * (this.#x - dt * this.#w);
    this.#xy = keep * (this.#xy - dt * this.#y);
    this.#w = keep * this.#w + 1;
    this.#y = keep * this.#y + y;
    this.#last = time;
    const mean = this.#y / this.#w;
    const spread = this.#xx - (this.#x * this.#x) / this.#w;
    this.#slope = 0;
    this.#value = mean;
    if (this.#w < 3 || spread <= 0) return;
    const slope = (this.#xy - (this.#x * this.#y) / this.#w) / spread;
    // With exponential weights the variance of the slope is close to s^2 / (4 spread).
    if (Math.abs(slope) * 2 * Math.sqrt(spread) <= SIGNIFICANT * this.surprise) return;
    this.#slope = slope;
    this.#value = mean - (slope * this.#x) / this.#w;
  }
}

/** Deviations by which a slope must differ from 0 to be followed; high, since neighbouring blocks may be correlated. */
const SIGNIFICANT = 4;
