/** The routes of library-protocol.ts, for callers that the gate has let in. */
import { createWriteStream } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { createHash, randomUUID } from 'node:crypto';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import express, { type Response, type Router } from 'express';
import { z } from 'zod';
import { CHECK_KINDS, WATCHINGS } from '../diagnosis/judgement.ts';
import { DELIMITERS, EXPORT_FORMATS, PLACES, startJob, TIME_FORMATS, ZONES, type ImportPlan, type Library } from '../recordings/index.ts';
import { photoDocument } from '../session/repair.ts';
import type { PhotoContent } from '../session/repair.ts';
import { REPORT_STYLE } from '../session/report-page.ts';
import { fail } from './answers.ts';
import { JobDesk } from './job-desk.ts';
import { roadOf } from './road-of-take.ts';
import { encodeSampleFrame } from './sample-frame.ts';

const BODY_LIMIT = '256kb';
const MOST_IMPORTS = 8;

const text = (most: number) => z.string().trim().max(most);
const column = z.number().int().min(0).max(10_000);
const finite = z.number().finite();
const move = z.object({ from: z.enum(PLACES), to: z.enum(PLACES) }).refine(({ from, to }) => from !== to, 'from and to are the same place');
const rename = z.object({ name: text(120).min(1) });
const describe = z.object({ title: text(200).optional(), vehicle: text(200).optional(), complaint: text(2000).optional() });
const sessionJob = z.discriminatedUnion('type', [
  z.object({ type: z.literal('export'), format: z.enum(EXPORT_FORMATS), take: z.number().int().nullable(), meter: z.number().int().nullable() }),
  z.object({ type: z.literal('verify'), reportedHash: z.string().regex(/^[0-9a-fA-F]{64}$/, 'a hash has 64 hexadecimal digits').optional() }),
  z.object({ type: z.literal('finish') }),
  z.object({ type: z.literal('recover') }),
]);
const plan = z.object({
  delimiter: z.enum(DELIMITERS), decimal: z.enum(['point', 'comma']), headingRows: z.number().int().min(0).max(10_000),
  time: z.object({ column, format: z.enum(TIME_FORMATS), dateColumn: column.nullable(), zone: z.enum(ZONES) }).nullable(),
  interval: finite.positive().nullable(),
  values: z.array(z.object({ column, unit: text(20), label: text(100) })).min(1).max(64),
  unitColumn: column.nullable(), flagColumn: column.nullable(), resolutionColumn: column.nullable(),
  quantityColumn: column.nullable(), couplingColumn: column.nullable(), arrivalColumn: column.nullable(), takeColumn: column.nullable(), meterColumn: column.nullable(),
});
const importing = z.object({
  plan,
  options: z.object({
    title: text(200).optional(), vehicle: text(200).optional(), complaint: text(2000).optional(),
    kind: z.enum(CHECK_KINDS).optional(), watching: z.enum(WATCHINGS).optional(),
    limits: z.object({ low: finite.nullable(), high: finite.nullable() }).optional(),
    accuracy: z.object({ fraction: finite.min(0).max(1), counts: finite.min(0) }).nullable().optional(),
  }),
});
const noteBody = z.object({ take: z.number().int().nullable(), at: finite.nullable(), text: text(4000) });
const listing = z.object({ search: text(200).default(''), place: z.enum(PLACES).default('recordings') });
const number = (fallback: number) => z.string().min(1).transform(Number).pipe(z.number()).default(fallback);
const traceQuery = z.object({
  meter: number(0), from: number(-Infinity), to: number(Infinity), columns: number(1000).transform((wanted) => Math.min(4000, Math.max(1, Math.round(wanted)))),
});
const takeNumber = z.string().regex(/^\d{1,9}$/, 'a take has a whole number').transform(Number);

/** A report holds no script, and no style but its own. */
const REPORT_POLICY = `default-src 'none'; style-src 'sha256-${createHash('sha256').update(REPORT_STYLE).digest('base64')}'; img-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'`;

/** What was asked for can't be understood; answered with 400. */
export class BadQuery extends Error {}

