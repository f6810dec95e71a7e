/** What the meter is set to, and the state of the circuit, that each kind of check asks for. */
import type { Quantity } from '../../drivers/reading.ts';
import type { Arrangement } from '../diagnosis/circuit/index.ts';
import { AS_FOUND } from '../diagnosis/circuit/index.ts';
import type { CheckKind } from '../diagnosis/judgement.ts';
import type { Chart } from './chart.ts';
import type { Check } from './session.ts';

/** Quantity that a check of this kind is made in, unless the check says otherwise. */
export function quantityOf(check: Pick<Check, 'kind' | 'quantity'>): Quantity {
  if (check.quantity !== undefined) return check.quantity;
  switch (check.kind) {
    case 'short-to-ground':
    case 'short-between':
    case 'continuity':
    case 'resistance':
      return 'resistance';
    case 'current':
      return 'current';
    default:
      return 'voltage';
  }
}

/** State for a check: its own, else the usual of its kind on this chart. */
export function arrangementOf(chart: Chart, check: Pick<Check, 'kind' | 'arrangement'>): Arrangement {
  return check.arrangement ?? usualArrangement(chart, check.kind);
}

export function usualArrangement(chart: Chart, kind: CheckKind): Arrangement {
  switch (kind) {
    case 'continuity':
    case 'resistance':
      return { removed: idsOf(chart, 'battery', 'load'), unplugged: [] };
    case 'short-to-ground':
    case 'short-between':
      return { removed: idsOf(chart, 'battery', 'load', 'fuse', 'contact'), unplugged: [] };
    case 'short-to-supply':
      return { removed: idsOf(chart, 'load', 'contact'), unplugged: [] };
    default:
      return AS_FOUND;
  }
}

/** Ids of the components of the given kinds. */
export function idsOf(chart: Chart, ...kinds: readonly Chart['components'][number]['kind'][]): string[] {
  return chart.components.filter((component) => kinds.includes(component.kind)).map((component) => component.id);
}
