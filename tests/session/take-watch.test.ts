import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import type { MarkKind, MarkRecord, MeterRecord, TakeRecord, Check } from '../../server/session/session.ts';
import { accountOf, exposureOf, PROOF_TIME } from '../../server/session/take-account.ts';
import { TakeWatch } from '../../server/session/take-watch.ts';
import { zonesAlong } from '../../server/session/harness-zones.ts';
import { columnsOf, Random } from '../signals/index.ts';
import { quiet } from '../diagnosis/setup.ts';

const METER: MeterRecord = {
  index: 0, address: 'test', label: 'test', simulated: false, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 2 }, leadOhms: null,
};
const SUPPLY: Check = {
  id: 'supply', kind: 'supply', red: 'CL+', black: 'B-', limits: { low: 11, high: null }, limitsBasis: 'test', condition: '', instructions: [], cautions: [],
};
const take = (changes: Partial<TakeRecord> = {}): TakeRecord => ({
  id: 1, check: SUPPLY, watching: 'wiggle', meter: 0, start: 0, end: null, ending: 'running', ...changes,
});
let lastMark = 0;
const mark = (at: number, kind: MarkKind, text: string, count?: number): MarkRecord => ({ id: ++lastMark, take: 1, at, text, kind, ...(count === undefined ? {} : { count }) });

/** A quiet supply at 10 readings/s with an open of 0.2 s at each of the given times. */
function supply(seconds: number, opens: readonly number[] = [], level = 12): ReturnType<typeof columnsOf> {
  return columnsOf(quiet(level, seconds * 10).map((value, i) => (opens.some((at) => i / 10 >= at && i / 10 < at + 0.2) ? 0 : value)), 0.1);
}

function judged(record: TakeRecord, samples: ReturnType<typeof columnsOf>, marks: readonly MarkRecord[] = [], end = samples.length / 10) {
  const watch = new TakeWatch(record, METER);
  for (const one of marks) watch.note(one);
  watch.push(samples);
  return watch.view(end);
}

describe('the state that a check asks for', () => {
  const lamp = take({ check: { ...SUPPLY, condition: 'key on, lamp on' } });
  const flexed = [mark(0, 'flex', 'flexes', 70)];

  it('keeps a good reading undecided until the operator says that it is met, and says which state', () => {
    const { judgement } = judged(lamp, supply(40), flexed);
    expect(judgement.verdict).toBe('undecided');
    expect(judgement.reasons[0]).toContain('key on, lamp on');
    expect(judged(lamp, supply(40), [...flexed, mark(1, 'condition', 'key on, lamp on')]).judgement.verdict).toBe('pass');
  });

  it('is taken back by the operator, and a word for another state does not stand for it', () => {
    expect(judged(lamp, supply(40), [...flexed, mark(1, 'condition', 'key on, lamp on'), mark(2, 'condition', '')]).judgement.verdict).toBe('undecided');
    expect(judged(lamp, supply(40), [...flexed, mark(1, 'condition', 'key off')]).judgement.verdict).toBe('undecided');
  });
});

describe('the rig proof', () => {
  const proof = (from: number) => [mark(from, 'rig-proof', 'begin'), mark(from + PROOF_TIME, 'rig-proof', 'end')];

  it('is asked for first, and again after the first dropout', () => {
    expect(judged(take(), supply(10)).rig.state).toBe('unproved');
    expect(judged(take(), supply(10), [mark(2, 'rig-proof', 'begin')]).rig).toMatchObject({ state: 'proving', until: 12 });
    expect(judged(take(), supply(30), proof(2)).rig.state).toBe('proved');
    expect(judged(take(), supply(30, [20]), proof(2)).rig.state).toBe('again');
    expect(judged(take(), supply(50, [20]), [...proof(2), ...proof(30)]).rig.state).toBe('proved');
  });

  it('that is cut short proves nothing', () => {
    expect(judged(take(), supply(30), [mark(2, 'rig-proof', 'begin'), mark(9, 'rig-proof', 'end')]).rig.state).toBe('unproved');
  });

  it('with a dropout in it makes the take undecided, not intermittent, and says that the leads slip', () => {
    const { judgement, rig } = judged(take(), supply(40, [6, 30]), proof(2));
    expect(rig).toMatchObject({ state: 'loose', dropouts: 1 });
    expect(judgement.verdict).toBe('undecided');
    expect(judgement.reasons[0]).toMatch(/leads slip.*once/);
    // The same dropout outside the proof is one of the circuit.
    expect(judged(take(), supply(40, [15, 30]), proof(2)).judgement.verdict).toBe('intermittent');
  });

  it('does not acquit a circuit that fails all the time', () => {
    expect(judged(take(), supply(40, [6], 5), proof(2)).judgement.verdict).toBe('fail');
  });

  it('says beside an intermittent that nobody proved the leads', () => {
    expect(judged(take(), supply(40, [20])).judgement.reasons.join(' ')).toMatch(/leads are not proved/);
  });
});

