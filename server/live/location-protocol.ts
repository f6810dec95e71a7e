/** What service and dashboards say to each other about the search for the fault. Types only, shared with the browser. */
import type { CircuitState } from '../session/candidates.ts';
import type { DistanceReadings } from '../session/case-distance.ts';
import type { Caution } from '../session/cautions.ts';
import type { FaultSearch, SearchResult } from '../session/fault-search.ts';

export interface LiveLocation {
  /** no-chart: nothing to search on; asleep: nothing to go by yet, and nobody asked; working: being worked out, `result` is what was known before; failed: see the message. */
  readonly state: 'no-chart' | 'asleep' | 'working' | 'done' | 'failed';
  readonly message: string;
  readonly search: FaultSearch;
  /** Session clock, s, of the last repair: only takes since then count. Null when none is noted. */
  readonly repairedAt: number | null;
  readonly result: SearchResult | null;
  /** Before a current is driven through a wire. */
  readonly caution: Caution & { readonly isAcknowledged: boolean };
}

export type LocationRequest =
  /** Someone looks for the fault: it is worked out even when nothing was read yet. The answer comes as a `located` message. */
  | { readonly type: 'locate' }
  /** The circuit to search; null: chosen by the takes. */
  | { readonly type: 'locate-in'; readonly circuit: string | null }
  /** A load works, fails (now or sometimes), or nothing is known of it. */
  | { readonly type: 'say-load'; readonly load: string; readonly works: boolean | null }
  | { readonly type: 'say-panel'; readonly panel: string; readonly isOff: boolean }
  /** What the circuit has been put into by hand. */
  | { readonly type: 'say-state'; readonly state: CircuitState }
  /** What was read for the place along the wire; null: forget it. Refused with BAD_DISTANCE. */
  | { readonly type: 'read-distance'; readonly distance: DistanceReadings | null };
