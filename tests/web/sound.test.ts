import { describe, expect, it } from 'vitest';
import { commandIn } from '../../web/sound/commands.ts';
import { HIGHEST_HZ, LOWEST_HZ, pitchOf } from '../../web/sound/pitch.ts';
import { spokenCheck, spokenPoint, spokenSentence, spokenUnits } from '../../web/sound/spoken.ts';

describe('pitchOf(quantity, value)', () => {
  it('never falls while the reading rises, and stays within two octaves', () => {
    for (const quantity of ['voltage', 'current', 'resistance'] as const) {
      const pitches = Array.from({ length: 1200 }, (_, i) => pitchOf(quantity, 10 ** (i / 100 - 4)));
      expect(pitches.every((pitch, i) => pitch >= LOWEST_HZ && pitch <= HIGHEST_HZ && (i === 0 || pitch >= pitches[i - 1]!))).toBe(true);
      expect(pitchOf(quantity, Infinity)).toBe(HIGHEST_HZ);
      expect(pitchOf(quantity, 0)).toBe(LOWEST_HZ);
    }
  });

  it('still follows a 48 V system, which a scale up to 30 V would not', () => {
    expect(pitchOf('voltage', 48, 48)).toBeGreaterThan(1.03 * pitchOf('voltage', 45, 48));
    expect(pitchOf('voltage', 25, 24)).toBeGreaterThan(pitchOf('voltage', 24, 24));
  });

  // A semitone is a factor of 2^(1/12) (ISO 16, equal temperament; from memory): plainly heard by anyone.
  it('tells a good ground from a bad one by more than three semitones', () => {
    const semitones = 12 * Math.log2(pitchOf('voltage', 1.9) / pitchOf('voltage', 0.22));
    expect(semitones).toBeGreaterThan(3);
    expect(12 * Math.log2(pitchOf('resistance', 0.39) / pitchOf('resistance', 0.04))).toBeGreaterThan(2);
  });
});

describe('sentences for the ear', () => {
  it('spell out what a voice would swallow', () => {
    expect(spokenPoint('CL-')).toBe('CL minus');
    expect(spokenPoint('B+')).toBe('B plus');
    expect(spokenPoint('C2/4')).toBe('C2, 4');
    expect(spokenUnits('Reads 1.904 V, above 0.32 V; 0.39 Ω, 12 kΩ, 40 mA')).toBe('Reads 1.904 volts, above 0.32 volts; 0.39 ohms, 12 kiloohms, 40 milliamperes');
    expect(spokenUnits('LP+ to V3')).toBe('LP+ to V3');
    expect(spokenSentence('About 1.89 V points to S3 to C2/4, C1/6 to G2 (81 %), and B- to LP+.')).toBe('About 1.89 volts points to S3 to C2, 4, C1, 6 to G2, and B minus to LP plus.');
    expect(spokenSentence('Reads -3 V, X-ray and/or fuse F-1')).toBe('Reads -3 volts, X-ray and/or fuse F-1');
  });

  it('say where the leads go and what state the circuit must be in', () => {
    expect(spokenCheck({
      id: '', kind: 'ground', red: 'CL-', black: 'B-', limits: { low: null, high: 0.3 }, limitsBasis: '', condition: 'clutch on', instructions: [], cautions: [],
    })).toBe('Ground. Red lead on CL minus, black lead on B minus. clutch on.');
    expect(spokenCheck({ id: '', kind: 'supply', red: '', black: '', limits: { low: 11.7, high: null }, limitsBasis: '', condition: '', instructions: [], cautions: [] }))
      .toBe('Supply. Leads on the points that you want to watch.');
  });
});

describe('commandIn(what was said)', () => {
  it.each([
    ['accept', { kind: 'accept' }], ['OK.', { kind: 'accept' }], ['please repeat that', { kind: 'repeat' }], ['Skip!', { kind: 'skip' }], ['mark', { kind: 'mark' }],
    ['zone 3', { kind: 'zone', zone: 3 }], ['Zone three', { kind: 'zone', zone: 3 }], ['zone to', { kind: 'zone', zone: 2 }], ['zone 12', { kind: 'zone', zone: 12 }], ['zone zero', { kind: 'zone', zone: 0 }],
    ['hands off', { kind: 'zone', zone: 0 }], ['skip no wait accept', { kind: 'accept' }],
    ['', null], ['a remark', null], ['acceptable', null], ['zone', null], ['zone of death', null], ['off', null],
  ])('%j asks for %j', (said, command) => {
    expect(commandIn(said)).toEqual(command);
  });
});
