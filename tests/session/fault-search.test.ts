import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import type { FaultSearch, SearchInput } from '../../server/session/fault-search.ts';
import { NO_SEARCH, searchFault } from '../../server/session/fault-search.ts';
import type { Check, MeterRecord, TakeSummary } from '../../server/session/session.ts';
import { takeOf } from '../support/takes.ts';

const check = (id: string): Check => alder7Checks.find((own) => own.id === id) as Check;
const meter: MeterRecord = { index: 0, address: '', label: '', simulated: true, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 3 }, leadOhms: null };
const input = (takes: readonly TakeSummary[], search: FaultSearch = NO_SEARCH, repairedAt: number | null = null): SearchInput => ({ search, chart: alder7Chart, takes, meters: [meter], temperature: 20, repairedAt });
const spot = (id: number, name: string, value: number, verdict: TakeSummary['verdict'], start = 100 * id): TakeSummary => takeOf({ id, check: check(name), start, verdict, watching: 'spot', value });
/** Figures of the demo scenario with its hidden fault, as printed there. */
const faulty = [spot(1, 'ground CL-', 1.9, 'fail'), spot(2, 'drop S3 to C2/4', 1.75, 'fail')];

describe('searchFault({ search, chart, takes, ... })', () => {
  it('finds the splice from the takes, and says what was tested most narrowly by which take', () => {
    const { located, tested, readings } = searchFault(input(faulty));
    expect(located).toMatchObject({ isFound: true, next: [], double: null });
    expect(located.faults[0]).toMatchObject({ at: 'S3 to C2/4', kind: 'high-resistance' });
    expect(readings.map(({ take, name }) => [take, name])).toEqual([[1, 'ground CL-'], [2, 'drop S3 to C2/4']]);
    expect(tested).toContainEqual({ part: 'S3 to C2/4', take: 2, verdict: 'fail' });
    expect(tested).toContainEqual({ part: 'C2/4 to C1/6', take: 1, verdict: 'fail' });
  });

  it('goes by the takes since a repair only, and forgets what loads did before it', () => {
    const search: FaultSearch = { ...NO_SEARCH, loads: [{ load: 'CL', works: false, at: 50 }] };
    const after = searchFault(input([...faulty, spot(3, 'ground CL-', 0.22, 'pass', 600)], search, 500));
    expect(after.readings.map(({ take }) => take)).toEqual([3]);
    expect(after.loads.map(({ works }) => works)).toEqual([null, null]);
    expect(after.located.isFound).toBe(false);
  });

  it('takes panels as off behind which something was read, and those that the user says', () => {
    const { panels } = searchFault(input(faulty, { ...NO_SEARCH, panelsOff: ['fuse box lid'] }));
    expect(panels.filter(({ isOff }) => isOff).map(({ id }) => id)).toEqual(['battery cover', 'fuse box lid', 'gantry cover']);
  });

  it('takes the state as the newest take left it, until the user says another', () => {
    const dead = spot(3, 'continuity CL- to B-', 0.39, 'fail');
    expect(searchFault(input([...faulty, dead])).state).toBe('dead');
    expect(searchFault(input([...faulty, dead], { ...NO_SEARCH, state: { state: 'as found', at: 400 } })).state).toBe('as found');
    expect(searchFault(input([...faulty, dead], { ...NO_SEARCH, state: { state: 'as found', at: 50 } })).state).toBe('dead');
  });

  it('leaves out takes whose points are not on the chart, and says which', () => {
    const elsewhere = takeOf({ id: 4, check: { ...check('ground CL-'), id: 'by hand', red: 'X9' }, start: 400, verdict: 'fail', watching: 'spot', value: 3 });
    expect(searchFault(input([...faulty, elsewhere])).leftOut).toEqual([4]);
  });

  it('offers each next check as one that can be chosen: the offered one where it is the same, else with limits and state of its own', () => {
    const { located } = searchFault(input([faulty[0]!]));
    for (const { take, words, why, minutes } of located.next) {
      expect(minutes).toBeGreaterThan(0);
      expect(why).toMatch(/points to .+ \(\d/);
      expect(words).toContain(`red on ${take.check.red}`);
      expect(take.check.limits.low ?? take.check.limits.high).not.toBeNull();
      const offered = alder7Checks.find(({ id }) => id === take.check.id);
      if (offered !== undefined) expect(take.check).toEqual(offered);
    }
  });

  it('says that readings fit no single fault, and names the two that they fit', () => {
    // Two bad joints: by the circuit model 2.67 V at CL-, 1.62 V along S3 to C2/4 (0.35 ohm), 0.91 V along G2 to B- (0.2 ohm).
    const { located } = searchFault(input([spot(1, 'ground CL-', 2.672, 'fail'), spot(2, 'drop S3 to C2/4', 1.623, 'fail'), spot(3, 'drop G2 to B-', 0.914, 'fail')]));
    expect(located.double?.words).toMatch(/^No single fault explains these readings\. Two together do/);
    expect(located.double?.faults.map(({ at }) => at).sort()).toEqual(['G2 to B-', 'S3 to C2/4']);
    expect(located.contradictions.length).toBeGreaterThan(0);
    // It is wrong with one fault only: nothing that has to be cleared up first.
    expect(located.contradictions.some(({ isUrgent }) => isUrgent)).toBe(false);
  });

  it('has nothing found where a reading goes with neither one fault nor two and comes out the same again', () => {
    // No fault of this circuit puts the ground wire 4 V below the battery's terminal.
    const once = [spot(1, 'ground CL-', 1.9, 'fail'), spot(2, 'drop S3 to C2/4', 1.7, 'fail'), spot(3, 'drop G2 to B-', -4, 'fail')];
    const again = [...once, ...once.map((take) => ({ ...take, id: take.id + 3, start: take.start + 300 }))];
    const first = searchFault(input(once)).located;
    expect(first.contradictions.map(({ words }) => words)).toEqual(['The reading at "drop G2 to B-" does not go with the others: repeat it before anything else.']);
    const { contradictions, double, isFound } = searchFault(input(again)).located;
    expect({ double, isFound }).toEqual({ double: null, isFound: false });
    expect(contradictions.map(({ words }) => words)).toEqual([expect.stringMatching(/^Neither one fault nor two explain these readings: the one at "drop G2 to B-" goes with none/)]);
  });
});
