/** The HTTP side: the dashboard's files and the recordings, for pages of this service only. */
import { existsSync } from 'node:fs';
import express, { type ErrorRequestHandler, type Express, type RequestHandler } from 'express';
import { refuseChange, SharingError, type Gate } from './access/index.ts';
import { fail, refuse } from './answers.ts';
import { BadQuery } from './library-routes.ts';
import { WEB_FOLDER } from './web-folder.ts';

/** The dashboard's pages run only what this service serves, and no other page may frame them. */
const HEADERS = {
  'Content-Security-Policy':
    "default-src 'self'; img-src 'self' data: blob:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
  'X-Content-Type-Options': 'nosniff',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Referrer-Policy': 'no-referrer',
};

/** Routes that go before or after the question who asks. */
export interface MoreRoutes {
  /** Open to every device that names an own address: pairing. */
  readonly open?: RequestHandler;
  /** Behind the gate, like the rest. */
  readonly known?: RequestHandler;
  /** More under /api, behind the gate. */
  readonly api?: RequestHandler;
}

/**
 * @param recordings  the routes of library-routes.ts
 * @param gate  that of the listener which the app serves
 */
export function createApp(recordings: RequestHandler, gate: Gate, more: MoreRoutes = {}): Express {
  const app = express();
  app.disable('x-powered-by');
  app.use((request, response, next) => {
    const refusal = gate.refuseForeign(request.headers, !isReading(request.method));
    if (refusal !== null) return refuse(response, refusal);
    response.set(HEADERS);
    // A device that is withdrawn keeps no copy of what it saw.
    if (request.path.startsWith('/api/')) response.set('Cache-Control', 'no-store');
    next();
  });
  if (more.open !== undefined) app.use(more.open);
  app.use((request, response, next) => {
    const caller = gate.identify(request.headers);
    if (caller.kind === 'refused') return refuse(response, caller);
    const refusal = isReading(request.method) ? null : refuseChange(caller);
    if (refusal !== null) return refuse(response, refusal);
    response.locals['caller'] = caller;
    next();
  });
  if (more.known !== undefined) app.use(more.known);

  if (more.api !== undefined) app.use('/api', more.api);
  app.use('/api', recordings);
  app.use('/api', (_request, response) => fail(response, 404, 'NOT_FOUND', 'There is nothing at this address.'));

  app.use(express.static(WEB_FOLDER, { index: 'index.html', dotfiles: 'ignore' }));
  app.use((_request, response) => {
    if (existsSync(WEB_FOLDER)) fail(response, 404, 'NOT_FOUND', 'There is no such page.');
    else fail(response, 503, 'NOT_BUILT', 'The dashboard is not built. Run "npm run build", then reload.');
  });
  app.use(answerError);
  return app;
}

function isReading(method: string): boolean {
  return method === 'GET' || method === 'HEAD';
}

/** Errors of the recordings carry a code; what has none is a fault of the service itself. */
const answerError: ErrorRequestHandler = (error: unknown, _request, response, _next) => {
  if (error instanceof BadQuery) return fail(response, 400, 'BAD_QUERY', error.message);
  if (error instanceof SharingError) return fail(response, 503, error.code, error.message);
  const code = error instanceof Error && 'code' in error && typeof error.code === 'string' ? error.code : '';
  const message = error instanceof Error ? error.message : String(error);
  if (code === 'SESSION_NOT_FOUND' || code === 'TAKE_NOT_FOUND') return fail(response, 404, code, message);
  if (code === 'SESSION_BUSY' || code === 'SESSION_EXISTS') return fail(response, 409, code, message);
  if (code.startsWith('SESSION_')) return fail(response, 422, code, message);
  const status = error instanceof Error && 'status' in error && typeof error.status === 'number' ? error.status : 500;
  if (status >= 500) console.error(error);
  return fail(response, status, code || 'INTERNAL', status >= 500 ? 'The service could not do this; its terminal says why.' : message);
};
