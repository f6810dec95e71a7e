import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { NO_SEARCH, searchFault } from '../../server/session/fault-search.ts';
import { firstReason, nextStepOf } from '../../web/next-step.ts';
import { takeOf } from '../support/takes.ts';

const ground = alder7Checks.find(({ id }) => id === 'ground CL-')!;
const now = { check: ground, checks: alder7Checks, watching: 'spot' as const };
/** After one bad reading. */
const search = searchFault({
  search: NO_SEARCH, chart: alder7Chart, meters: [], temperature: 20, repairedAt: null,
  takes: [takeOf({ id: 1, check: ground, start: 0, verdict: 'fail', watching: 'spot', value: 1.9 })],
});

describe('nextStepOf(now, search, passedOver)', () => {
  it('goes on in the list while nothing was read, and begins it again after its end', () => {
    const first = alder7Checks[0]!;
    const last = alder7Checks.at(-1)!;
    expect(nextStepOf({ ...now, check: first }, null)).toMatchObject({ kind: 'check', check: { id: alder7Checks[1]!.id }, why: '', isSearched: false });
    expect(nextStepOf({ ...now, check: last }, null)).toMatchObject({ check: { id: first.id } });
    expect(nextStepOf({ ...now, check: last }, { ...search, readings: [] })).toMatchObject({ check: { id: first.id }, isSearched: false });
    expect(nextStepOf({ ...now, checks: [ground] }, null)).toBeNull();
  });

  it('takes what the search asks for, with its reason, and what it asks for after that where that was passed over or is at hand', () => {
    const [best, second] = search.located.next;
    expect(nextStepOf(now, search)).toEqual({ kind: 'check', check: best!.take.check, watching: best!.take.watching, why: best!.why, isSearched: true });
    expect(nextStepOf({ ...now, check: best!.take.check, watching: best!.take.watching }, search)).toMatchObject({ check: { id: second!.take.check.id } });
    expect(nextStepOf(now, search, [best!.take.check.id])).toMatchObject({ check: { id: second!.take.check.id } });
    expect(nextStepOf(now, search, search.located.next.map(({ take }) => take.check.id))).toMatchObject({ isSearched: false });
    expect(firstReason(best!.why)).toMatch(/^About 1\.\d+ V points to .*%\)\.$/);
  });

  it('says what was found instead of measuring on, but not of a circuit that is merely sound so far', () => {
    const found = { ...search, located: { ...search.located, isFound: true, next: [] } };
    expect(nextStepOf(now, found)).toEqual({ kind: 'found', words: search.located.faults[0]!.words });
    const sound = { ...found, located: { ...found.located, faults: [{ ...search.located.faults[0]!, kind: 'none' as const }] } };
    expect(nextStepOf(now, sound)).toMatchObject({ kind: 'check', isSearched: false });
  });
});
