/**
 * The lower convex hull of points that come with rising x: the tightest chain of lines that no point lies below.
 * Adding costs constant time on average (A. M. Andrew's monotone chain, 1979); only the corners are kept, which for
 * jittery data are few.
 */
export class LowerHull {
  #x: number[] = [];
  #y: number[] = [];
  #firstX = NaN;

  /** y of the first point added, NaN when there is none. */
  firstTime = NaN;

  /** Distance in x from the first to the last point. */
  get span(): number {
    return this.#x.length === 0 ? 0 : (this.#x.at(-1) as number) - this.#firstX;
  }

  copy(): LowerHull {
    const copy = new LowerHull();
    copy.#x = [...this.#x];
    copy.#y = [...this.#y];
    copy.#firstX = this.#firstX;
    copy.firstTime = this.firstTime;
    return copy;
  }

  /** @param x  greater than every x before */
  add(x: number, y: number): void {
    if (this.#x.length === 0) {
      this.#firstX = x;
      this.firstTime = y;
    }
    const xs = this.#x;
    const ys = this.#y;
    while (xs.length >= 2) {
      const n = xs.length;
      const bx = (xs[n - 1] as number) - (xs[n - 2] as number);
      const by = (ys[n - 1] as number) - (ys[n - 2] as number);
      const cx = x - (xs[n - 2] as number);
      const cy = y - (ys[n - 2] as number);
      // The last corner stays only when it lies below the line from the corner before it to the new point.
      if (bx * cy - by * cx > 0) break;
      xs.pop();
      ys.pop();
    }
    xs.push(x);
    ys.push(y);
  }

  /** Slope of the edge below the middle of all points; undefined with fewer than two points. */
  slope(): number | undefined {
    const right = this.#middleCorner();
    if (right < 1) return undefined;
    const dy = (this.#y[right] as number) - (this.#y[right - 1] as number);
    return dy / ((this.#x[right] as number) - (this.#x[right - 1] as number));
  }

  /**
   * The line with this slope that touches the hull from below, at x. With the hull's own slope it runs along the middle edge.
   * @param slope  from `slope`, or any other guess
   */
  lineAt(x: number, slope: number): number {
    let least = Infinity;
    for (let i = 0; i < this.#x.length; i++) {
      const offset = (this.#y[i] as number) - slope * ((this.#x[i] as number) - x);
      if (offset < least) least = offset;
    }
    return least;
  }

  /** Number of the corner at the right end of the edge below the middle. */
  #middleCorner(): number {
    const last = this.#x.length - 1;
    if (last < 1) return -1;
    const middle = (this.#firstX + (this.#x[last] as number)) / 2;
    for (let i = 1; i < last; i++) if ((this.#x[i] as number) >= middle) return i;
    return last;
  }
}
