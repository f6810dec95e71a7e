import { describe, expect, it } from 'vitest';
import { allPhotos, correctRepair, isStanding, NO_REPAIR, noteRepair, openRepair, repairBefore, takeBackRepair, withPhotos } from '../../server/session/repair.ts';
import { Revised } from '../../server/session/revised.ts';

const photo = (id: string) => ({ id, bytes: 1, sha256: id });
const noted = noteRepair(withPhotos(NO_REPAIR, null, [photo('a')]), 100, 'crimp made new', 'S3');

describe('a repair', () => {
  it('is noted with its time and takes the pictures that waited for it', () => {
    expect(noted).toEqual({ finding: '', photos: [], repairs: [{ number: 1, at: 100, text: 'crimp made new', place: 'S3', photos: [photo('a')] }] });
  });

  it('can be corrected, given more pictures or taken back until a take begins after it', () => {
    expect(openRepair(noted, 90)?.number).toBe(1);
    expect(openRepair(noted, null)?.number).toBe(1);
    expect(openRepair(noted, 100)).toBeNull();
    expect(isStanding(noted.repairs[0]!, 100)).toBe(true);
    expect(correctRepair(noted, 'crimp and seal', '').repairs[0]).toMatchObject({ text: 'crimp and seal', place: '', at: 100 });
    expect(withPhotos(noted, noted.repairs[0]!, []).repairs[0]?.photos).toEqual([]);
    const back = takeBackRepair(noted);
    expect(back.repairs).toEqual([]);
    expect(allPhotos(back)).toEqual([photo('a')]);
  });

  it('is the one that a take was made after when it is the last before it', () => {
    const two = noteRepair(noted, 200, 'again', '').repairs;
    expect([50, 100, 150, 200, 250].map((start) => repairBefore(two, start)?.number ?? null)).toEqual([null, 1, 1, 2, 2]);
  });
});

describe('Revised', () => {
  it('turns away words based on an older revision, but not what overwrites none', () => {
    const file = new Revised(NO_REPAIR);
    file.amend(withPhotos(NO_REPAIR, null, [photo('a')]));
    expect(file.change(1, { ...file.value, finding: 'mine' })).toBe(true);
    expect(file.change(1, { ...file.value, finding: 'theirs' })).toBe(false);
    expect(file.value).toMatchObject({ finding: 'mine', photos: [photo('a')] });
  });
});