function understand<Schema extends z.ZodType>(schema: Schema, value: unknown): z.output<Schema> {
  const parsed = schema.safeParse(value);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0]!;
  throw new BadQuery(`${issue.path.join('.') || 'request'}: ${issue.message}`);
}

export interface LibraryRoutes {
  readonly router: Router;
  /** Stops what runs, and removes what was uploaded or written for a download. */
  close(): Promise<void>;
}

/** @param folder  of the recordings @param version  that reports name */
export function libraryRoutes(library: Library, folder: string, version: string): LibraryRoutes {
  const router = express.Router();
  const body = express.json({ limit: BODY_LIMIT });
  const desk = new JobDesk();
  const uploads = new Map<string, string>();

  router.get('/sessions', async ({ query }, response) => {
    const { search, place } = understand(listing, query);
    response.json(await library.list(search, place));
  });
  router.get('/sessions/:session', async ({ params }, response) => {
    response.json(await library.contents(params.session));
  });
  router.get('/sessions/:session/takes/:take/trace', async ({ params, query }, response) => {
    const take = understand(takeNumber, params.take);
    const { meter, from, to, columns } = understand(traceQuery, query);
    const trace = await library.trace(params.session, take, meter, from, to, columns);
    response.type('application/octet-stream').send(Buffer.from(encodeSampleFrame({ ...trace, take, meter, firstSeq: 0, reduced: true, replace: true })));
  });
  router.get('/sessions/:session/takes/:take/road', async ({ params }, response) => {
    response.json(await roadOf(library, params.session, understand(takeNumber, params.take)));
  });
  router.get('/sessions/:session/takes/:take/again', async ({ params }, response) => {
    response.json(await startJob({ type: 'judge-again', folder, session: params.session, take: understand(takeNumber, params.take) }).done);
  });
  router.get('/sessions/:session/hash', async ({ params }, response) => {
    response.json({ hash: await library.lastHash(params.session) });
  });
  router.get('/sessions/:session/documents/:name', async ({ params }, response) => {
    response.json((await library.document(params.session, params.name)) ?? null);
  });
  router.put('/sessions/:session/documents/:name', express.json({ limit: '8mb', strict: false }), async ({ params, body }, response) => {
    const name = understand(text(60).regex(/^[a-z][a-z0-9-]*$/, 'a document has a name in small letters'), params.name);
    await startJob({ type: 'document', folder, session: params.session, name, content: body as unknown }).done;
    response.json(null);
  });
  router.put('/sessions/:session/notes/:note', body, async ({ params, body }, response) => {
    const id = understand(text(60).min(1), params.note);
    const note = { ...understand(noteBody, body), id, writtenAt: Date.now() };
    response.json(await startJob({ type: 'note', folder, session: params.session, note }).done);
  });
  router.get('/sessions/:session/photos/:photo', async ({ params }, response) => {
    const photo = (await library.document(params.session, photoDocument(params.photo))) as PhotoContent | undefined;
    if (photo === undefined) notThere(response, 'There is no such picture (any longer).');
    else response.type('image/jpeg').send(Buffer.from(photo.base64, 'base64'));
  });
  router.get('/sessions/:session/found', async ({ params }, response) => {
    response.json(await startJob({ type: 'find', folder, session: params.session }).done);
  });
  router.get('/sessions/:session/report', async ({ params }, response) => {
    const page = await startJob({ type: 'report', folder, session: params.session, version }).done;
    response.set('Content-Security-Policy', REPORT_POLICY).type('html').send(page);
  });
  router.post('/sessions', async (request, response) => {
    const own = await mkdtemp(join(tmpdir(), 'loomtrace-add-'));
    const file = join(own, 'session.sqlite');
    try {
      await pipeline(request, createWriteStream(file));
      response.json(await startJob({ type: 'add', folder, file }).done);
    } finally {
      await rm(own, { recursive: true, force: true });
    }
  });
  router.post('/sessions/:session/move', body, async ({ params, body }, response) => {
    const { from, to } = understand(move, body);
    response.json({ session: await library.move(params.session, from, to) });
  });
  router.post('/sessions/:session/rename', body, async ({ params, body }, response) => {
    await library.rename(params.session, understand(rename, body).name);
    response.json(null);
  });
  router.post('/sessions/:session/describe', body, async ({ params, body }, response) => {
    response.json(await startJob({ type: 'describe', folder, session: params.session, change: definedOnly(understand(describe, body)) }).done);
  });
  router.post('/sessions/:session/jobs', body, ({ params, body }, response) => {
    const asked = understand(sessionJob, body);
    const { session } = params;
    response.json(desk.start((own) => (asked.type === 'export'
      ? { ...asked, folder, session, target: join(own, `${safeName(session)}.${asked.format}`) }
      : { ...asked, folder, session })));
  });
  router.delete('/trash', async (_request, response) => {
    response.json({ bytes: await library.emptyTrash() });
  });
  router.get('/space', async (_request, response) => {
    response.json(await library.space());
  });

  router.post('/imports', async (request, response) => {
    const name = understand(text(200).default('table.csv'), request.query['name']);
    const file = join(await mkdtemp(join(tmpdir(), 'loomtrace-import-')), safeName(basename(name)));
    await pipeline(request, createWriteStream(file));
    const id = randomUUID();
    uploads.set(id, file);
    for (const [old] of uploads) if (uploads.size > MOST_IMPORTS) await dropUpload(uploads, old);
    try {
      response.json({ import: id, preview: await startJob({ type: 'preview', folder, file }).done });
    } catch (error) {
      await dropUpload(uploads, id);
      throw new BadQuery((error as Error).message);
    }
  });
  router.post('/imports/:import/preview', body, async ({ params, body }, response) => {
    const file = uploads.get(params.import);
    if (file === undefined) return notThere(response, 'This file is no longer here: choose it again.');
    const beginning = definedOnly(understand(plan.pick({ delimiter: true, headingRows: true }).partial(), body));
    response.json(await startJob({ type: 'preview', folder, file, beginning }).done.catch((error: unknown) => {
      throw new BadQuery((error as Error).message);
    }));
  });
  router.post('/imports/:import/jobs', body, ({ params, body }, response) => {
    const file = uploads.get(params.import);
    if (file === undefined) return notThere(response, 'This file is no longer here: choose it again.');
    const asked = understand(importing, body);
    response.json(desk.start(() => ({
      type: 'import', folder, file, plan: asked.plan as ImportPlan, options: { ...definedOnly(asked.options), nowUs: Date.now() * 1000 },
    })));
  });

  router.get('/jobs/:job', ({ params }, response) => {
    const state = desk.state(params.job);
    if (state === null) notThere(response, 'There is no such job (any longer).');
    else response.json(state);
  });
  router.delete('/jobs/:job', ({ params }, response) => {
    if (desk.cancel(params.job)) response.json(null);
    else notThere(response, 'There is no such job (any longer).');
  });
  router.get('/jobs/:job/files/:file', ({ params }, response) => {
    const own = desk.folder(params.job);
    if (own === null) return notThere(response, 'There is no such file (any longer).');
    response.download(params.file, params.file, { root: own, dotfiles: 'deny' }, (error) => {
      if (error && !response.headersSent) notThere(response, 'There is no such file (any longer).');
    });
  });

  return {
    router,
    close: async () => {
      desk.close();
      for (const id of [...uploads.keys()]) await dropUpload(uploads, id);
    },
  };
}

async function dropUpload(uploads: Map<string, string>, id: string): Promise<void> {
  const file = uploads.get(id);
  uploads.delete(id);
  if (file !== undefined) await rm(join(file, '..'), { recursive: true, force: true });
}

/** A name for a file of ours, whatever the user's was. */
function safeName(name: string): string {
  return name.replaceAll(/[^\p{L}\p{N} ._()+-]/gu, '_').replace(/^\.+/, '_').slice(0, 120) || 'file';
}

function definedOnly<Fields extends object>(fields: Fields): Fields {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== undefined)) as Fields;
}

function notThere(response: Response, message: string): void {
  fail(response, 404, 'NOT_FOUND', message);
}
