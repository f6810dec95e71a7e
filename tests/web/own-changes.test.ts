import { describe, expect, it } from 'vitest';
import { clashes, ownChanges } from '../../web/frame/own-changes.ts';

const before = { vehicle: 'Alder 7', complaint: '', codes: ['P0562'] };

describe('ownChanges(before, typed), clashes(before, now, own)', () => {
  it('tells what was typed from what only stood there', () => {
    expect(ownChanges(before, { vehicle: 'Alder 7', complaint: 'lamp dies', codes: ['P0562'] })).toEqual({ complaint: 'lamp dies' });
    expect(ownChanges(before, { ...before, codes: [] })).toEqual({ codes: [] });
  });

  it('finds a clash only where both changed the same field, to something else', () => {
    const own = { complaint: 'lamp dies' };
    expect(clashes(before, { ...before, vehicle: 'Alder 8' }, own)).toEqual([]);
    expect(clashes(before, { ...before, complaint: 'lamp dies' }, own)).toEqual([]);
    expect(clashes(before, { ...before, complaint: 'clutch slips' }, own)).toEqual(['complaint']);
  });
});
