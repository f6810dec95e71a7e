/** Requests about the search for the fault, checked before anything acts on them. */
import { z } from 'zod';
import { CIRCUIT_STATES } from '../session/candidates.ts';
import { distanceShape } from '../session/case-distance.ts';

const id = z.string().max(200);

export const LOCATION_REQUESTS = [
  z.object({ type: z.literal('locate') }),
  z.object({ type: z.literal('locate-in'), circuit: id.nullable() }),
  z.object({ type: z.literal('say-load'), load: id, works: z.boolean().nullable() }),
  z.object({ type: z.literal('say-panel'), panel: id, isOff: z.boolean() }),
  z.object({ type: z.literal('say-state'), state: z.enum(CIRCUIT_STATES) }),
  z.object({ type: z.literal('read-distance'), distance: distanceShape.nullable() }),
] as const;
