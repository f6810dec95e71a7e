/** Seeded random numbers for signals and simulations: the same seed gives the same stream on every machine. */

/** Shapes of noise. All have the standard deviation 1 except `student`, whose MAD is that of a standard normal. */
export type NoiseShape =
  | { readonly shape: 'gauss' }
  | { readonly shape: 'laplace' }
  | { readonly shape: 'student'; readonly freedom: number }
  /** Normal, but a fraction of the values is `factor` times as wide: occasional disturbed readings. */
  | { readonly shape: 'contaminated'; readonly fraction: number; readonly factor: number };

export class Random {
  readonly seed: number;
  #a: number;
  #b: number;
  #c: number;
  #counter = 1;
  #spare = Number.NaN;

  constructor(seed: number) {
    this.seed = seed >>> 0;
    // splitmix32 spreads the seed over the state, so that neighbouring seeds are unrelated.
    let x = this.seed;
    const mix = (): number => {
      x = (x + 0x9e3779b9) | 0;
      let z = x ^ (x >>> 16);
      z = Math.imul(z, 0x21f0aaad);
      z ^= z >>> 15;
      z = Math.imul(z, 0x735a2d97);
      return (z ^ (z >>> 15)) | 0;
    };
    this.#a = mix();
    this.#b = mix();
    this.#c = mix();
    for (let i = 0; i < 12; i++) this.#next();
  }

  /** sfc32 (Chris Doty-Humphrey, public domain). */
  #next(): number {
    const t = (((this.#a + this.#b) | 0) + this.#counter) | 0;
    this.#counter = (this.#counter + 1) | 0;
    this.#a = this.#b ^ (this.#b >>> 9);
    this.#b = (this.#c + (this.#c << 3)) | 0;
    this.#c = (this.#c << 21) | (this.#c >>> 11);
    this.#c = (this.#c + t) | 0;
    return t >>> 0;
  }

  /** An independent generator for a part of a simulation. */
  fork(): Random { return new Random(this.#next()); }
  /** Uniform in (0, 1). */
  uniform(): number { return (this.#next() + 0.5) / 4294967296; }
  between(low: number, high: number): number { return low + (high - low) * this.uniform(); }
  /** Log-uniform: every decade is equally likely. */
  logBetween(low: number, high: number): number { return low * Math.exp(Math.log(high / low) * this.uniform()); }
  integer(low: number, high: number): number { return Math.floor(this.between(low, high + 1)); }
  chance(p: number): boolean { return this.uniform() < p; }
  pick<T>(items: readonly T[]): T { return items[Math.floor(this.uniform() * items.length)] as T; }
  /** Waiting time with the mean given. */
  exponential(mean: number): number { return -mean * Math.log(this.uniform()); }

  gauss(): number {
    if (this.#spare === this.#spare) {
      const spare = this.#spare;
      this.#spare = Number.NaN;
      return spare;
    }
    const radius = Math.sqrt(-2 * Math.log(this.uniform()));
    const angle = 2 * Math.PI * this.uniform();
    this.#spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  }

  noise(noise: NoiseShape): number {
    switch (noise.shape) {
      case 'gauss': return this.gauss();
      case 'laplace': {
        const u = this.uniform() - 0.5;
        return (-Math.sign(u) * Math.log(1 - 2 * Math.abs(u))) / Math.SQRT2;
      }
      case 'student': {
        // Bailey's polar form: one value of Student's t from two uniforms.
        const u = this.uniform();
        const v = this.uniform();
        const t = Math.sqrt(noise.freedom * (u ** (-2 / noise.freedom) - 1)) * Math.cos(2 * Math.PI * v);
        return t * STUDENT_SCALE(noise.freedom);
      }
      case 'contaminated': return this.gauss() * (this.uniform() < noise.fraction ? noise.factor : 1);
    }
  }
}

/** Brings the median absolute value of Student's t to 0.6745; a fit that is within 1 % from 2.5 degrees of freedom up. */
const STUDENT_SCALE = (freedom: number): number => 1 / (1 + 0.3 / freedom + 0.27 / freedom ** 2);