describe('exposure of a wiggle take', () => {
  it('leaves out rig proofs and gaps, and counts the zones only where zones were named', () => {
    const proofs = [mark(0, 'rig-proof', 'begin'), mark(10, 'rig-proof', 'end')];
    expect(exposureOf(accountOf([], 60), 0, 60, [])).toBeUndefined();
    expect(exposureOf(accountOf(proofs, 60), 0, 60, [])).toEqual({ flexes: 0, flexedTime: 50 });
    expect(exposureOf(accountOf(proofs, 60), 0, 60, [{ start: 5, end: 15 }, { start: 50, end: 60 }])).toEqual({ flexes: 0, flexedTime: 35 });
    const zones = [...proofs, mark(20, 'zone', 'hinge'), mark(30, 'flex', '2 flexes', 2), mark(40, 'zone', '')];
    expect(exposureOf(accountOf(zones, 60), 0, 60, [])).toEqual({ flexes: 2, flexedTime: 20 });
  });

  it('a proof takes the hands off the zone that was flexed', () => {
    const account = accountOf([mark(5, 'zone', 'hinge'), mark(10, 'rig-proof', 'begin')], 15);
    expect(account.zoneChanges).toEqual([{ at: 5, zone: 'hinge' }, { at: 10, zone: null }]);
    expect(account.flexing).toEqual([{ start: 5, end: 10 }]);
  });

  it('a take passes by its flexed time, not by the time of the proof', () => {
    // 0.05 per flexed second at 95 %: -ln(0.05) / 0.05 = 59.9 s (exact Poisson limit for no events, here with a sure catch).
    const proofs = [mark(0, 'rig-proof', 'begin'), mark(10, 'rig-proof', 'end')];
    expect(judged(take(), supply(64), proofs).judgement.verdict).toBe('undecided');
    expect(judged(take(), supply(72), proofs).judgement.verdict).toBe('pass');
  });
});

describe('zones', () => {
  it('names the zone in which it drops out, and leaves dropouts of a rig proof out', () => {
    const zones = ['rail', 'hinge', 'gantry'];
    const marks = zones.flatMap((zone, k) => [mark(20 * k, 'zone', zone), mark(20 * (k + 3), 'zone', zone)]).sort((a, b) => a.at - b.at);
    const opens = [24, 27, 31, 34, 37, 84, 88, 92, 96];
    const { zones: report } = judged(take({ zones }), supply(120, opens), marks);
    expect(report?.source).toBe('hinge');
    expect(report?.zones.map(({ zone }) => zone)).toEqual(zones);
    const proved = judged(take({ zones }), supply(40, [3]), [mark(0, 'rig-proof', 'begin'), mark(10, 'rig-proof', 'end'), mark(12, 'zone', 'rail')]);
    expect(proved.zones?.zones.map(({ dropouts }) => dropouts)).toEqual([0, 0, 0]);
  });

  it('follow the chart between the leads, and from the battery for a supply', () => {
    const zone = (id: string) => zonesAlong(alder7Chart, alder7Checks.find((check) => check.id === id)!);
    expect(zone('ground CL-')).toEqual([
      'gantry to conveyor clutch', 'gantry, in the loom', 'over the gantry hinge', 'frame rail, left, to the ground stud', 'ground stud to battery tray',
    ]);
    expect(zone('supply CL+')).toEqual(['battery tray to fuse box', 'inside the fuse box', 'frame rail, left', 'over the gantry hinge', 'gantry to conveyor clutch']);
    expect(zonesAlong(alder7Chart, { kind: 'ground', red: 'nowhere', black: 'B-' })).toEqual([]);
  });
});

