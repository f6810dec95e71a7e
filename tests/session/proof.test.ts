import { describe, expect, it } from 'vitest';
import { alder7Checks } from '../../server/demo/index.ts';
import { proofOf } from '../../server/session/proof.ts';
import type { Repair } from '../../server/session/proof.ts';
import type { Check } from '../../server/session/session.ts';
import type { TakeSketch } from '../support/takes.ts';
import { takeOf } from '../support/takes.ts';

const ground = alder7Checks.find((check) => check.id === 'ground CL-') as Check;
const supply = alder7Checks.find((check) => check.id === 'supply CL+') as Check;
const repair: Repair = { at: 1000, text: 'Crimp at S3 made new', place: 'S3 to C2/4', photos: [] };
const before = (more: Partial<TakeSketch> = {}) => takeOf({ id: 1, check: ground, start: 100, verdict: 'intermittent', dropouts: 5, ...more });
const after = (more: Partial<TakeSketch> = {}) => takeOf({ id: 2, check: ground, start: 2000, verdict: 'pass', ...more });

describe('proofOf(takes, repair)', () => {
  it('asks for the check that failed again', () => {
    const proof = proofOf([before(), takeOf({ id: 3, check: supply, start: 200, verdict: 'pass' })], repair);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows).toHaveLength(1);
    expect(proof.rows[0]?.missing).toEqual(['Repeat "ground, red on CL-, black on B-" as a wiggle take.']);
  });

  it('takes 60 clean seconds after 5 dropouts in 60 s for proof: p = 0.031', () => {
    // (1/2)^5 = 0.03125: conditional binomial by hand (Przyborowski and Wilenski 1940).
    const proof = proofOf([before(), after()], repair);
    expect(proof.state).toBe('proved');
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.03125, 6);
  });

  it('is not content with 20 clean seconds, and says how many more', () => {
    // ((60)/(80))^5 = 0.237 now; (60/(60 + t))^5 <= 0.05 from t = 49.3 s.
    const proof = proofOf([before(), after({ elapsed: 20 })], repair);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.75 ** 5, 6);
    expect(proof.rows[0]?.missing[0]).toMatch(/^30 more clean s show that it made a difference \(chance of such a silence without it now 24 %\)\.$/);
  });

  it('counts flexes where both takes counted them', () => {
    const proof = proofOf([before({ account: { flexes: 30 } }), after({ account: { flexes: 90 }, elapsed: 20 })], repair);
    expect(proof.rows[0]?.comparison).toMatchObject({ per: 'flex', before: { dropouts: 5, exposure: 30 }, after: { dropouts: 0, exposure: 90 } });
    expect(proof.rows[0]?.comparison?.p).toBeCloseTo(0.25 ** 5, 9);
    expect(proof.state).toBe('proved');
  });

  it.each<[string, Partial<TakeSketch>, Partial<TakeSketch>, RegExp]>([
    ['a spot take after a wiggle take', {}, { watching: 'spot' }, /repeat it as a wiggle take, a spot take is not enough/],
    ['another condition', { account: { condition: 'gantry folding' } }, { account: { condition: 'at rest' } }, /condition that failed must be repeated: gantry folding \(after the repair it was at rest\)/],
    ['no condition noted', { account: { condition: 'engine hot' } }, {}, /engine hot \(none was noted after the repair\)/],
    ['less provocation', { account: { provocations: [{ at: 101, provocations: ['flex', 'damp'] }] } }, { account: { provocations: [{ at: 2001, provocations: ['flex'] }] } }, /Provoke it as before: damp\./],
    ['wider limits', {}, { check: { ...ground, limits: { low: null, high: 2 } } }, /limits are not those of before/],
    ['an undecided take', {}, { verdict: 'undecided', reason: 'No dropout so far, needs 20 more flexes.' }, /needs 20 more flexes/],
  ])('is not proved by %s', (_, first, second, missing) => {
    const proof = proofOf([before(first), after(second)], repair);
    expect(proof.state).toBe('not-yet');
    expect(proof.rows[0]?.missing.join(' ')).toMatch(missing);
  });

  it('has failed when the newest take fails or drops out, whatever passed between', () => {
    expect(proofOf([before(), after(), after({ id: 4, start: 3000, verdict: 'intermittent', dropouts: 1 })], repair).state).toBe('failed');
    expect(proofOf([before(), after({ verdict: 'intermittent', dropouts: 1 }), after({ id: 4, start: 3000 })], repair).state).toBe('proved');
  });

  it('needs no statistics where a level failed: the level passes', () => {
    const failing = takeOf({ id: 1, check: ground, start: 100, verdict: 'fail', watching: 'spot', value: 1.9 });
    expect(proofOf([failing, after({ watching: 'spot' })], repair)).toMatchObject({ state: 'proved', words: 'Proved: the check that failed passes under the condition that failed.' });
  });

  it('does not let a good spot reading before the repair clear a wiggle take that dropped out', () => {
    const proof = proofOf([before(), takeOf({ id: 5, check: ground, start: 300, verdict: 'pass', watching: 'spot' })], repair);
    expect(proof.rows.map((row) => row.before.id)).toEqual([1]);
  });

  it('says that nothing can be shown without a repair, or without a failure before it', () => {
    expect(proofOf([before()], null)).toMatchObject({ state: 'none', words: 'No repair is noted yet.' });
    expect(proofOf([after({ start: 10 })], repair).state).toBe('none');
  });
});
