import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { cautionsFor, refusalOf } from '../../server/session/cautions.ts';
import type { CautionSituation } from '../../server/session/cautions.ts';
import type { Check, MeterRecord } from '../../server/session/session.ts';

const METER: MeterRecord = { index: 0, address: 'serial:/dev/ttyUSB0', label: '', simulated: false, interval: null, aperture: null, accuracy: null, leadOhms: null };
const check = (id: string): Check => alder7Checks.find((own) => own.id === id)!;
const situation = (changes: Partial<CautionSituation> = {}): CautionSituation => ({ check: check('ground CL-'), watching: 'spot', chart: alder7Chart, meter: METER, ...changes });
const ids = (changes: Partial<CautionSituation>): string[] => cautionsFor(situation(changes)).map(({ id }) => id);

describe('cautions', () => {
  it('come where they apply: ohms on a dead circuit, the driver on the road, the current jack, the battery', () => {
    const ohms = check('continuity CL- to B-');
    expect(ids({ check: ohms })).toContain('dead-circuit');
    expect(ids({})).not.toContain('dead-circuit');
    expect(ids({ watching: 'road' })).toContain('driver');
    expect(ids({})).not.toContain('driver');
    expect(ids({ check: { ...ohms, kind: 'current', quantity: 'current' } })).toContain('current-jack');
    expect(ids({ check: check('battery') })).toContain('battery-gas');
    expect(ids({ check: ohms })).toContain('as-found');
    expect(ids({ check: check('supply off CL+') })).toContain('as-found');
    expect(ids({})).not.toContain('as-found');
  });

  it('ask whether the cable is isolated until that is known, and only of a meter on a cable', () => {
    expect(ids({})).toContain('earthed-computer');
    expect(ids({ meter: { ...METER, isolated: true } })).not.toContain('earthed-computer');
    expect(ids({ meter: { ...METER, address: 'tcp:127.0.0.1:5025' } })).not.toContain('earthed-computer');
  });
});

describe('what is refused', () => {
  it('a point of a restraint system, by the chart or by its name, on volts as on ohms', () => {
    const chart = { ...alder7Chart, points: alder7Chart.points.map((point) => (point.id === 'S3' ? { ...point, restraint: true } : point)) };
    expect(refusalOf(situation({ chart, check: check('drop S3 to C2/4') }))?.code).toBe('RESTRAINT_SYSTEM');
    expect(refusalOf(situation({ check: check('drop S3 to C2/4') }))).toBeNull();
    for (const red of ['airbag squib 1', 'SRS module pin 4', 'belt pretensioner']) {
      expect(refusalOf(situation({ chart: null, check: { ...check('continuity CL- to B-'), red } }))?.code).toBe('RESTRAINT_SYSTEM');
    }
  });

  it('a drop on the supply side with a meter that is not isolated, but not one against battery negative', () => {
    const meter = { ...METER, isolated: false };
    expect(refusalOf(situation({ meter, check: check('drop B+ to CL+') }))?.code).toBe('METER_NOT_ISOLATED');
    expect(refusalOf(situation({ meter, check: check('drop S3 to C2/4') }))).toBeNull();
    expect(refusalOf(situation({ meter, check: check('ground CL-') }))).toBeNull();
    expect(refusalOf(situation({ meter: METER, check: check('drop B+ to CL+') }))).toBeNull();
  });
});
