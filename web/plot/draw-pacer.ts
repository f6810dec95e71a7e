/**
 * How often a running trace is drawn: with every frame of the screen while that is cheap, less often where drawing takes its time, so that the
 * page stays free for what must not wait: the chirp, the figures, a tap. Pure: the caller brings the time.
 */

/** Drawing takes at most this part of the page's time. */
const SHARE = 0.3;
/** And is never rarer than this for its cost alone, ms: a trace that stands still looks like silence. */
const RAREST_MS = 250;

export class DrawPacer {
  #free = -Infinity;

  /** @param now  page clock, ms */
  isDue(now: number): boolean {
    return now >= this.#free;
  }

  /** A picture was drawn. @param began  page clock, ms @param ended  the same */
  drew(began: number, ended: number): void {
    const cost = ended - began;
    this.#free = ended + Math.min(RAREST_MS, (cost / SHARE) - cost);
  }
}
