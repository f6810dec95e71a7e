import { describe, expect, it } from 'vitest';
import { associateMarks } from '../../server/diagnosis/road.ts';
import { sayMarkAssociation } from '../../server/diagnosis/road-words.ts';

const take = { start: 0, end: 600 };
const bumps = Array.from({ length: 29 }, (_, k) => ({ at: 20 * k + 11, text: 'bump' }));
const say = (dropouts: readonly number[]): string => associateMarks(dropouts, bumps, take).map(sayMarkAssociation).join(' ');

describe('sayMarkAssociation', () => {
  it('says that dropouts and marks go together, and that this is no cause', () => {
    const text = say(bumps.filter((_, k) => k % 2 === 0).map(({ at }) => at - 1));
    expect(text).toMatch(/^15 of 15 separate dropouts began near 29 marks of "bump", and none away from them: they go together \(chance of that by coincidence below 0.001\)/);
    expect(text).toContain('no proof of a cause');
  });
  it('says that no link is shown', () => {
    expect(say([5, 65, 125, 185, 245, 305, 365])).toMatch(/^0 of 7 separate dropouts began near 29 marks of "bump": no link shown \(chance of that by coincidence 1\)\.$/);
  });
  it('says that there are too few to tell', () => {
    expect(say([10, 30])).toBe('2 of 2 separate dropouts began near 29 marks of "bump": too few to tell, it takes 5 apart from each other in stretches with marks.');
  });
});
