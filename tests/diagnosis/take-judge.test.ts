import { describe, expect, it } from 'vitest';
import { judgeAll, TakeJudge } from '../../server/diagnosis/index.ts';
import type { Judgement } from '../../server/diagnosis/index.ts';
import { columnsOf, SimulatedStream } from '../signals/index.ts';
import type { Shown } from '../signals/index.ts';
import { judgeShown, quiet, setupOf } from './setup.ts';

const OHMS = { quantity: 'resistance', coupling: 'none', resolution: 0.1 } as const;

describe('dropouts in a wiggle take', () => {
  it('a reading that falls and returns is a dropout with its depth, and the circuit is intermittent', () => {
    const j = judgeShown([...quiet(12.1, 100), 0.2, 0.2, 0.2, ...quiet(12.1, 100, 2)]);
    expect(j.dropouts).toHaveLength(1);
    expect(j.dropouts[0]).toMatchObject({ count: 1, overRange: false });
    expect(j.dropouts[0]?.depth).toBeCloseTo(-11.9, 1);
    expect(Math.abs((j.dropouts[0]?.start ?? 0) - 10)).toBeLessThanOrEqual(0.1);
    expect(j.verdict).toBe('intermittent');
    expect(j.reasons[0]).toBe('Dropped out once in 20.3 s, down to 0.20 V from 12.10 V.');
  });

  it('a single partial reading is a dropout whatever its depth: it may be a short full open', () => {
    expect(judgeShown([...quiet(12.1, 100), 11.8, ...quiet(12.1, 100, 2)]).dropouts).toHaveLength(1);
  });

  it('three readings or more on a plateau under 5 % of the level are a sag, listed and not counted', () => {
    const j = judgeShown([...quiet(12.1, 100), ...quiet(11.8, 20, 3), ...quiet(12.1, 900, 2)]);
    expect(j.dropouts).toEqual([]);
    expect(j.sags).toHaveLength(1);
    expect(j.sags[0]?.depth).toBeCloseTo(-0.3, 1);
    expect(j.verdict).toBe('pass');
  });

  it('the depth of interest can be set: a sag becomes a dropout', () => {
    const shown = [...quiet(12.1, 100), ...quiet(11.8, 20, 3), ...quiet(12.1, 100, 2)];
    expect(judgeShown(shown, { depth: 0.1 }).dropouts).toHaveLength(1);
  });

  it('a dropout on top of a sag is still seen', () => {
    const j = judgeShown([...quiet(12.1, 100), ...quiet(11.8, 30, 3), 0.1, 0.1, ...quiet(11.8, 30, 4), ...quiet(12.1, 100, 2)]);
    expect(j.dropouts).toHaveLength(1);
    expect(j.sags).toHaveLength(1);
  });

  it('a dip that has gone back to its level is a dropout, though a load should switch soon after; one that ends at another level is none', () => {
    for (const after of [11.8, 12.4]) {
      expect(judgeShown([...quiet(12.1, 100), 11.7, ...quiet(12.1, 4, 2), ...quiet(after, 40, 3)]).dropouts).toHaveLength(1);
      expect(judgeShown([...quiet(12.1, 100), 11.7, ...quiet(after, 40, 3)]).dropouts).toEqual([]);
    }
  });

  it('departures closer than the merge time are one dropout with a count', () => {
    const j = judgeShown([...quiet(12.1, 100), 0.2, 12.1, 0.3, 12.1, 0.2, ...quiet(12.1, 100, 2)]);
    expect(j.dropouts).toHaveLength(1);
    expect(j.dropouts[0]?.count).toBe(3);
  });

  it('departures further apart than the merge time are two dropouts', () => {
    expect(judgeShown([...quiet(12.1, 100), 0.2, 12.1, 12.1, 12.1, 0.2, ...quiet(12.1, 100, 2)]).dropouts).toHaveLength(2);
  });

  it('a plateau within 5 % of the level is a sag, though noise takes one of its readings farther', () => {
    for (let seed = 1; seed <= 6; seed++) {
      const shown = (depth: number): number[] => [...quiet(12.1, 200, seed, 0.04), ...quiet(12.1 - depth, 40, seed + 50, 0.04), ...quiet(12.1, 200, seed + 90, 0.04)];
      expect(judgeShown(shown(0.55))).toMatchObject({ dropouts: [], sags: [{}] });
      expect(judgeShown(shown(0.75)).dropouts).toHaveLength(1);
    }
  });

  it('shallow dips of two readings each in quick succession are a dropout, for each may have been an open that was short', () => {
    expect(judgeShown([...quiet(12.1, 200), 11.8, 11.8, 12.1, 11.8, 11.8, ...quiet(12.1, 200, 2)])).toMatchObject({ dropouts: [{ count: 2 }], sags: [] });
    expect(judgeShown([...quiet(12.1, 200), 11.8, 11.8, 11.8, 12.1, 11.8, 11.8, ...quiet(12.1, 200, 2)])).toMatchObject({ dropouts: [], sags: [{}] });
  });

  it('a rise of a supply is no dropout', () => {
    expect(judgeShown([...quiet(12.1, 100), 14, 14, ...quiet(12.1, 100, 2)]).dropouts).toEqual([]);
  });

  it('a ground in volts drops out upwards', () => {
    const j = judgeShown([...quiet(0.08, 100), 12.3, 12.3, ...quiet(0.08, 100, 2)], { kind: 'ground', limits: { low: null, high: 0.3 } });
    expect(j.dropouts).toHaveLength(1);
    expect(j.reasons[0]).toBe('Dropped out once in 20.2 s, up to 12.30 V from 0.08 V.');
  });

  it('a drop that falls to nothing for a moment, its load off, does not hide a small rise', () => {
    const at = (level: number, n: number, seed: number): number[] => quiet(level, n, seed, 0.001, 0.001);
    const shown = [...at(0.25, 100, 1), 0, ...at(0.25, 60, 2), 0.001, ...at(0.25, 100, 3), 0.3, 0.3, ...at(0.25, 60, 4)];
    expect(judgeShown(shown, { kind: 'voltage-drop', limits: { low: null, high: 0.5 } }, 0.4, { resolution: 0.001 }).dropouts).toHaveLength(1);
  });

  it('a load that goes off beside a shared ground and comes back is no dropout, whether it stays on or not', () => {
    const ground = { kind: 'ground', limits: { low: null, high: 0.3 } } as const;
    const at = (level: number, n: number, seed: number): number[] => quiet(level, n, seed, 0.001, 0.001);
    for (const shown of [
      [...at(0.15, 100, 1), ...at(0.05, 20, 2), ...at(0.15, 100, 3), ...at(0.05, 100, 4)],
      [...at(0.15, 100, 1), ...at(0.05, 20, 2), ...at(0.15, 8, 3), ...at(0.05, 20, 4), ...at(0.15, 100, 5)],
    ]) expect(judgeShown(shown, ground, 0.1, { resolution: 0.001 }).dropouts).toEqual([]);
    // What goes beyond where it came from is one all the same, and so is what rises after the lower level has stood for ten seconds.
    expect(judgeShown([...at(0.15, 100, 1), ...at(0.05, 20, 2), ...at(6, 8, 3), ...at(0.05, 20, 4)], ground, 0.1, { resolution: 0.001 }).dropouts).toHaveLength(1);
    expect(judgeShown([...at(0.15, 100, 1), ...at(0.05, 130, 2), ...at(0.15, 8, 3), ...at(0.05, 20, 4)], ground, 0.1, { resolution: 0.001 }).dropouts).toHaveLength(1);
  });

  describe('soon after a load beside a shared ground has gone off', () => {
    const judged = (...parts: readonly [level: number, n: number][]): Judgement => judgeShown(
      parts.flatMap(([level, n], i) => quiet(level, n, i + 1, 0.001, 0.001)), { kind: 'ground', limits: { low: null, high: 0.3 } }, 0.1, { resolution: 0.001 },
    );

    it.each([0.1, 0.2])('a rise to %s V, where no load takes it, is a dropout', (elsewhere) => {
      expect(judged([0.15, 100], [0.05, 20], [elsewhere, 8], [0.05, 20]).dropouts).toHaveLength(1);
    });

    it('a single reading is a dropout, as no interference goes both ways', () => {
      expect(judged([0.15, 100], [0.05, 5], [0.1, 1], [0.05, 20]).dropouts).toHaveLength(1);
    });

    it('loads may come back one by one, in any order, and together', () => {
      expect(judged([0.25, 100], [0.2, 20], [0.1, 20], [0.15, 8], [0.1, 20], [0.25, 8], [0.2, 20], [0.1, 20], [0.2, 100]).dropouts).toEqual([]);
    });

    it('also where another load has come on just before', () => {
      expect(judged([0.05, 130], [0.15, 30], [0.1, 20], [0.15, 20], [0.1, 20], [0.15, 150]).dropouts).toEqual([]);
    });

    it('one comes back after ten readings in which another did: a step the good way is no noise, and does not blur how far either took the level', () => {
      for (let seed = 1; seed <= 10; seed++) {
        const shown = [0.113, 0.082, 0.041, 0.072, 0.113, 0.072].flatMap((level, i) => quiet(level, [400, 400, 10, 200, 200, 200][i] as number, 100 * seed + i, 0.0011, 0.0001));
        expect(judgeShown(shown, { kind: 'ground', limits: { low: null, high: 0.3 } }, 0.03, { resolution: 0.0001 }).dropouts).toEqual([]);
      }
    });

    it('a small one of a fast meter, too, whose going off is as large as eight deviations', () => {
      for (let seed = 1; seed <= 10; seed++) {
        const shown = [0.077, 0.0727, 0.077, 0.0727].flatMap((level, i) => quiet(level, [600, 100, 300, 100][i] as number, 100 * seed + i + 1, 0.0005, 0.0001));
        expect(judgeShown(shown, { kind: 'ground', limits: { low: null, high: 0.3 } }, 0.01, { resolution: 0.0001 }).dropouts).toEqual([]);
      }
    });

    it('a rise back out of the limits is a dropout: a fault had healed, and is there again', () => {
      expect(judged([0.1, 100], [12.3, 150], [0.1, 30], [12.3, 8], [0.1, 100]).dropouts).toHaveLength(1);
    });
  });

  describe('an open within the ten seconds after a lasting change the bad way', () => {
    const before = quiet(0.1, 200, 2, 0.0005, 0.0001);
    const after = (n: number): number[] => quiet(0.25, n, 3, 0.0005, 0.0001);
    const judged = (shown: readonly Shown[]): Judgement => judgeShown(shown, { kind: 'ground', limits: { low: null, high: 0.3 } }, 0.1, { resolution: 0.0001 });

    it('is a dropout with its own start, and the change a shift', () => {
      const { dropouts, shifts } = judged([...before, ...after(40), 12.4, 12.4, 12.4, ...after(200)]);
      expect(dropouts).toHaveLength(1);
      expect(dropouts[0]?.start).toBeCloseTo(24, 0);
      expect(dropouts[0]?.end).toBeCloseTo(24.3, 1);
      expect(dropouts[0]?.level).toBeCloseTo(0.25, 2);
      expect(shifts).toHaveLength(1);
      expect(shifts[0]?.at).toBeCloseTo(20, 0);
      expect(shifts[0]?.to).toBeCloseTo(0.25, 2);
    });

    it('shows before it is known whether the change lasts', () => {
      const { dropouts } = judged([...before, ...after(40), 12.4, 12.4, 12.4, ...after(20)]);
      expect(dropouts.map(({ start }) => Math.round(start))).toEqual([24]);
    });

    it('that goes on when the change has lasted is away from the level that lasted', () => {
      const { dropouts, shifts } = judged([...before, ...after(90), ...quiet(12.4, 30, 4, 0.0005, 0.0001), ...after(50)]);
      expect(dropouts.map(({ start, end }) => [Math.round(start), Math.round(end)])).toEqual([[29, 32]]);
      expect(shifts.map(({ to }) => Number(to?.toFixed(2)))).toEqual([0.25]);
    });

    it('is seen upon two changes, too', () => {
      const { dropouts, shifts } = judged([...before, ...after(40), ...quiet(0.28, 40, 4, 0.0005, 0.0001), 12.4, 12.4, ...quiet(0.28, 200, 5, 0.0005, 0.0001)]);
      expect(dropouts.map(({ start }) => Math.round(start))).toEqual([28]);
      expect(shifts.map(({ to }) => Number(to?.toFixed(2)))).toEqual([0.25, 0.28]);
    });

    it('belongs to the change, should that go back: one dropout with a count', () => {
      const { dropouts, shifts } = judged([...before, ...after(40), 1.4, 1.4, 1.4, ...after(20), ...quiet(0.1, 200, 4, 0.0005, 0.0001)]);
      expect(dropouts).toHaveLength(1);
      expect(dropouts[0]).toMatchObject({ count: 2 });
      expect(dropouts[0]?.start).toBeCloseTo(20, 0);
      expect(shifts).toEqual([]);
    });

    it.each([12.4, 'OL'] as const)('stands apart from a change that is next to nothing against it, with its own start and length, should that go back (open: %s)', (open) => {
      const { dropouts, shifts } = judged([...before, ...after(40), open, open, open, ...after(20), ...quiet(0.1, 200, 4, 0.0005, 0.0001)]);
      expect(dropouts).toHaveLength(2);
      expect(dropouts[0]).toMatchObject({ count: 1, overRange: false });
      expect(dropouts[0]?.depth).toBeCloseTo(0.15, 2);
      expect(dropouts[0]?.start).toBeCloseTo(20, 0);
      expect(dropouts[0]?.end).toBeCloseTo(26.3, 1);
      expect(dropouts[1]?.start).toBeCloseTo(24, 0);
      expect(dropouts[1]?.duration.low).toBeGreaterThan(0.05);
      expect(dropouts[1]?.duration.high).toBeLessThan(0.5);
      expect(shifts).toEqual([]);
    });
  });

  it('of a moved sensor a contact between two breaks is no noise, and hides no smaller break after them', () => {
    const still = (n: number, seed: number): number[] => quiet(2.5, n, seed, 0.002, 0.001);
    const shown = [...still(300, 1), 5, ...still(100, 2), 5, 5, 5, 5, 2.5, 5, 5, ...still(800, 3), 3.5, ...still(300, 4)];
    const { dropouts } = judgeShown(shown, { kind: 'sensor-sweep', limits: { low: null, high: null } }, 0.014, { resolution: 0.001 });
    expect(dropouts.some(({ start }) => Math.abs(start - 1208 * 0.014) < 0.05)).toBe(true);
  });

  it('a break of a moved sensor that begins in the middle of a reading, which draws the prediction after it, is a dropout', () => {
    // At rest, two minimum-jerk movements of a second each, and at rest again.
    const rest = (n: number, level = 0.5): number[] => Array.from({ length: n }, () => level);
    const reach = Array.from({ length: 100 }, (_, i) => 0.5 + 4 * (i / 100) ** 3 * (10 + (i / 100) * ((6 * i) / 100 - 15)));
    const noise = quiet(0, 600, 6, 0.005, 0.001);
    const shown = [...rest(200), ...reach, ...[...reach].reverse(), ...rest(60), 0.7, ...rest(15, 1), 0.7, ...rest(40)].map((v, i) => v + (noise[i] as number));
    const { dropouts } = judgeShown(shown, { kind: 'sensor-sweep', limits: { low: null, high: null } }, 0.01, { resolution: 0.001 });
    expect(dropouts).toHaveLength(1);
    expect(dropouts[0]?.start).toBeCloseTo(4.606, 2);
  });

  it('a hand that moves the sensor on after what had seemed a break makes none, though the reading was the same once', () => {
    const stream = new SimulatedStream({
      kind: 'swept-sensor', check: 'sensor-sweep', quantity: 'voltage', interval: 0.0024554312233909044, aperture: 0.002064133616298814, filter: 1, count: 0.001, noise: 0.001426079161757152,
      noiseShape: { shape: 'laplace' }, correlation: 0, hum: null, bursts: null, level: 2.5, levelOverRange: false, fullScale: 60, drift: 0, ripple: null, loads: null,
      sweep: { low: 0.5, high: 4.5, fastest: 0.7, slowest: 2.7272014993359335 }, linkGaps: null, huntsPerHour: 0, dropouts: null,
    }, 1574192118);
    const { interval, aperture } = stream.parameters;
    expect(judgeAll(setupOf({ kind: 'sensor-sweep', limits: { low: null, high: null }, interval, aperture }), stream.next(3000)).dropouts).toEqual([]);
  });

  it.each([3, 5])('noise that grows %s-fold from one reading to the next takes back next to no dropout from before it', (factor) => {
    let listed = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const before = [0.2, 0.15, 0.25, 0.2].flatMap((depth, i) => [...quiet(12.1, 60, 100 * seed + i, 0.01, 0.001), 12.1 - depth]);
      const after = quiet(12.1, 600, 100 * seed + 10, factor * 0.01, 0.001);
      const { dropouts } = judgeShown([...quiet(12.1, 300, seed, 0.01, 0.001), ...before, ...after], {}, 0.1, { resolution: 0.001 });
      listed += dropouts.filter(({ start }) => start < 54.5).length;
    }
    expect(listed).toBeGreaterThanOrEqual(46);
  });

  it('the way back from a plateau says nothing of noise: a small dropout after it is still found', () => {
    // Readings that come back by halves once looked like noise of forty deviations.
    const plateaus = Array.from({ length: 6 }, (_, k) => [...quiet(11.8, 12, k), 11.95, 11.8, 12, 11.8, ...quiet(12.1, 40, 50 + k)]).flat();
    expect(judgeShown([...quiet(12.1, 100), ...plateaus, ...quiet(12.1, 60, 7), 11.98, ...quiet(12.1, 60, 8)]).dropouts.map(({ depth }) => Math.round(100 * (depth ?? 0)))).toContain(-12);
  });

  it('over-range is a dropout on ohms, and in volts too', () => {
    const ohms = judgeShown([...quiet(0.4, 60, 1, 0.03, 0.1), 'OL', 'OL', ...quiet(0.4, 60, 2, 0.03, 0.1)], { kind: 'continuity', limits: { low: null, high: 1 } }, 0.3, OHMS);
    expect(ohms.dropouts).toMatchObject([{ depth: null, overRange: true }]);
    const volts = judgeShown([...quiet(0.08, 60), 'OL', ...quiet(0.08, 60, 2)], { kind: 'voltage-drop', limits: { low: null, high: 0.3 } });
    expect(volts.dropouts).toMatchObject([{ depth: null, overRange: true }]);
  });

  it('over-range is the healthy level of a short check, and a finite reading its dropout', () => {
    const setup = { kind: 'short-to-ground', limits: { low: 1e6, high: null } } as const;
    const clean = judgeShown(Array.from({ length: 400 }, () => 'OL' as const), setup, 0.3, OHMS);
    expect(clean).toMatchObject({ levelOverRange: true, levelVerdict: 'pass', dropouts: [] });
    const shorted = judgeShown([...Array.from({ length: 60 }, () => 'OL' as const), 3.2, 3.1, ...Array.from({ length: 60 }, () => 'OL' as const)], setup, 0.3, OHMS);
    expect(shorted.dropouts).toHaveLength(1);
    expect(shorted.verdict).toBe('intermittent');
  });

  it('current drops out both ways', () => {
    const signal = { quantity: 'current', resolution: 0.01 } as const;
    expect(judgeShown([...quiet(3, 100), 0, 0, ...quiet(3, 60), 9, ...quiet(3, 60)], { kind: 'current', limits: { low: 2.5, high: 3.5 } }, 0.1, signal).dropouts).toHaveLength(2);
  });
});

