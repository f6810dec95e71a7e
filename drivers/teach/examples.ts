/** What teaching starts from, and what it comes to. Pure. */
import type { FrameLayout } from '../decoders/frame-layout.ts';

/** One frame as captured, and what the display showed then, as the user typed it. */
export interface TeachExample {
  readonly frame: Uint8Array;
  /** E.g. "-12.34 mV DC" or "OL kOhm"; the unit may be left out. */
  readonly shown: string;
}

export type Taught =
  | {
    readonly kind: 'taught';
    readonly layout: FrameLayout;
    /** What the examples could not tell, each with the value to show for it. */
    readonly undetermined: readonly string[];
  }
  | {
    /** Several layouts fit the examples and disagree about other captured frames. */
    readonly kind: 'ambiguous';
    /** How many ways of reading are left. */
    readonly ways: number;
    /** The captured frame to type the displayed value for next. */
    readonly ask: { readonly frame: Uint8Array; readonly couldBe: readonly string[] };
  }
  | { readonly kind: 'failed'; readonly why: string };