describe('the battery beside the take', () => {
  function beside(opens: readonly number[], dips: readonly number[]) {
    const watch = new TakeWatch(take({ reference: 1 }), METER, { ...METER, index: 1 });
    watch.push(supply(60, opens));
    watch.pushReference(supply(60, dips, 12.5));
    return watch.view(60);
  }

  it('acquits the harness when both dip together, and not when the battery stayed', () => {
    const both = beside([20, 30], [20, 30]);
    expect(both.judgement.verdict).toBe('undecided');
    expect(both.judgement.reasons[0]).toMatch(/source, not the harness/);
    const one = beside([20, 30], [20]);
    expect(one.source).toMatchObject({ together: 1, alone: 1, blind: 0 });
    expect(one.judgement.verdict).toBe('intermittent');
    expect(beside([20, 30], []).source).toMatchObject({ together: 0, alone: 2 });
  });
});

describe('readings that can not be what the check asks for', () => {
  it('are not judged: AC volts at a DC check, a held maximum, leads the wrong way round', () => {
    const spot = take({ watching: 'spot' });
    const ac = columnsOf(quiet(0.02, 40), 0.1, { coupling: 'ac' });
    expect(judged(spot, ac).judgement).toMatchObject({ verdict: 'undecided', levelVerdict: 'undecided' });
    expect(judged(spot, ac).judgement.reasons[0]).toMatch(/on AC/);
    expect(judged(spot, columnsOf(quiet(0.02, 40), 0.1)).judgement.verdict).toBe('fail');
    const held = columnsOf(quiet(12, 40), 0.1);
    held.flags.fill(Flag.maximum);
    expect(judged(spot, held).judgement.reasons[0]).toMatch(/maximum/);
    const reversed = judged(spot, columnsOf(quiet(-12, 40), 0.1)).judgement;
    expect(reversed.verdict).toBe('undecided');
    expect(reversed.reasons[0]).toMatch(/-12 V.*wrong way round.*Red goes on CL\+/);
    // A reversed lead at a bad ground would read far below the limit: it must not pass.
    const ground = take({ watching: 'spot', check: { ...SUPPLY, kind: 'ground', red: 'CL-', limits: { low: null, high: 0.3 } } });
    expect(judged(ground, columnsOf(quiet(-1.9, 40), 0.1)).judgement.verdict).toBe('undecided');
  });
});

