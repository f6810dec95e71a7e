import { describe, expect, it } from 'vitest';
import { alder7Checks } from '../../server/demo/index.ts';
import { proofOf, proofsOf } from '../../server/session/proof.ts';
import type { Repair } from '../../server/session/repair.ts';
import type { Check } from '../../server/session/session.ts';
import type { TakeSketch } from '../support/takes.ts';
import { takeOf } from '../support/takes.ts';

const ground = alder7Checks.find((check) => check.id === 'ground CL-') as Check;
const supply = alder7Checks.find((check) => check.id === 'supply CL+') as Check;
const repair: Repair = { number: 1, at: 1000, text: 'Crimp at S3 made new', place: 'S3 to C2/4', photos: [] };
const again: Repair = { ...repair, number: 2, at: 5000, text: 'Crimp at S3 made new once more' };
const before = (more: Partial<TakeSketch> = {}) => takeOf({ id: 1, check: ground, start: 100, verdict: 'intermittent', dropouts: 5, ...more });
const after = (more: Partial<TakeSketch> = {}) => takeOf({ id: 2, check: ground, start: 2000, verdict: 'pass', ...more });

describe('proofOf(takes, repairs)', () => {
  it('asks for the check that failed again', () => {
    const proof = proofOf([before(), takeOf({ id: 3, check: supply, start: 200, verdict: 'pass' })], [repair]);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows).toHaveLength(1);
    expect(proof.rows[0]?.missing).toEqual(['Repeat "ground, red on CL-, black on B-" as a wiggle take.']);
  });

  it('takes 60 clean seconds after 5 dropouts in 60 s for proof: p = 0.031', () => {
    // (1/2)^5 = 0.03125: conditional binomial by hand (Przyborowski and Wilenski 1940).
    const proof = proofOf([before(), after()], [repair]);
    expect(proof.state).toBe('proved');
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.03125, 6);
  });

  it('is not content with 20 clean seconds, and says how many more', () => {
    // ((60)/(80))^5 = 0.237 now; (60/(60 + t))^5 <= 0.05 from t = 49.3 s.
    const proof = proofOf([before(), after({ elapsed: 20 })], [repair]);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.75 ** 5, 6);
    expect(proof.rows[0]?.missing[0]).toMatch(/^30 more clean seconds show that it made a difference \(chance of such a silence without it now 24 %\)\.$/);
  });

  it('adds clean takes of the same condition together, before and after alike', () => {
    const proof = proofOf([before(), after({ elapsed: 20 }), after({ id: 4, start: 2100, elapsed: 40 })], [repair]);
    expect(proof.rows[0]?.comparison).toMatchObject({ after: { dropouts: 0, exposure: 60 } });
    expect(proof.state).toBe('proved');
    // A clean minute before the repair was the same fault: 5 in 120 s, then (2/3)^5 for 60 clean ones.
    const calmer = proofOf([before(), before({ id: 5, start: 300, verdict: 'pass', dropouts: 0 }), after()], [repair]);
    expect(calmer.rows[0]?.comparison?.p).toBeCloseTo((2 / 3) ** 5, 6);
    expect(calmer.state).toBe('not-yet');
  });

  it('counts flexes where both takes counted them', () => {
    const proof = proofOf([before({ account: { flexes: 30 } }), after({ account: { flexes: 90 }, elapsed: 20 })], [repair]);
    expect(proof.rows[0]?.comparison).toMatchObject({ per: 'flex', before: { dropouts: 5, exposure: 30 }, after: { dropouts: 0, exposure: 90 } });
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.25 ** 5, 9);
    expect(proof.state).toBe('proved');
  });

  it('counts only the zones that dropped out, and asks for them again', () => {
    // All five dropouts (102 to 122 s) in zone A, flexed for 30 s; zone B for the other 30.
    const first = before({ account: { zoneChanges: [{ at: 100, zone: 'A' }, { at: 130, zone: 'B' }] } });
    const elsewhere = proofOf([first, after({ account: { zoneChanges: [{ at: 2000, zone: 'B' }] } })], [repair]);
    expect(elsewhere.rows[0]?.missing).toEqual(['Flex where it dropped out before: A.']);
    const there = proofOf([first, after({ account: { zoneChanges: [{ at: 2000, zone: 'B' }, { at: 2050, zone: 'A' }] } })], [repair]);
    // 5 in 30 s, then 10 clean ones: (3/4)^5.
    expect(there.rows[0]?.comparison?.p).toBeCloseTo(0.75 ** 5, 6);
    expect(there.state).toBe('not-yet');
  });

  it.each<[string, Partial<TakeSketch>, Partial<TakeSketch>, RegExp]>([
    ['a spot take after a wiggle take', {}, { watching: 'spot' }, /repeat it as a wiggle take, a spot take is not enough/],
    ['a wiggle take after a road take', { watching: 'road' }, {}, /repeat it as a road take, a wiggle take is not enough/],
    ['another condition', { account: { condition: 'gantry folding' } }, { account: { condition: 'at rest' } }, /condition that failed must be repeated: gantry folding \(after the repair it was at rest\)/],
    ['no condition noted', { account: { condition: 'engine hot' } }, {}, /engine hot \(none was noted after the repair\)/],
    ['less provocation', { account: { provocations: [{ at: 101, provocations: ['flex', 'damp'] }] } }, { account: { provocations: [{ at: 2001, provocations: ['flex'] }] } }, /Provoke it as before: damp\./],
    ['wider limits', {}, { check: { ...ground, limits: { low: null, high: 2 } } }, /limits are not those of before/],
    ['an easier claim', {}, { claim: { per: 'second', rate: 1, length: 0.1 } }, /asks less of a clean take than before/],
    ['an undecided take', {}, { verdict: 'undecided', reason: 'No dropout so far, needs 20 more flexes.' }, /needs 20 more flexes/],
  ])('is not proved by %s', (_, first, second, missing) => {
    const proof = proofOf([before(first), after(second)], [repair]);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows[0]?.missing.join(' ')).toMatch(missing);
  });

  it('takes a stricter claim, and one that is as strict in other words', () => {
    expect(proofOf([before(), after({ claim: { per: 'second', rate: 0.01, length: 0.1 } })], [repair]).state).toBe('proved');
  });

  it('has failed when it dropped out after the repair, whatever passed before or since', () => {
    expect(proofOf([before(), after(), after({ id: 4, start: 3000, verdict: 'intermittent', dropouts: 1 })], [repair]).state).toBe('failed');
    expect(proofOf([before(), after({ verdict: 'intermittent', dropouts: 1 }), after({ id: 4, start: 3000 })], [repair]).state).toBe('failed');
  });

  it('needs no statistics where a level failed: the level passes', () => {
    const failing = takeOf({ id: 1, check: ground, start: 100, verdict: 'fail', watching: 'spot', value: 1.9 });
    expect(proofOf([failing, after({ watching: 'spot' })], [repair])).toMatchObject({ state: 'proved', words: 'Proved: the check that failed passes under the condition that failed.' });
  });

  it('lets a spot reading that failed be taken again: a lead may have slipped', () => {
    const failing = takeOf({ id: 1, check: ground, start: 100, verdict: 'fail', watching: 'spot', value: 1.9 });
    const slipped = after({ watching: 'spot', verdict: 'fail' });
    expect(proofOf([failing, slipped], [repair]).state).toBe('failed');
    expect(proofOf([failing, slipped, after({ id: 3, start: 2100, watching: 'spot' })], [repair]).state).toBe('proved');
  });

  it('does not let a good reading before the repair clear a take that dropped out', () => {
    for (const watching of ['spot', 'wiggle'] as const) {
      const proof = proofOf([before(), takeOf({ id: 5, check: ground, start: 300, verdict: 'pass', watching })], [repair]);
      expect(proof.rows.map((row) => row.before.id)).toEqual([1]);
    }
  });

  it('says that the circuit is not in order when another check fails since the repair', () => {
    const proof = proofOf([before(), after(), takeOf({ id: 6, check: supply, start: 2500, verdict: 'fail', watching: 'spot' })], [repair]);
    expect(proof).toMatchObject({ state: 'failed', words: 'Not in order: "switched supply, red on CL+, black on B-" fails now, and had not failed before the repair.' });
    expect(proof.fresh.map((take) => take.id)).toEqual([6]);
  });

  it('holds a second repair against the takes since the first, and keeps open what the first left open', () => {
    const other = takeOf({ id: 7, check: supply, start: 200, verdict: 'fail', watching: 'spot' });
    const still = after({ verdict: 'intermittent', dropouts: 5 });
    const clean = after({ id: 8, start: 6000 });
    const [first, second] = proofsOf([before(), other, still, clean], [repair, again]);
    expect(first?.state).toBe('failed');
    expect(second).toMatchObject({ state: 'not-yet', repair: { number: 2 } });
    expect(second?.rows.map((row) => [row.before.id, row.state])).toEqual([[2, 'proved'], [7, 'not-yet']]);
    const supplied = takeOf({ id: 9, check: supply, start: 6500, verdict: 'pass', watching: 'spot' });
    expect(proofOf([before(), other, still, clean, supplied], [repair, again]).state).toBe('proved');
  });

  it('asks nothing more of a check that an earlier repair was proved by', () => {
    const other = takeOf({ id: 7, check: supply, start: 3000, verdict: 'fail', watching: 'spot' });
    const proof = proofOf([before(), after(), other], [repair, again]);
    expect(proof.rows.map((row) => row.before.id)).toEqual([7]);
  });

  it('says that nothing can be shown without a repair, or without a failure before it', () => {
    expect(proofOf([before()], [])).toMatchObject({ state: 'none', words: 'No repair is noted yet.' });
    expect(proofOf([after({ start: 10 })], [repair]).state).toBe('none');
  });

  describe('with a check that failed for another reason', () => {
    const lamp = takeOf({ id: 3, check: supply, start: 200, verdict: 'fail', watching: 'spot' });
    const aside = { check: supply, reason: 'The lamp itself is broken', at: 1500 };

    it('is proved without it once it is set aside, and says so wherever it speaks', () => {
      expect(proofOf([before(), lamp, after()], [repair]).state).toBe('not-yet');
      const proof = proofOf([before(), lamp, after()], [repair], [aside]);
      expect(proof).toMatchObject({ state: 'proved', rows: [{ check: { id: ground.id } }], aside: [{ take: { id: 3 }, reason: 'The lamp itself is broken' }] });
      expect(proof.words).toBe(`Proved: the check that failed passes under the condition that failed. Set aside as failing for another reason: "switched supply, red on ${supply.red}, black on ${supply.black}" (The lamp itself is broken).`);
    });

    it('counts again when a later take of it fails, and is an ordinary row when one passes', () => {
      const failsAgain = takeOf({ id: 6, check: supply, start: 2500, verdict: 'fail', watching: 'spot' });
      expect(proofOf([before(), lamp, after(), failsAgain], [repair], [aside])).toMatchObject({ state: 'failed', aside: [] });
      expect(proofOf([before(), lamp, after(), failsAgain], [repair], [{ ...aside, at: 2600 }]).state).toBe('proved');
      const passes = takeOf({ id: 6, check: supply, start: 2500, verdict: 'pass', watching: 'spot' });
      expect(proofOf([before(), lamp, after(), passes], [repair], [aside])).toMatchObject({ state: 'proved', rows: [{}, {}], aside: [] });
    });

    it('sets aside a check that fails only since the repair, and no other one', () => {
      const since = takeOf({ id: 6, check: supply, start: 1200, verdict: 'fail', watching: 'spot' });
      expect(proofOf([before(), since, after()], [repair], [aside])).toMatchObject({ state: 'proved', fresh: [], aside: [{ take: { id: 6 } }] });
      expect(proofOf([before(), since, after()], [repair], [{ ...aside, check: { ...supply, red: 'elsewhere' } }]).state).toBe('failed');
    });

    it('proves nothing when nothing else had failed', () => {
      expect(proofOf([lamp, after()], [repair], [aside])).toMatchObject({ state: 'none', rows: [] });
    });

    it('what was said after the next repair does not change what the first one had proved', () => {
      const [first, second] = proofsOf([before(), lamp, after(), after({ id: 7, start: 5100 })], [repair, again], [{ ...aside, at: 5500 }]);
      expect(first!.state).toBe('not-yet');
      expect(second!.aside).toHaveLength(1);
    });
  });
});
