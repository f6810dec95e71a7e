import { describe, expect, it } from 'vitest';
import { judgementAsJson } from '../../server/commands/judge-output.ts';
import { judgementAsText } from '../../server/commands/judge-text.ts';
import type { BreakFinding } from '../../server/diagnosis/judgement.ts';
import { roadReport } from '../../server/session/index.ts';
import type { MarkRecord } from '../../server/session/index.ts';
import { judgeShown, quiet } from '../diagnosis/setup.ts';

/** A jolt every 40 s for ten minutes, marked a little late; with each but the third a dropout. */
const bumps = Array.from({ length: 15 }, (_, k) => 20 + 40 * k);
const values = quiet(12.1, 6000).map((value, i) => (bumps.some((at, k) => k !== 2 && i >= 10 * (at + 1) && i < 10 * (at + 1) + 2) ? 0.2 : value));
const judgement = judgeShown(values, { watching: 'road' });
const marks = bumps.map((at, k): MarkRecord => ({ id: k + 1, take: 1, at: at + 1.8, text: 'bump' }));
const time = Array.from({ length: 6000 }, (_, i) => i / 10);
const motion = { time, size: time.map((t) => (bumps.some((at) => t > at && t < at + 3) ? 6 : 0.2 + (t % 1) / 10)) };

describe('judge tells of a road take', () => {
  const road = roadReport({ start: 0, end: 600 }, judgement, marks, motion);
  it('each kind of mark, motion, and each stretch with its limits, as text', () => {
    const text = judgementAsText(judgement, { zones: null, road });
    expect(text).toContain('14 of 14 separate dropouts began near 15 marks of "bump"');
    expect(text).toMatch(/Motion: \d+ began in .* of the roughest fifth, \d+ in .* of the rest, chance of that by coincidence/);
    expect(text.match(/^ {2}from .* an hour \(.* to .*\)$/gm)).toHaveLength(6);
    expect(text).toContain('drift from beginning to end, chance of that by coincidence');
    expect(judgementAsText(judgement, { zones: null, road: roadReport({ start: 0, end: 600 }, judgement, marks, null) })).toContain('No motion was recorded.');
  });
  it('and as JSON', () => {
    expect(judgementAsJson(judgement, { zones: null, road })).toMatchObject({
      road: { dropouts: 14, by_mark: [{ text: 'bump', marks: 15, near: 14, away: 0 }], by_motion: { near: road.byMotion!.near, p: road.byMotion!.p }, since_start: { p: road.sinceStart.p } },
      several: null,
    });
  });
});

it('judge tells what several meters say together: sentence, places with their chances, and who saw what', () => {
  const several: BreakFinding = {
    meters: ['CL+ to B-', 'F4/2 to B-'], message: 'The break lies between F4/2 and CL+.',
    places: [{ place: { kind: 'between', from: 'F4/2', to: 'CL+' }, chance: 0.93 }, { place: { kind: 'leads', meter: 'CL+ to B-' }, chance: 0.05 }],
    coincidences: [{ start: 5, end: 5.2, seenBy: ['CL+ to B-'], missedBy: ['F4/2 to B-'], blind: [] }],
  };
  const text = judgementAsText({ ...judgement, several });
  expect(text).toContain('Several meters:\n  The break lies between F4/2 and CL+.\n  93 %: between F4/2 and CL+\n  5 %: the leads of CL+ to B-\n');
  expect(judgementAsJson({ ...judgement, several })).toMatchObject({
    several: { meters: several.meters, places: [{ kind: 'between', from: 'F4/2', to: 'CL+', chance: 0.93 }, { kind: 'leads' }], coincidences: [{ start_s: 5, seen_by: ['CL+ to B-'], missed_by: ['F4/2 to B-'] }] },
  });
});
