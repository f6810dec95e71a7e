import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import { playedPitch } from '../../web/sound/played-pitch.ts';
import { HIGHEST_HZ, pitchOf } from '../../web/sound/pitch.ts';
import { TraceBuffer } from '../../web/trace/trace-buffer.ts';
import { CHECK, JUDGEMENT } from '../recordings/support/samples.ts';

const take = { judgement: { ...JUDGEMENT, interval: 1e-4 }, check: CHECK };

function buffer(times: readonly number[], reduced: boolean, flags: readonly number[] = []): TraceBuffer {
  const series = new TraceBuffer(times.length);
  series.append({
    meter: 0, take: 1, firstSeq: 1, length: times.length, reduced, replace: true, time: Float64Array.from(times),
    value: Float64Array.from(times, (_, i) => 12 - i), flags: Uint16Array.from(times, (_, i) => flags[i] ?? 0),
    resolution: new Float64Array(times.length), functionCode: new Uint8Array(times.length),
  }, take.judgement.interval);
  return series;
}

describe('playedPitch(take, samples, at)', () => {
  it('is that of the sample before, also where the trace holds only the extremes of thousands of samples', () => {
    const seen = buffer([0, 1, 2, 3, 4, 5], true);
    for (const at of [0.5, 1.99, 4.2]) expect(playedPitch(take, seen, at), `${at}`).toBe(pitchOf('voltage', 12 - Math.floor(at)));
  });

  it('is silent in a gap, before the first sample and after the last', () => {
    const seen = buffer([0, 1e-4, 2e-4, 3e-4, 4e-4, 0.1, 0.1001], false);
    expect(playedPitch(take, seen, 2.5e-4)).not.toBeNull();
    for (const at of [-1, 0.05, 0.2]) expect(playedPitch(take, seen, at), `${at}`).toBeNull();
  });

  it('is the highest at over-range, and silent where the display was blank', () => {
    const seen = buffer([0, 1, 2, 3, 4], true, [0, Flag.overRange, Flag.blank]);
    expect([playedPitch(take, seen, 1.5), playedPitch(take, seen, 2.5)]).toEqual([HIGHEST_HZ, null]);
  });
});
