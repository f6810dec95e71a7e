/** The routes of sharing-protocol.ts: those open to a device that is not paired yet, and those of the main screen. */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import express, { type RequestHandler, type Response, type Router } from 'express';
import { z } from 'zod';
import { refused, refuseSharing, ROLES, type Role, type Sharing } from './access/index.ts';
import { callerOf, refuse } from './answers.ts';
import type { Access, SharingState } from './sharing-protocol.ts';
import { WEB_FOLDER } from './web-folder.ts';

const PAIRING_PAGE = '/pairing.html';
const AUTHORITY_PATH = '/workshop-authority.crt';

const pairing = z.object({ code: z.string().max(40), name: z.string().trim().max(60) });
const roleChoice = z.object({ role: z.enum(ROLES) });

const NO_SUCH_DEVICE = refused(404, 'NO_SUCH_DEVICE', 'There is no such device (any longer).');
const NOT_SHARED = refused(409, 'NOT_SHARED', 'This service is not shared. Start it with --share to let other devices in.');

/** For the shared listener: what a device gets before it is paired, which is the pairing page and nothing else. */
export function openRoutes(sharing: Sharing): Router {
  const router = express.Router();
  router.get(AUTHORITY_PATH, giveAuthority(sharing));
  router.get('/', (request, response, next) => {
    if (sharing.identify(request.headers).kind === 'refused') response.redirect(303, PAIRING_PAGE);
    else next();
  });
  router.get([PAIRING_PAGE, '/assets/:file'], async (request, response, next) => {
    if (await belongsToPairing(request.path)) response.sendFile(request.path, { root: WEB_FOLDER });
    else next();
  });
  router.post('/api/pairing', express.json({ limit: 1024 }), (request, response) => {
    const asked = pairing.safeParse(request.body);
    if (!asked.success) return refuse(response, refused(400, 'BAD_REQUEST', 'Type the code that the main screen shows.'));
    const { code, name } = asked.data;
    const outcome = sharing.pair(code, name, request.socket.remoteAddress ?? '');
    if (outcome.kind === 'refused') return refuse(response, outcome);
    response.set('Set-Cookie', outcome.cookie).json({ role: outcome.role, isMainScreen: false, name } satisfies Access);
  });
  return router;
}

/** For both listeners, behind their gates. @param sharing null when the service is not shared */
export function knownRoutes(sharing: () => Sharing | null): Router {
  const router = express.Router();
  router.get('/api/access', (_request, response) => {
    const caller = callerOf(response);
    response.json((caller.kind === 'local'
      ? { role: 'control', isMainScreen: true, name: '' }
      : { role: caller.role, isMainScreen: false, name: caller.name }) satisfies Access);
  });
  router.get(AUTHORITY_PATH, (request, response, next) => {
    const shared = sharing();
    if (shared === null) refuse(response, NOT_SHARED);
    else giveAuthority(shared)(request, response, next);
  });

  router.use('/api/sharing', (_request, response, next) => {
    const refusal = refuseSharing(callerOf(response));
    if (refusal !== null) refuse(response, refusal);
    else next();
  });
  router.get('/api/sharing', (_request, response) => {
    response.json((sharing()?.state() ?? { isShared: false }) satisfies SharingState);
  });
  /** Changes something, and answers with how things stand then. */
  const change = (response: Response, act: (shared: Sharing) => boolean): void => {
    const shared = sharing();
    if (shared === null) refuse(response, NOT_SHARED);
    else if (act(shared)) response.json(shared.state());
    else refuse(response, NO_SUCH_DEVICE);
  };
  /** Calls on with the role that is asked for. */
  const withRole = (response: Response, body: unknown, goOn: (role: Role) => void): void => {
    const chosen = roleChoice.safeParse(body);
    if (chosen.success) goOn(chosen.data.role);
    else refuse(response, refused(400, 'BAD_REQUEST', 'Say which role: "watch" or "control".'));
  };
  const body = express.json({ limit: 1024 });
  router.post('/api/sharing/code', body, (request, response) => {
    withRole(response, request.body, (role) => change(response, (shared) => {
      shared.openCode(role);
      return true;
    }));
  });
  router.delete('/api/sharing/code', (_request, response) => {
    change(response, (shared) => {
      shared.closeCode();
      return true;
    });
  });
  router.post('/api/sharing/devices/:id', body, (request, response) => {
    withRole(response, request.body, (role) => change(response, (shared) => shared.setRole(request.params['id']!, role)));
  });
  router.delete('/api/sharing/devices/:id', (request, response) => {
    change(response, (shared) => shared.withdraw(request.params.id));
  });
  return router;
}

function giveAuthority(sharing: Sharing): RequestHandler {
  return (_request, response) => {
    response.type('application/x-x509-ca-cert').attachment('loomtrace-workshop-authority.crt').send(Buffer.from(sharing.authority));
  };
}

/** The pairing page and what it loads: all that a device gets before it is paired. */
async function belongsToPairing(path: string): Promise<boolean> {
  if (path === PAIRING_PAGE) return true;
  const page = await readFile(join(WEB_FOLDER, PAIRING_PAGE), 'utf8').catch(() => '');
  return [...page.matchAll(/(?:src|href)="\.?(\/assets\/[^"]+)"/g)].some(([, file]) => file === path);
}
