/** What was found, what was done about it and the pictures of it: noted with the time, correctable until takes are made in reliance on it. */
import { createHash } from 'node:crypto';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveRepair } from '../live/protocol.ts';
import { repairHash } from '../recordings/index.ts';
import type { SessionPapers } from '../session/papers.ts';
import { allPhotos, correctRepair, MOST_PHOTOS, noteRepair, openRepair, photoDocument, repairBefore, takeBackRepair, withAside, withPhotos } from '../session/repair.ts';
import type { Photo, PhotoContent, RepairFile } from '../session/repair.ts';
import type { TakeRecord } from '../session/session.ts';
import { changedMeanwhile } from './changed-meanwhile.ts';
import type { SessionFile } from './session-file.ts';
import type { TakeDesk } from './take-desk.ts';

export type RepairRequest = Extract<ClientRequest, { type: 'note-finding' | 'note-repair' | 'correct-repair' | 'take-back-repair' | 'set-aside' | 'count-again' | 'drop-photo' }>;

export class RepairDesk {
  readonly #file: SessionFile;
  readonly #papers: SessionPapers;
  readonly #takes: TakeDesk;

  constructor(file: SessionFile, papers: SessionPapers, takes: TakeDesk) {
    this.#file = file;
    this.#papers = papers;
    this.#takes = takes;
  }

  state(): LiveRepair {
    const { value, revision } = this.#papers.repair;
    return { ...value, revision, open: this.#open()?.number ?? null };
  }

  /** What a take that begins now is made after, and the hash that seals it with the take. */
  forTake(now: number): TakeRecord['repair'] {
    const repair = repairBefore(this.#papers.repair.value.repairs, now);
    return repair === null ? undefined : { number: repair.number, hash: repairHash(repair) };
  }

  /** @param now  session clock, s @throws {RequestRefused} */
  act(request: RepairRequest, now: number): unknown {
    const { value } = this.#papers.repair;
    switch (request.type) {
      case 'note-finding':
        return this.#change(request.basedOn, { ...value, finding: request.text });
      case 'note-repair':
        if (this.#takes.isRunning) throw new RequestRefused('TAKE_RUNS', 'Stop the take first: it would be half before the repair and half after it.');
        return this.#change(request.basedOn, noteRepair(value, now, said(request.text), request.place));
      case 'correct-repair':
        this.#needOpen();
        return this.#change(request.basedOn, correctRepair(value, said(request.text), request.place));
      case 'take-back-repair':
        this.#needOpen();
        return this.#change(request.basedOn, takeBackRepair(value));
      case 'set-aside':
        if (request.reason.trim() === '') throw new RequestRefused('NOTHING_SAID', 'Say why it does not count, for instance: the lamp itself is broken, to be replaced.');
        return this.#change(request.basedOn, withAside(value, request.check, request.reason.trim(), now));
      case 'count-again':
        return this.#change(request.basedOn, withAside(value, request.check, null, now));
      case 'drop-photo':
        return this.#dropPhoto(request.photo);
    }
  }

  /** @param jpeg  as the dashboard has made it small @throws {RequestRefused} */
  addPhoto(jpeg: Buffer): Photo {
    // Every JPEG file begins with the markers SOI and the first byte of the next one (ITU-T T.81, B.1.1.3).
    if (jpeg[0] !== 0xff || jpeg[1] !== 0xd8 || jpeg[2] !== 0xff) throw new RequestRefused('NOT_A_PICTURE', 'This is not a JPEG picture: choose another file.');
    const { value } = this.#papers.repair;
    const open = this.#open();
    const photos = open?.photos ?? value.photos;
    const sha256 = createHash('sha256').update(jpeg).digest('hex');
    const photo: Photo = { id: sha256.slice(0, 16), bytes: jpeg.length, sha256 };
    if (allPhotos(value).some(({ id }) => id === photo.id)) return photo;
    if (photos.length >= MOST_PHOTOS) throw new RequestRefused('TOO_MANY_PICTURES', `${MOST_PHOTOS} pictures are kept of a repair: remove one first.`);
    const content: PhotoContent = { type: 'image/jpeg', base64: jpeg.toString('base64') };
    this.#papers.photos.set(photo.id, content);
    this.#file.keep(photoDocument(photo.id), content);
    this.#amend(withPhotos(value, open, [...photos, photo]));
    return photo;
  }

  photo(id: string): Buffer | null {
    const content = this.#papers.photos.get(id);
    return content === undefined ? null : Buffer.from(content.base64, 'base64');
  }

  #dropPhoto(id: string): void {
    const { value } = this.#papers.repair;
    const open = this.#open();
    const photos = open?.photos ?? value.photos;
    if (!photos.some((photo) => photo.id === id)) throw new RequestRefused('PICTURE_STANDS', 'Takes were made since this repair: its pictures stay with it.');
    this.#papers.photos.delete(id);
    this.#file.keep(photoDocument(id), null);
    this.#amend(withPhotos(value, open, photos.filter((photo) => photo.id !== id)));
  }

  #open(): ReturnType<typeof openRepair> {
    const { take, ended } = this.#takes.session;
    return openRepair(this.#papers.repair.value, (take ?? ended[0]?.take)?.start ?? null);
  }

  #needOpen(): void {
    if (this.#open() === null) throw new RequestRefused('REPAIR_STANDS', 'Takes were made since this repair, so it stays as it was noted: note what was done since as another one.');
  }

  #change(basedOn: number, value: RepairFile): { revision: number } {
    const { repair } = this.#papers;
    if (!repair.change(basedOn, value)) throw changedMeanwhile('finding or the repair');
    this.#keep();
    return { revision: repair.revision };
  }

  #amend(value: RepairFile): void {
    this.#papers.repair.amend(value);
    this.#keep();
  }

  #keep(): void {
    this.#file.keep('repair', this.#papers.repair.value);
  }
}

function said(text: string): string {
  if (text.trim() === '') throw new RequestRefused('NOTHING_SAID', 'Say what was done, for instance: crimp at S3 cut out and made new.');
  return text.trim();
}
