import { describe, expect, it } from 'vitest';
import type { LiveState } from '../../server/live/protocol.ts';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import type { Check, MarkRecord } from '../../server/session/session.ts';
import { isRigProof, rigProofOf, rigState } from '../../web/wiggle/rig-proof.ts';
import { wiggleRecord, zoneNow, zoneReport } from '../../web/wiggle/zone-record.ts';
import { nextZone } from '../../web/wiggle/run.ts';
import { laneItems } from '../../web/trace/lane.ts';

const CHECK: Check = {
  id: 'ground CL-', kind: 'ground', red: 'CL-', black: 'B-', limits: { low: null, high: 0.3 }, limitsBasis: '', condition: 'clutch on', instructions: [], cautions: [],
};
const PROOF = rigProofOf(CHECK, 'harness still', 'tug');

function ended(check: Check, dropouts: number, length = 10, watching: 'wiggle' | 'spot' = 'wiggle'): LiveState['ended'][number] {
  return { take: { id: 1, check, watching, meter: 0, start: 100, end: 100 + length, ending: 'stopped' }, verdict: 'undecided', dropouts };
}

// Rig proof: harness still, leads tugged for 10 s, before and again after the first dropout (common practice, no source).
describe('rigState(check, ended, running)', () => {
  it('is unproved until the leads of this check were tugged for the whole time', () => {
    expect(rigState(CHECK, [], 0).state).toBe('unproved');
    expect(rigState(CHECK, [ended(CHECK, 3)], 0).state).toBe('unproved');
    expect(rigState(CHECK, [ended(PROOF, 0, 4)], 0).state).toBe('unproved');
    expect(rigState(CHECK, [ended({ ...PROOF, red: 'LP-' }, 0)], 0).state).toBe('unproved');
    expect(rigState(CHECK, [ended(PROOF, 0)], 0).state).toBe('proved');
  });

  it('is loose while the newest proof dropped out, however short it was', () => {
    expect(rigState(CHECK, [ended(PROOF, 2, 3), ended(PROOF, 0)], 0)).toEqual({ state: 'loose', dropouts: 2 });
    expect(rigState(CHECK, [ended(PROOF, 0), ended(PROOF, 2)], 0).state).toBe('proved');
  });

  it('asks again after the first dropout, in the running take or in an ended one', () => {
    expect(rigState(CHECK, [ended(PROOF, 0)], 1).state).toBe('again');
    expect(rigState(CHECK, [ended(CHECK, 1), ended(PROOF, 0)], 0).state).toBe('again');
    expect(rigState(CHECK, [ended(PROOF, 0), ended(CHECK, 1), ended(PROOF, 0)], 0).state).toBe('proved');
    expect(rigState(CHECK, [ended(CHECK, 1, 5, 'spot'), ended(PROOF, 0)], 0).state).toBe('proved');
  });

  it('knows its own check, also of a proof of a proof', () => {
    expect(isRigProof(PROOF)).toBe(true);
    expect(isRigProof(CHECK)).toBe(false);
    expect(rigProofOf(PROOF, 'x', 'y').id).toBe(PROOF.id);
  });
});

const zone = (at: number, text: string): MarkRecord => ({ id: at, take: 1, at, text, kind: 'zone' });
const judged = (dropouts: number[]): Judgement => ({ dropouts: dropouts.map((start) => ({ start, end: start + 0.1, count: 1 })), sags: [], shifts: [], gaps: [] }) as unknown as Judgement;

describe('the zones of a wiggle take', () => {
  const marks = [zone(10, 'boot'), { id: 3, take: 1, at: 12, text: 'noise' }, zone(30, 'rail'), zone(50, ''), zone(60, 'rail')];

  it('are what the marks say, with what they name added to those that were named before', () => {
    expect(zoneNow(marks)).toBe('rail');
    expect(zoneNow([zone(1, 'a'), zone(2, '')])).toBe(null);
    const record = wiggleRecord(['rail', 'dash'], marks, judged([40]), 70);
    expect(record.zones).toEqual(['rail', 'dash', 'boot']);
    expect(record.changes).toEqual([{ at: 10, zone: 'boot' }, { at: 30, zone: 'rail' }, { at: 50, zone: null }, { at: 60, zone: 'rail' }]);
  });

  it('lead to the one in which the dropouts fall', () => {
    const report = zoneReport(wiggleRecord(['rail', 'boot'], marks, judged([35, 38, 41, 44, 47, 63, 66, 69]), 70))!;
    expect(report.source).toBe('rail');
    expect(report.zones[0]!.dropouts).toBe(8);
    expect(zoneReport(wiggleRecord(['rail'], [], judged([1]), 2))).toBe(null);
  });

  it('are drawn until the next one begins', () => {
    const items = laneItems(null, marks, 70).filter((item) => item.kind === 'zone');
    expect(items.map(({ text, from, to }) => [text, from, to])).toEqual([['boot', 10, 30], ['rail', 30, 50], ['rail', 60, 70]]);
    expect(laneItems(null, marks, 70).filter((item) => item.kind === 'mark')).toHaveLength(1);
  });

  it('are paced by what the evidence asks for, else one after the other', () => {
    expect(nextZone(['a', 'b', 'c'], 'a', 'c')).toBe('c');
    expect(nextZone(['a', 'b', 'c'], 'c', 'c')).toBe('a');
    expect(nextZone(['a', 'b', 'c'], null, null)).toBe('a');
    expect(nextZone([], null, null)).toBe(null);
  });
});