describe('what is no dropout', () => {
  it('a half-settled reading between two ranges of a meter that does not mark its range changes is a gap, with the advice to lock the range', () => {
    const before = columnsOf(quiet(5.8, 100), 0.1, { resolution: 0.001 });
    const after = columnsOf([3.1, ...quiet(5.8, 100)], 0.1, { resolution: 0.01, start: 10 });
    const j = new TakeJudge(setupOf());
    j.push(before);
    j.push(after);
    const judgement = j.judgement();
    expect(judgement.dropouts).toEqual([]);
    expect(judgement.gaps).toHaveLength(1);
    expect(judgement.reasons.join(' ')).toContain('lock the range');
    // In one range the same readings are a dropout.
    expect(judgeShown([...quiet(5.8, 100), 3.1, ...quiet(5.8, 100)]).dropouts).toHaveLength(1);
  });

  it('missing readings are a gap, and time in it is not watched', () => {
    const j = judgeShown([...quiet(12.1, 100), ...Array.from({ length: 50 }, () => null), ...quiet(12.1, 100, 2)]);
    expect(j.dropouts).toEqual([]);
    expect(j.gaps).toHaveLength(1);
    expect((j.gaps[0]?.end ?? 0) - (j.gaps[0]?.start ?? 0)).toBeCloseTo(5.1, 5);
  });

  it('a blank display is a gap', () => {
    const j = judgeShown([...quiet(12.1, 100), 'blank', 'blank', 'blank', ...quiet(12.1, 100, 2)]);
    expect(j.dropouts).toEqual([]);
    expect(j.gaps).toHaveLength(1);
  });

  it('a gap that is still running shows when the time is given', () => {
    const judge = new TakeJudge(setupOf());
    judge.push(columnsOf(quiet(12.1, 100), 0.1));
    expect(judge.judgement(10.1).gaps).toEqual([]);
    expect(judge.judgement(15).gaps).toEqual([{ start: 10, end: 15 }]);
  });

  it('a lead lifted in a spot take ends the contact', () => {
    const j = judgeShown([...quiet(12.1, 30), ...quiet(0, 30, 2), ...quiet(12.1, 30, 3)], { watching: 'spot' });
    expect(j.dropouts).toEqual([]);
    expect(j.steady.length).toBeGreaterThanOrEqual(2);
    expect(j.verdict).toBe('pass');
  });
});

