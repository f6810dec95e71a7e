import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import type { Trace } from '../../server/recordings/sample-reader.ts';
import { SessionReader } from '../../server/recordings/session-reader.ts';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import type { SampleBatch } from '../../server/session/session.ts';
import { freshFolder } from './support/folder.ts';
import { cut, emptyBatch, INFO, METER, meterSamples, randomNumbers, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

/** A file with these samples in take 1, committed in uneven pieces; the last ones still unsealed. */
function record(batch: SampleBatch, interval: number | null, pieces = 20_011): SessionReader {
  const path = join(freshFolder(), 'trace.sqlite');
  const writer = new SessionWriter(path, INFO, [{ ...METER, interval }]);
  writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
  for (let from = 0; from < batch.length; from += pieces) {
    writer.commit([{ type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(cut(batch, from, Math.min(batch.length, from + pieces))) }]);
  }
  while (writer.sealNext());
  writer.abandon();
  return new SessionReader(path);
}

interface Special {
  readonly kind: 'dropout' | 'spike' | 'over-range' | 'blank' | 'silence';
  readonly at: number;
  /** End of a silence. */
  readonly until?: number;
  readonly value: number;
}

/** A trace at 1 kHz, with stretches at 4 Hz, and one-sample events of every kind strewn over it. */
function eventful(n: number, random: () => number): { batch: SampleBatch; specials: Special[] } {
  const batch = meterSamples(n, random, { decimals: 3, noise: 2 });
  const specials: Special[] = [];
  let atUs = 0;
  for (let i = 0; i < n; i++) {
    atUs += Math.floor(i / 40_000) % 3 === 2 ? 250_000 : 1000;
    const kind = random();
    if (i > 0 && i < n - 1 && kind < 0.002) {
      if (kind < 0.0005) {
        batch.value[i] = Math.round(random() * 9000) / 1000;
        specials.push({ kind: 'dropout', at: atUs / 1e6, value: batch.value[i]! });
      } else if (kind < 0.001) {
        batch.value[i] = 14 + Math.round(random() * 9000) / 1000;
        specials.push({ kind: 'spike', at: atUs / 1e6, value: batch.value[i]! });
      } else if (kind < 0.0014) {
        batch.value[i] = NaN;
        batch.flags[i] = Flag.overRange | Flag.negative;
        specials.push({ kind: 'over-range', at: atUs / 1e6, value: NaN });
      } else if (kind < 0.0017) {
        batch.value[i] = NaN;
        batch.flags[i] = Flag.blank;
        specials.push({ kind: 'blank', at: atUs / 1e6, value: NaN });
      } else {
        atUs += 2_000_000;
        // From the last sample before to the first after: a window that holds only one of them has no line to break.
        specials.push({ kind: 'silence', at: batch.time[i - 1]!, until: atUs / 1e6, value: NaN });
      }
    }
    batch.time[i] = atUs / 1e6;
    batch.arrival[i] = atUs / 1e6;
  }
  return { batch, specials };
}

/** Something shown within two columns (two pixels of a plot) of the event that tells of it: the same kind, at least as deep. */
function isShown(trace: Trace, { kind, at, value }: Special, column: number): boolean {
  for (let i = 0; i < trace.length; i++) {
    // A gap marker stands up to an interval after the last sample before the gap.
    if (Math.abs(trace.time[i]! - at) > 2 * column + (kind === 'silence' ? 0.26 : 1e-9)) continue;
    const y = trace.value[i]!;
    const flags = trace.flags[i]!;
    if (kind === 'dropout' && y <= value) return true;
    if (kind === 'spike' && y >= value) return true;
    if (kind === 'over-range' && Number.isNaN(y) && (flags & Flag.overRange) !== 0 && (flags & Flag.negative) !== 0) return true;
    if ((kind === 'blank' || kind === 'silence') && Number.isNaN(y) && (flags & Flag.overRange) === 0) return true;
  }
  return false;
}

describe('trace', () => {
  it(`shows every one-sample dropout, spike, over-range and gap at every zoom, in at most four points a column, all of them real samples (seed ${seed})`, () => {
    const random = randomNumbers(seed);
    const { batch, specials } = eventful(400_000, random);
    const reader = record(batch, null);
    const real = new Map(Array.from(batch.time, (time, i) => [time, i]));
    const first = batch.time[0]!;
    const last = batch.time[batch.length - 1]!;
    for (let round = 0; round < 150; round++) {
      const span = (last - first) * 10 ** (-4.5 * random() * (round % 3 === 0 ? 0 : 1));
      const from = first + random() * (last - first - span);
      const to = from + span;
      const columns = Math.ceil(10 ** (1 + 2.2 * random()));
      const trace = reader.trace(1, 0, from, to, columns);
      const column = (to - from) / columns;
      if (trace.reduced) expect(trace.length).toBeLessThanOrEqual(4 * columns);
      for (let i = 0; i < trace.length; i++) {
        if (i > 0 && !(trace.time[i]! >= trace.time[i - 1]!)) expect.fail(`times fall at ${i}`);
        const index = real.get(trace.time[i]!);
        const isGapMarker = Number.isNaN(trace.value[i]!) && (trace.flags[i]! & Flag.blank) !== 0;
        if (!isGapMarker && !(index !== undefined && Object.is(batch.value[index], trace.value[i]) && batch.flags[index] === trace.flags[i])) {
          expect.fail(`a point at ${trace.time[i]} is no sample`);
        }
      }
      const hidden = specials.filter((special) => special.at >= from && (special.until ?? special.at) <= to && !isShown(trace, special, column));
      expect(hidden, `window ${from}..${to} in ${columns} columns`).toEqual([]);
    }
    reader.close();
  });

  it('gives all samples with a neighbour on each side when they are few, also between two samples', () => {
    const batch = meterSamples(1000, randomNumbers(seed));
    const reader = record(batch, 0.1);
    const trace = reader.trace(1, 0, 20.05, 20.35, 100);
    expect(trace.reduced).toBe(false);
    expect([...trace.time]).toEqual([20, 20.1, 20.2, 20.3, 20.4]);
    expect([...trace.value]).toEqual([...batch.value.subarray(199, 204)]);
    expect([...reader.trace(1, 0, 20.02, 20.08, 100).time]).toEqual([20, 20.1]);
    reader.close();
  });

  it('puts a blank point into a silence, so that no line is drawn across it', () => {
    const batch = meterSamples(6, randomNumbers(seed));
    batch.time.set([1, 1.1, 1.2, 5, 5.1, 5.2]);
    const reader = record(batch, 0.1);
    const trace = reader.trace(1, 0, -Infinity, Infinity, 500);
    expect([...trace.time]).toEqual([1, 1.1, 1.2, 1.3, 5, 5.1, 5.2]);
    expect(trace.flags[3]).toBe(Flag.blank);
    expect(trace.value[3]).toBeNaN();
    reader.close();
  });

  it('is empty for a take without samples, and for a window outside the take', () => {
    const empty = record(emptyBatch(0, 0, 1, 1), 0.1);
    expect(empty.trace(1, 0, -Infinity, Infinity, 100).length).toBe(0);
    expect(() => empty.trace(7, 0, 0, 1, 100)).toThrow(expect.objectContaining({ code: 'TAKE_NOT_FOUND' }));
    empty.close();
    const reader = record(meterSamples(1000, randomNumbers(seed)), 0.1);
    expect(reader.trace(1, 0, 500, 600, 100).length).toBe(0);
    expect(reader.trace(1, 0, -50, -40, 100).length).toBe(0);
    reader.close();
  });

  it('gives the same picture whether the samples are sealed or not', () => {
    const { batch } = eventful(70_000, randomNumbers(seed));
    const sealed = record(batch, 0.001);
    const path = join(freshFolder(), 'open.sqlite');
    const writer = new SessionWriter(path, INFO, [{ ...METER, interval: 0.001 }]);
    writer.commit([{ type: 'start-take', take: takeRecord(1) }, { type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(batch) }]);
    writer.abandon();
    const open = new SessionReader(path);
    for (const [from, to] of [[-Infinity, Infinity], [3, 30], [10, 10.5]] as const) {
      for (const reader of [sealed, open]) {
        const { time, value } = reader.trace(1, 0, from, to, 20);
        // A trace may reach a column beyond its window: its extremes are those of the stretch that it shows.
        const [first, last] = [Math.min(from, time[0]!), Math.max(to, time.at(-1)!)];
        const real = batch.value.filter((y, i) => batch.time[i]! >= first && batch.time[i]! <= last && !Number.isNaN(y));
        const shown = value.filter((y) => !Number.isNaN(y));
        expect([Math.min(...shown), Math.max(...shown)]).toEqual([Math.min(...real), Math.max(...real)]);
      }
    }
    sealed.close();
    open.close();
  });
});
