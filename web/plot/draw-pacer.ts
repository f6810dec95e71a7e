/**
 * How often a running trace is drawn: with every frame of the screen while that is cheap, less often where drawing takes its time, so that the
 * page stays free for what must not wait: the chirp, the figures, a tap. What a picture costs is not only the page's own work: the browser
 * paints after it, which shows as a late frame. Pure: the caller brings the time.
 */

/** Drawing takes at most this part of the time. */
const SHARE = 0.3;
/** And is never rarer than this for its cost alone, ms: a trace that stands still looks like silence. */
const RAREST_MS = 250;
/** A frame of a screen at 60 Hz, ms, and one that waited for the picture before it. */
const FRAME_MS = 1000 / 60;
const LATE_MS = 1.5 * FRAME_MS;

export class DrawPacer {
  #drawn: { readonly began: number; readonly ended: number } | null = null;
  #free = -Infinity;

  /** Asked at every frame of the screen. @param now  page clock, ms */
  isDue(now: number): boolean {
    if (this.#drawn !== null) {
      const { began, ended } = this.#drawn;
      const cost = now - began > LATE_MS ? now - began : ended - began;
      // To the frame before: screens are a little uneven.
      this.#free = began + Math.min(RAREST_MS, cost / SHARE) - FRAME_MS;
      this.#drawn = null;
    }
    return now >= this.#free;
  }

  /** A picture was drawn. @param began  page clock, ms @param ended  the same */
  drew(began: number, ended: number): void {
    this.#drawn = { began, ended };
  }
}