describe('shifts and the level', () => {
  it('away for longer than ten seconds is a shift, and the level fails from there', () => {
    const j = judgeShown([...quiet(12.1, 100), ...quiet(6, 150, 3)]);
    expect(j.dropouts).toEqual([]);
    expect(j.shifts).toHaveLength(1);
    expect(j.shifts[0]?.from).toBeCloseTo(12.1, 1);
    expect(j.shifts[0]?.to).toBeCloseTo(6, 1);
    expect(j.verdict).toBe('fail');
  });

  it('a shift to a level within the limits is listed and followed', () => {
    const j = judgeShown([...quiet(12.1, 100), ...quiet(11.8, 900, 3)]);
    expect(j.shifts).toHaveLength(1);
    expect(j.level).toBeCloseTo(11.8, 1);
    expect(j.verdict).toBe('pass');
  });

  it('a take that ends away from its level ends in a shift', () => {
    const j = judgeShown([...quiet(12.1, 100), ...quiet(0.1, 30, 3)]);
    expect(j.shifts).toHaveLength(1);
    expect(j.verdict).toBe('fail');
  });

  it('a steady failure with dropouts is called fail, and the reasons name the dropouts', () => {
    const j = judgeShown([...quiet(9.5, 100), 0.2, 0.2, ...quiet(9.5, 100, 2)]);
    expect(j.verdict).toBe('fail');
    expect(j.reasons.join(' ')).toContain('Dropped out once');
  });

  it('slow drift is followed', () => {
    const j = judgeShown(quiet(0, 1200).map((noise, i) => Math.round((12.6 - 0.0005 * i + noise) * 100) / 100));
    expect(j.dropouts).toEqual([]);
    expect(j.sags).toEqual([]);
    expect(j.level).toBeCloseTo(12, 1);
  });
});

