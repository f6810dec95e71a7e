import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { NO_SEARCH, searchFault } from '../../server/session/fault-search.ts';
import { doubtedReading, firstReason, nextStepOf } from '../../web/next-step.ts';
import type { Verdict } from '../../server/diagnosis/judgement.ts';
import type { TakeSummary } from '../../server/session/session.ts';
import { takeOf } from '../support/takes.ts';

const ground = alder7Checks.find(({ id }) => id === 'ground CL-')!;
const now = { check: ground, checks: alder7Checks, watching: 'spot' as const, take: null };
const searchOf = (...takes: TakeSummary[]) => searchFault({ search: NO_SEARCH, chart: alder7Chart, meters: [], temperature: 20, repairedAt: null, takes });
const spot = (id: number, name: string, value: number, verdict: Verdict) =>
  takeOf({ id, check: alder7Checks.find((check) => check.id === name)!, start: 100 * id, verdict, watching: 'spot', value });
/** After one bad reading. */
const search = searchOf(spot(1, 'ground CL-', 1.9, 'fail'));

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
    expect(nextStepOf(now, search)).toEqual({ kind: 'check', check: best!.take.check, watching: best!.take.watching, why: best!.why, isSearched: true, isRepeat: false });
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

  it('has a reading that contradicts the others made again first, once, and not while it is at hand', () => {
    // 1.9 V at CL- though all of its ground path drops next to nothing.
    const readings = [
      spot(1, 'ground CL-', 1.9, 'fail'), spot(2, 'drop S3 to C2/4', 0.04, 'pass'), spot(3, 'drop C2/4 to C1/6', 0.08, 'pass'), spot(4, 'drop C1/6 to G2', 0.03, 'pass'),
      spot(5, 'drop G2 to B-', 0.01, 'pass'), spot(6, 'drop CL- to S3', 0.05, 'pass'),
    ];
    const contradicted = searchOf(...readings);
    const { reading, words } = doubtedReading(contradicted)!;
    expect(words).toMatch(/does not go with the others: repeat it/);
    const elsewhere = { ...now, check: readings[5]!.check };
    expect(nextStepOf(elsewhere, contradicted)).toMatchObject({ kind: 'check', check: { id: 'ground CL-' }, watching: 'spot', isRepeat: true, why: words });
    // Accepting the very take that is doubted begins it again; a new take of it goes on.
    const doubted = { ...now, check: reading.check };
    expect(nextStepOf({ ...doubted, take: { id: reading.take } }, contradicted)).toMatchObject({ isRepeat: true });
    expect(nextStepOf({ ...doubted, take: { id: 99 } }, contradicted)).not.toMatchObject({ isRepeat: true });
    expect(nextStepOf(doubted, contradicted)).not.toMatchObject({ isRepeat: true });
    expect(nextStepOf(elsewhere, contradicted, [reading.check.id])).not.toMatchObject({ isRepeat: true });
    const again = readings.find(({ id }) => id === reading.take)!;
    expect(doubtedReading(searchOf(...readings, { ...again, id: 7, start: 700, end: 760 }))?.reading.check.id).not.toBe('ground CL-');
  });
});
