/** What a dashboard may ask for, checked before anything acts on it. */
import { z } from 'zod';
import { CHECK_KINDS, WATCHINGS } from '../diagnosis/judgement.ts';
import { SYSTEM_VOLTAGES } from '../session/limits.ts';
import { meterProfileSchema } from '../session/meter-profile.ts';
import { ROAD_CHANNELS } from '../session/road-channels.ts';
import { MARK_KINDS } from '../session/session.ts';
import { PROVOCATIONS } from '../session/take-account.ts';
import { METER_REQUESTS } from './meter-requests.ts';
import { LOCATION_REQUESTS } from './location-requests.ts';
import type { ClientMessage, ClientRequest } from './protocol.ts';

const text = (most: number) => z.string().max(most);
const finite = z.number().finite();
const positive = finite.positive();
const revision = z.number().int().min(1);
const meterIndex = z.number().int().min(0).max(255);

const limits = z.object({ low: finite.nullable(), high: finite.nullable() })
  .refine(({ low, high }) => low === null || high === null || low <= high, 'the low limit is above the high limit');

const check = z.object({
  id: text(100),
  kind: z.enum(CHECK_KINDS),
  red: text(100),
  black: text(100),
  limits,
  // Those of the model name every wire of a long way.
  limitsBasis: text(4000),
  condition: text(1000),
  instructions: z.array(text(400)).max(40),
  cautions: z.array(text(400)).max(40),
  load: z.object({ ohms: positive, volts: positive }).optional(),
  supply: positive.max(1000).optional(),
  depth: positive.optional(),
  shiftAfter: positive.optional(),
}).loose();
const checkPlace = z.object({ kind: z.enum(CHECK_KINDS), red: text(100), black: text(100) });
const watching = z.enum(WATCHINGS);

const request = z.discriminatedUnion('type', [
  z.object({
    type: z.literal('start-take'), check, watching, conditionIsMet: z.boolean().optional(), endsItself: z.boolean().optional(),
    claim: z.object({ per: z.enum(['flex', 'second', 'hour']), rate: positive.max(1e6), length: positive.max(3600) }).optional(),
  }),
  z.object({ type: z.literal('stop-take') }),
  z.object({ type: z.literal('choose'), check, watching }),
  z.object({ type: z.literal('mark'), text: text(400), kind: z.enum(MARK_KINDS).optional() }),
  z.object({ type: z.literal('flex'), count: z.number().int().min(1).max(1000) }),
  z.object({ ...meterProfileSchema.shape, type: z.literal('describe-meter'), meter: meterIndex }),
  z.object({
    type: z.literal('describe'), basedOn: revision.optional(), title: text(200).optional(), vehicle: text(200).optional(), complaint: text(2000).optional(),
    codes: z.array(text(40)).max(100).optional(), facts: text(4000).optional(), ambient: finite.min(-60).max(80).nullable().optional(),
    systemVoltage: z.literal(SYSTEM_VOLTAGES).nullable().optional(),
  }),
  z.object({ type: z.literal('read-chart') }),
  // What a chart must hold is checked where it is put in place, with words for each problem.
  z.object({ type: z.literal('change-chart'), basedOn: revision, chart: z.unknown() }),
  z.object({
    type: z.literal('change-limits'), kind: z.enum(CHECK_KINDS), quantity: z.enum(['voltage', 'resistance', 'current']),
    limits: limits.nullable(),
  }),
  z.object({ type: z.literal('confirm-condition'), isMet: z.boolean() }),
  z.object({ type: z.literal('acknowledge'), caution: text(60) }),
  z.object({ type: z.literal('prove-rig'), isRunning: z.boolean() }),
  z.object({ type: z.literal('name-zones'), zones: z.array(text(100).min(1)).max(60) }),
  z.object({ type: z.literal('flex-zone'), zone: text(100).min(1).nullable() }),
  z.object({ type: z.literal('pace'), seconds: finite.min(3).max(600).nullable() }),
  z.object({ type: z.literal('provoke'), provocations: z.array(z.enum(PROVOCATIONS)).max(PROVOCATIONS.length) }),
  z.object({ type: z.literal('reseat'), connector: text(100).min(1) }),
  z.object({ type: z.literal('refer-to'), meter: meterIndex.nullable() }),
  z.object({ type: z.literal('watch-beside'), meter: meterIndex, leads: z.object({ red: text(100).min(1), black: text(100).min(1) }).nullable() }),
  z.object({ type: z.literal('battery'), volts: finite.min(0).max(60) }),
  z.object({ type: z.literal('arm'), isArmed: z.boolean() }),
  z.object({ type: z.literal('lock'), isLocked: z.boolean() }),
  z.object({
    type: z.literal('motion'), channel: z.enum(ROAD_CHANNELS),
    times: z.array(finite.min(0)).min(1).max(1000), values: z.array(finite).min(1).max(1000),
  }).refine(({ times, values }) => times.length === values.length, 'as many times as values'),
  z.object({ type: z.literal('note-finding'), basedOn: revision, text: text(4000) }),
  z.object({ type: z.enum(['note-repair', 'correct-repair']), basedOn: revision, text: text(4000), place: text(200) }),
  z.object({ type: z.literal('set-aside'), basedOn: revision, check: checkPlace, reason: text(400) }),
  z.object({ type: z.literal('count-again'), basedOn: revision, check: checkPlace }),
  z.object({ type: z.literal('take-back-repair'), basedOn: revision }),
  z.object({ type: z.literal('drop-photo'), photo: text(40) }),
  z.object({ type: z.literal('new-session'), keepsChart: z.boolean().optional() }),
  z.object({ type: z.literal('go-on'), session: text(124).min(1).nullable() }),
  z.object({ type: z.literal('attach-meter'), address: text(1000) }),
  z.object({ type: z.literal('detach-meter'), meter: meterIndex }),
  z.object({ type: z.literal('null-leads'), meter: meterIndex }),
  z.object({ type: z.literal('judge-by'), meter: meterIndex }),
  z.object({ type: z.literal('simulate'), fault: text(60) }),
  ...METER_REQUESTS,
  ...LOCATION_REQUESTS,
]);
const message = z.object({ request: z.number().int().min(0) });

export type ParsedMessage =
  | { readonly kind: 'message'; readonly message: ClientMessage }
  | { readonly kind: 'bad'; readonly request: number; readonly why: string };

/** @param data text of one websocket message */
export function parseClientMessage(data: string): ParsedMessage {
  let json: unknown;
  try {
    json = JSON.parse(data);
  } catch {
    return { kind: 'bad', request: 0, why: 'The message is not JSON.' };
  }
  const numbered = message.safeParse(json);
  const number = numbered.success ? numbered.data.request : 0;
  const parsed = request.safeParse(json);
  if (!numbered.success || !parsed.success) {
    const issue = (parsed.success ? numbered.error : parsed.error)!.issues[0]!;
    return { kind: 'bad', request: number, why: `${issue.path.join('.') || 'message'}: ${issue.message}` };
  }
  return { kind: 'message', message: { ...parsed.data, request: number } as ClientMessage };
}

/** Requests that change nothing: a device that may only watch can make them too. Whatever is not listed counts as a change. */
const READING_REQUESTS: ReadonlySet<ClientRequest['type']> = new Set<ClientRequest['type']>(['list-layouts', 'read-layout', 'read-capture', 'read-chart', 'locate']);

export function onlyReads(request: ClientRequest): boolean {
  return READING_REQUESTS.has(request.type);
}
