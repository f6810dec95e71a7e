import { describe, expect, it } from 'vitest';
import { type MeterProfile, parseProfile, profileText } from '../../server/session/meter-profile.ts';

const PROFILE: MeterProfile = {
  label: 'Bench meter', accuracy: { fraction: 0.01, counts: 5, isAssumed: true }, displayCounts: 6000, interval: 0.4, aperture: 0.3, leadOhms: 0.12, leadsNulled: '2026-11-02',
  isolated: true, calibrated: '2026-03-01', ranges: [{ quantity: 'voltage', coupling: 'dc', upTo: 6, fraction: 0.005, counts: 2 }],
};

describe('a profile as a file', () => {
  it('reads what it wrote', () => {
    expect(parseProfile(profileText(PROFILE))).toEqual({ kind: 'profile', profile: PROFILE });
  });
  it('may leave out what is not known', () => {
    expect(parseProfile('{"profile":"meter/1","ranges":[{"quantity":"resistance","fraction":0.01,"counts":3}]}')).toEqual({
      kind: 'profile', profile: { ranges: [{ quantity: 'resistance', coupling: null, upTo: null, fraction: 0.01, counts: 3 }] },
    });
  });
  it('names each fault with its place', () => {
    const parsed = parseProfile('{"profile":"meter/1","interval":-1,"ranges":[{"quantity":"volts","fraction":0.1,"counts":1}],"acuracy":1}');
    if (parsed.kind !== 'unusable') throw new Error('accepted');
    expect(parsed.faults.join('\n')).toMatch(/ranges\.0\.quantity: [^]*interval: [^]*acuracy/);
    expect(parseProfile('{').kind).toBe('unusable');
    expect(parseProfile('{"profile":"meter/1","interval":0.1,"aperture":0.2}')).toMatchObject({ kind: 'unusable' });
    expect(parseProfile('{"label":"x"}')).toMatchObject({ kind: 'unusable' });
  });
});
