/** Ended takes with what matters to proof and report filled in, the rest as a quiet take has it. */
import type { Claim, Judgement, Verdict } from '../../server/diagnosis/judgement.ts';
import type { Check, TakeSummary } from '../../server/session/session.ts';
import type { TakeAccount } from '../../server/session/take-account.ts';

export interface TakeSketch {
  readonly id: number;
  readonly check: Check;
  readonly start: number;
  readonly verdict: Verdict;
  readonly watching?: TakeSummary['watching'];
  readonly dropouts?: number;
  readonly elapsed?: number;
  readonly value?: number;
  readonly reason?: string;
  readonly account?: Partial<TakeAccount>;
  readonly claim?: Claim;
}

export function takeOf({ id, check, start, verdict, watching = 'wiggle', dropouts = 0, elapsed = 60, value = 0.2, reason = '', account, claim }: TakeSketch): TakeSummary {
  const judgement: Judgement = {
    algorithm: '1', quantity: 'voltage', unit: 'V', samples: elapsed * 10, elapsed, interval: 0.1, aperture: 0.1, noise: 0.001, resolution: 0.001, level: value, levelOverRange: false, threshold: 0.01,
    steady: [{ start: start + 1, end: start + elapsed, value, spread: 0.001 }],
    dropouts: Array.from({ length: dropouts }, (_, order) => ({ start: start + 2 + 5 * order, end: start + 2.1 + 5 * order, count: 1, depth: 12, overRange: false, duration: { estimate: 0.1, low: 0.02, high: 0.2 } })),
    sags: [], shifts: [], gaps: [], verdict, levelVerdict: verdict === 'fail' ? 'fail' : 'pass', reasons: reason === '' ? [] : [reason], shortestVisibleDropout: 0.0004, sureDropout: 0.1, rateLimitPerHour: null,
  };
  return {
    id, check, watching, meter: 0, start, end: start + elapsed, ending: 'stopped', samples: elapsed * 10, verdict, judgement,
    ...(claim === undefined ? {} : { claim }),
    ...(account === undefined ? {} : { account: { proofs: [], provingSince: null, zoneChanges: [], provocations: [], flexes: 0, flexing: null, condition: '', ...account } }),
  };
}
