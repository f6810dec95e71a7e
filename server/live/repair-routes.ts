/**
 * Pictures of the repair of the session at hand. They are too large for the websocket.
 *
 *   POST /api/repair/photos        a JPEG picture as the body -> Photo
 *   GET  /api/repair/photos/:id    the picture
 */
import express, { type Router } from 'express';
import type { Photo } from '../session/repair.ts';
import { fail } from './answers.ts';
import { RequestRefused } from './hub.ts';

/** The dashboard makes pictures smaller than this before it sends them. */
const LARGEST_PHOTO = '1mb';

export interface PhotoDesk {
  /** @throws {RequestRefused} */
  addPhoto(jpeg: Buffer): Photo;
  photo(id: string): Buffer | null;
}

export function repairRoutes(desk: PhotoDesk): Router {
  const router = express.Router();
  router.post('/repair/photos', express.raw({ type: 'image/jpeg', limit: LARGEST_PHOTO }), (request, response) => {
    try {
      response.json(desk.addPhoto(Buffer.isBuffer(request.body) ? request.body : Buffer.alloc(0)));
    } catch (error) {
      if (!(error instanceof RequestRefused)) throw error;
      fail(response, 409, error.code, error.message);
    }
  });
  router.get('/repair/photos/:photo', ({ params }, response) => {
    const jpeg = desk.photo(params.photo);
    if (jpeg === null) fail(response, 404, 'NOT_FOUND', 'There is no such picture (any longer).');
    else response.type('image/jpeg').send(jpeg);
  });
  return router;
}