describe('a part of a take that can not be what the check asks for', () => {
  const flexed = [mark(0, 'flex', 'flexes', 70)];
  const ohms = { quantity: 'resistance', coupling: 'none', resolution: 0.1 } as const;
  const continuity = (watching: 'wiggle' | 'spot') => take({ watching, check: { ...SUPPLY, kind: 'continuity', limits: { low: null, high: 5 } } });
  const fed = (record: TakeRecord, parts: readonly ReturnType<typeof columnsOf>[], end: number) => {
    const watch = new TakeWatch(record, { ...METER, leadOhms: 0 });
    for (const one of flexed) watch.note(one);
    for (const part of parts) watch.push(part);
    return watch.view(end).judgement;
  };
  const calm = (seconds: number, start = 0, level = 2) => columnsOf(quiet(level, seconds * 10, 7 + start, 0.02, 0.1), 0.1, { ...ohms, start });

  it('passes where there is none, and keeps the same take undecided where it ends on a live circuit, whose jumps are no dropouts of the wire', () => {
    expect(fed(continuity('wiggle'), [calm(40)], 40).verdict).toBe('pass');
    const random = new Random(11);
    const rippling = Array.from({ length: 25 }, () => Math.round(20 - 19 * random.uniform()) / 10);
    const live = fed(continuity('wiggle'), [calm(40), columnsOf(rippling, 0.1, { ...ohms, start: 40 })], 42.5);
    expect(live.reasons.join(' ')).toMatch(/behaved like a live one on ohms/);
    expect(live).toMatchObject({ verdict: 'undecided', levelVerdict: 'undecided' });
    const below = fed(continuity('wiggle'), [calm(20), calm(1, 20, -3), calm(20, 21)], 41);
    expect(below.verdict).toBe('undecided');
    expect(below.reasons.join(' ')).toMatch(/behaved like a live one on ohms for 900 ms/);
  });

  it.each([['at the beginning', 0], ['in the middle', 20], ['at the end', 40]])('is undecided when the meter was on another function %s', (_when, at) => {
    const wrong = columnsOf(quiet(400, 10), 0.1, { ...ohms, start: at });
    const volts = (seconds: number, start: number) => (seconds === 0 ? [] : [columnsOf(quiet(12, seconds * 10), 0.1, { start })]);
    expect(fed(take(), [...volts(at, 0), ...volts(41 - at, at + 1)], 42).verdict).toBe('pass');
    const judgement = fed(take(), [...volts(at, 0), wrong, ...volts(41 - at, at + 1)], 42);
    expect(judgement.verdict).toBe('undecided');
    expect(judgement.reasons[0]).toMatch(/^10 readings were in another function/);
  });

  it('leaves a spot take to its contact: the dial turned right before it costs nothing, ohms below zero before it do', () => {
    const wrong = columnsOf(quiet(12, 60), 0.1);
    expect(fed(continuity('spot'), [wrong, calm(4, 6)], 10).verdict).toBe('pass');
    const live = fed(continuity('spot'), [calm(1, 0, -3), calm(4, 1)], 5);
    expect(live).toMatchObject({ verdict: 'undecided', levelVerdict: 'undecided' });
  });

  it('does not take an intermittent back', () => {
    const alternating = columnsOf(quiet(12, 10), 0.1, { start: 40, coupling: 'ac' });
    const judgement = fed(take(), [supply(40, [20]), alternating], 41);
    expect(judgement.verdict).toBe('intermittent');
    expect(judgement.reasons[1]).toMatch(/on AC for/);
  });
});

describe('a system of 24 V', () => {
  it('is what an open lifts a ground to: half as long a break shows as on 12 V', () => {
    const grounded = (supply?: number) => judged(take({ check: { ...SUPPLY, kind: 'ground', red: 'CL-', limits: { low: null, high: 0.5 }, ...(supply === undefined ? {} : { supply }) } }),
      columnsOf(quiet(0.2, 300, 4, 0.002, 0.001), 0.1, { resolution: 0.001 })).judgement.shortestVisibleDropout!;
    // The lost area of a short open is depth times length (definitions: D d / A), so that twice the depth halves the length.
    expect(grounded() / grounded(24)).toBeCloseTo((24 - 0.2) / (12 - 0.2), 2);
    expect(grounded(12)).toBe(grounded());
  });
});

describe('the same take from the file', () => {
  it('gives the same answer however the samples and marks were fed', () => {
    const marks = [mark(0, 'rig-proof', 'begin'), mark(10, 'rig-proof', 'end'), mark(12, 'zone', 'rail'), mark(40, 'zone', 'hinge')];
    const samples = supply(80, [45, 60]);
    const whole = judged(take({ zones: ['rail', 'hinge'] }), samples, marks, 80);
    const watch = new TakeWatch(take({ zones: ['rail', 'hinge'] }), METER);
    for (let from = 0; from < samples.length; from += 7) {
      const part = <Column extends Float64Array | Uint16Array | Uint8Array>(column: Column): Column => column.slice(from, from + 7) as Column;
      const { time, value, resolution, flags, functionCode } = samples;
      watch.push({ length: part(time).length, time: part(time), value: part(value), resolution: part(resolution), flags: part(flags), functionCode: part(functionCode) });
      for (const one of marks) if (one.at >= from / 10 && one.at < (from + 7) / 10) watch.note(one);
      watch.view((from + 7) / 10);
    }
    expect(watch.view(80)).toEqual(whole);
  });
});