it('an open that ends a level in ohms on a far coarser range takes nothing from what is known of the level', () => {
  const before = quiet(0.4, 300, 1, 0.003);
  const values = [...before, 8.14e6, 28.41e6];
  const samples = { ...columnsOf(values, 0.1, { quantity: 'resistance', coupling: 'none' }), resolution: Float64Array.from(values, (value) => (value > 1000 ? 1e4 : 0.01)) };
  const setup = setupOf({ kind: 'continuity', limits: { low: null, high: 1 }, leadOhms: 0.2 });
  const judgement = judgeAll(setup, samples);
  const without = judgeAll(setup, columnsOf(before, 0.1, { quantity: 'resistance', coupling: 'none' }));
  expect(judgement).toMatchObject({ levelVerdict: 'pass', resolution: 0.01, leadOhms: 0.2, doubt: { uncertainty: without.doubt!.uncertainty } });
  expect(judgement.reasons.join(' ')).toContain('Reads 0.20 ohm, below the highest limit of 1 ohm');
});

describe('undecided says why', () => {
  it('without the meter’s accuracy', () => {
    const j = judgeShown(quiet(12.1, 900), { accuracy: null });
    expect(j).toMatchObject({ verdict: 'undecided', levelVerdict: 'undecided' });
    expect(j.reasons[0]).toContain("the meter's accuracy isn't known");
  });

  it('with one reading only', () => {
    expect(judgeShown([12.1])).toMatchObject({ verdict: 'undecided', samples: 1 });
  });

  it('with the load missing that the check asks for', () => {
    const j = judgeShown(quiet(12.1, 900), { missingCondition: 'the clutch was off' });
    expect(j.verdict).toBe('undecided');
    expect(j.reasons[0]).toContain('the clutch was off');
  });

  it('until the claim is met', () => {
    const j = judgeShown(quiet(12.1, 300));
    expect(j.verdict).toBe('undecided');
    expect(j.reasons[0]).toMatch(/^No dropout in 30 flexed seconds so far; needs 30 more/);
    expect(judgeShown(quiet(12.1, 700)).verdict).toBe('pass');
  });

  it('with no samples at all', () => {
    expect(new TakeJudge(setupOf()).judgement()).toMatchObject({ verdict: 'undecided', samples: 0, level: null, reasons: ['No readings yet.'] });
  });

  it('with the meter in the wrong function', () => {
    const j = judgeShown(quiet(12.1, 100), {}, 0.1, { quantity: 'resistance' });
    expect(j.verdict).toBe('undecided');
    expect(j.reasons.join(' ')).toContain('another function');
  });
});
