/** The requests of meter-protocol.ts, checked before anything acts on them. */
import { z } from 'zod';

const meter = z.number().int().min(0).max(255);
const address = z.string().min(1).max(1000);

export const METER_REQUESTS = [
  z.object({ type: z.literal('carry-meter'), carrier: z.string().min(8).max(64), address }),
  z.object({ type: z.literal('meter-link'), meter, isConnected: z.boolean(), reason: z.string().max(400) }),
] as const;
