import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { caseReadings } from '../../server/session/case-readings.ts';
import { readCase } from '../../server/session/locate-case.ts';
import { locateCase } from '../../server/session/located.ts';
import type { Check, MeterRecord } from '../../server/session/session.ts';
import { takeOf } from '../support/takes.ts';

const check = (id: string): Check => alder7Checks.find((own) => own.id === id) as Check;
const meter: MeterRecord = { index: 0, address: '', label: '', simulated: true, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 3 }, leadOhms: null };
const known = (id: string): boolean => alder7Checks.some((own) => own.id === id);
const ground = check('ground CL-');

describe('caseReadings(takes, meters, chart, isKnown)', () => {
  it('takes the steady value with the uncertainty of the meter, limit of error over root 3', () => {
    const [reading] = caseReadings([takeOf({ id: 1, check: ground, start: 0, verdict: 'fail', watching: 'spot', value: 1.9 })], [meter], alder7Chart, known);
    // (0.005 1.9 V + 3 mV) / root 3 by hand.
    expect(reading).toEqual({ check: 'ground CL-', take: 1, value: 1.9, quantity: 'voltage', uncertainty: expect.closeTo(0.0125 / Math.sqrt(3), 9) });
  });

  it('counts a spot take that was made again as it was the last time', () => {
    const takes = [1.9, 0.22].map((value, order) => takeOf({ id: order, check: ground, start: 100 * order, verdict: 'fail', watching: 'spot', value }));
    expect(caseReadings(takes, [meter], alder7Chart, known).map((reading) => reading.value)).toEqual([0.22]);
  });

  it('counts earlier takes of the same place that read alike, and goes by the contact, not by what lifted leads read afterwards', () => {
    const takes = [1.9, 1.92, 1.2, 1.91].map((value, order) => takeOf({ id: order, check: ground, start: 100 * order, verdict: 'fail', watching: 'spot', value }));
    const last = takes[3]!;
    const lifted = { ...last, judgement: { ...last.judgement, steady: [...last.judgement.steady, { start: 350, end: 360, value: 0, spread: 0.001 }] } };
    expect(caseReadings([...takes.slice(0, 3), lifted], [meter], alder7Chart, known)).toMatchObject([{ value: 1.91, repeats: 2, take: 3 }]);
  });

  it('leaves out a take that stayed undecided because its state was not there', () => {
    const take = takeOf({ id: 1, check: ground, start: 0, verdict: 'undecided', watching: 'spot', account: { condition: '' } });
    const undecided = { ...take, judgement: { ...take.judgement, levelVerdict: 'undecided' as const } };
    expect(caseReadings([undecided], [meter], alder7Chart, known)).toEqual([]);
    expect(caseReadings([{ ...undecided, account: { ...take.account!, condition: ground.condition } }], [meter], alder7Chart, known)).toHaveLength(1);
  });

  it('leaves out readings that can not be what the check asks for', () => {
    const take = takeOf({ id: 1, check: ground, start: 0, verdict: 'undecided', watching: 'spot', value: -1.9 });
    expect(caseReadings([take], [meter], alder7Chart, known)).toHaveLength(1);
    expect(caseReadings([{ ...take, judgement: { ...take.judgement, isUnfit: true } }], [meter], alder7Chart, known)).toEqual([]);
  });

  it('gives a check made by hand by its leads', () => {
    const [reading] = caseReadings([takeOf({ id: 1, check: { ...ground, id: 'by hand' }, start: 0, verdict: 'pass', watching: 'spot' })], [meter], alder7Chart, known);
    expect(reading).toMatchObject({ kind: 'ground', red: 'CL-', black: 'B-' });
  });

  it('splits a wiggle take by its zones, flexes by time, dropouts by when they began', () => {
    // Dropouts at 2, 7 and 12 s of the take; zone changes at 0 and 6 s; 60 flexes in 60 s.
    const take = takeOf({ id: 1, check: ground, start: 0, verdict: 'intermittent', dropouts: 3, account: { flexes: 60, zoneChanges: [{ at: 0, zone: 'gantry, in the loom' }, { at: 6, zone: 'over the gantry hinge' }] } });
    expect(caseReadings([take], [meter], alder7Chart, known).map((reading) => reading.flexing)).toEqual([
      { flexes: 6, dropouts: 1, parts: ['S3 to C2/4'] }, { flexes: 54, dropouts: 2, parts: ['C1/3 to C2/1', 'C2/4 to C1/6'] },
    ]);
  });

  it('leads from takes to the span that drops out', () => {
    const take = takeOf({ id: 1, check: ground, start: 0, verdict: 'intermittent', dropouts: 4, account: { flexes: 40, zoneChanges: [{ at: 0, zone: 'gantry, in the loom' }, { at: 30, zone: 'over the gantry hinge' }] } });
    const readings = caseReadings([take], [meter], alder7Chart, known);
    const read = readCase({ chart: alder7Chart, readings });
    if (read.kind !== 'case') throw new Error('case');
    expect(locateCase(read.case, 1).faults[0]).toMatchObject({ at: 'S3 to C2/4', intermittent: true });
  });

  it('does not take a silent drive for flexing', () => {
    expect(caseReadings([takeOf({ id: 1, check: ground, start: 0, verdict: 'undecided', watching: 'road' })], [meter], alder7Chart, known)[0]?.flexing).toBeUndefined();
  });
});
