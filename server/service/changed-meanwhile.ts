/** The refusal that keeps one person's edit from silently overwriting another's. */
import { RequestRefused } from '../live/index.ts';

/** @param what  e.g. "chart" */
export function changedMeanwhile(what: string): RequestRefused {
  return new RequestRefused('CHANGED_MEANWHILE', `Somebody else changed the ${what} meanwhile: look at it as it is now, then make your change again.`);
}
