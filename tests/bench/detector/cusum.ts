/** The tabular CUSUM of the textbooks: two sums of what goes beyond the mean by more than half the shift sought (k), an alarm beyond h. */
export class TabularCusum {
  high = 0;
  low = 0;
  readonly #k: number;

  constructor(k = 0.5) {
    this.#k = k;
  }

  /** @param up  distance from the mean upwards, in deviations @param down  downwards; 0 or less keeps that side at rest */
  add(up: number, down: number): void {
    this.high = Math.min(1e12, Math.max(0, this.high + up - this.#k));
    this.low = Math.max(0, this.low + down - this.#k);
  }

  isBeyond(h: number): boolean {
    return this.high > h || this.low > h;
  }

  restart(): void {
    this.high = 0;
    this.low = 0;
  }
}
