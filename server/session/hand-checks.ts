/** Checks for when there is no chart yet: one of each kind, the leads named by the operator. Pure. */
import { CHECK_KINDS, type CheckKind } from '../diagnosis/judgement.ts';
import { defaultLimits } from './limits.ts';
import type { SystemVoltage } from './limits.ts';
import type { Check } from './session.ts';

const DEAD = 'circuit dead and isolated';
const LOADED = 'load on';

/** The state that a check made by hand asks for; common practice, no source. */
const CONDITIONS: Record<CheckKind, string> = {
  supply: LOADED,
  'switched-supply': `switched on, ${LOADED}`,
  ground: LOADED,
  fuse: LOADED,
  'short-to-ground': `${DEAD}, both ends and all loads off`,
  'short-to-supply': 'wire isolated, neighbours live',
  'short-between': `${DEAD}, both ends and all loads off`,
  continuity: `${DEAD}, leads nulled`,
  'voltage-drop': 'working current flowing',
  resistance: `${DEAD}, temperature noted`,
  current: LOADED,
  'sensor-sweep': 'sensor supplied, moved slowly by hand',
};

/**
 * One check of each kind with common-practice limits and no points yet.
 * @param systemVoltage  nominal, V
 */
export function checksByHand(systemVoltage: SystemVoltage): Check[] {
  return CHECK_KINDS.map((kind) => {
    const { limits, basis } = defaultLimits(kind, systemVoltage);
    return {
      id: `by hand ${kind}`, kind, red: '', black: '', limits, limitsBasis: basis, condition: CONDITIONS[kind], instructions: [], cautions: [], supply: systemVoltage,
    };
  });
}
