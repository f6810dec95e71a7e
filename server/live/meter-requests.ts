/** The requests of meter-protocol.ts, checked before anything acts on them. */
import { z } from 'zod';

const meter = z.number().int().min(0).max(255);
const address = z.string().min(1).max(1000);
const name = z.string().max(64);
const examples = <K extends string, S extends z.ZodType>(key: K, sent: S) => (
  z.array(z.object({ [key]: sent, shown: z.string().max(60) } as Record<K, S> & { shown: z.ZodString })).max(60)
);
const chosen = z.object({
  field: z.number().int().min(1).max(99).optional(), decimal: z.enum(['auto', 'point', 'comma']).optional(), unit: z.string().max(20).optional(), newline: z.enum(['lf', 'cr']),
});

export const METER_REQUESTS = [
  z.object({ type: z.literal('carry-meter'), carrier: z.string().min(8).max(64), address }),
  z.object({ type: z.literal('meter-link'), meter, isConnected: z.boolean(), reason: z.string().max(400) }),
  z.object({ type: z.literal('find-out'), address, mayAsk: z.boolean().optional(), patience: z.number().min(1).max(120).optional() }),
  z.object({ type: z.literal('stop-finding') }),
  z.object({ type: z.literal('read-capture'), meter }),
  z.object({ type: z.literal('teach-lines'), meter, name, examples: examples('line', z.string().max(4096)), chosen: chosen.nullable() }),
  z.object({ type: z.literal('teach-frames'), meter, name, examples: examples('frame', z.string().regex(/^(?:[0-9a-f]{2}){1,64}$/)), leavesUnknown: z.boolean() }),
  z.object({ type: z.literal('list-layouts') }),
  z.object({ type: z.literal('read-layout'), name }),
  // What a layout must hold is checked where it is saved, with words for each fault.
  z.object({ type: z.literal('save-layout'), layout: z.unknown() }),
  z.object({ type: z.literal('remove-layout'), name }),
  z.object({ type: z.literal('reread-meter'), meter, address }),
  z.object({ type: z.literal('measure-aperture'), meter, isRunning: z.boolean() }),
  z.object({ type: z.literal('play-take'), session: z.string().min(1).max(200), take: z.number().int().min(1), speed: z.number().min(1).max(1000) }),
] as const;
