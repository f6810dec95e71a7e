/** A spot take: only contacts and what they read. A departure ends the contact, and is no dropout. */
import type { Watching, WatchParts } from './watching.ts';

export class ContactWatch implements Watching {
  readonly #parts: WatchParts;
  /** Over-range readings in a row up to now. */
  overRangeRun = 0;
  readonly level = Number.NaN;
  readonly isOverRange = false;
  readonly away = null;
  readonly awayValue = Number.NaN;
  readonly pending = null;
  readonly plateau = null;
  readonly onTrial = [];
  readonly isLearning = false;

  constructor(parts: WatchParts) {
    this.#parts = parts;
    parts.steadiness.isTouching = true;
  }

  renewThreshold(): void { /* There is no level to leave. */ }
  pause(): void { /* A gap ends the contact, which the steadiness knows. */ }
  /** Over-range ends the contact by itself. */
  openAt(): boolean { return true; }

  watch(time: number, value: number, over: boolean): void {
    const { steadiness } = this.#parts;
    if (!over) {
      this.overRangeRun = 0;
      steadiness.add(time, 1, value, 0);
      return;
    }
    this.overRangeRun++;
    steadiness.break();
  }
}
