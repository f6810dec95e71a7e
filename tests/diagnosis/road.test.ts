import { describe, expect, it } from 'vitest';
import { associate, associateMarks, associateMotion, FEWEST_CLUSTERS } from '../../server/diagnosis/road.ts';
import type { Association } from '../../server/diagnosis/road.ts';
import { drawDriveParameters, drive } from '../signals/drive.ts';
import type { DriveParameters } from '../signals/drive.ts';
import { Random } from '../signals/random.ts';

const take = { start: 0, end: 600 };
/** Bumps every 20 s, the key pressed a second later. */
const bumps = Array.from({ length: 29 }, (_, k) => ({ at: 20 * k + 11, text: 'bump' }));

function told(parameters: readonly DriveParameters[], random: Random): Association[] {
  return parameters.flatMap((p) => {
    const { dropouts, marks, take: whole } = drive(p, random);
    return associateMarks(dropouts, marks, whole).filter((one) => one.p !== null);
  });
}

describe('dropouts against marks', () => {
  it('a dropout at every other bump is no coincidence', () => {
    const dropouts = bumps.filter((_, k) => k % 2 === 0).map(({ at }) => at - 1);
    const [bump] = associateMarks(dropouts, bumps, take);
    expect(bump).toMatchObject({ text: 'bump', marks: 29, near: 15, away: 0, rateRatio: null, effectiveClusters: 15 });
    // Bumps as even as these move onto dropouts all together: five blocks at about 3.5 s in 20 s each, 0.175^5.
    expect(bump?.p).toBeLessThan(0.175 ** 5);
  });
  it('counts rates near and away: 6 of 12 dropouts in 29 stretches of 3.5 s', () => {
    const dropouts = [...bumps.slice(0, 6).map(({ at }) => at - 1), 17, 97, 197, 297, 397, 497].sort((a, b) => a - b);
    const [bump] = associateMarks(dropouts, bumps, take);
    expect(bump?.nearTime).toBeCloseTo(29 * 3.5, 9);
    expect(bump?.near).toBe(6);
    expect(bump?.rateRatio).toBeCloseTo(6 / 101.5 / (6 / 498.5), 9);
  });
  it('says nothing below five effective clusters, however striking', () => {
    const dropouts = bumps.slice(0, FEWEST_CLUSTERS - 1).map(({ at }) => at - 1);
    expect(associateMarks(dropouts, bumps, take)[0]?.p).toBeNull();
  });
  it('a cluster counts once: forty dropouts after one bump are one', () => {
    const burst = Array.from({ length: 40 }, (_, k) => 10 + 0.2 * k);
    expect(associate(burst, [{ start: 9, end: 12 }], take)).toMatchObject({ near: 1, away: 0, effectiveClusters: 1, p: null });
  });
  it('a block without marks tells nothing', () => {
    const dropouts = [210, 220, 230, 240, 250, 260, 270, 280, 290];
    expect(associate(dropouts, [{ start: 10, end: 20 }], take)).toMatchObject({ effectiveClusters: 0, p: null });
  });
  it('corrects for the kinds of mark looked at (Holm)', () => {
    const turns = Array.from({ length: 25 }, (_, k) => ({ at: 24 * k + 3, text: 'left turn' }));
    const dropouts = bumps.filter((_, k) => k % 4 === 0).map(({ at }) => at - 1);
    const [bump, turn] = associateMarks(dropouts, [...bumps, ...turns], take);
    expect(bump?.correctedP).toBeCloseTo(2 * (bump?.p as number), 12);
    expect(turn?.correctedP).toBeGreaterThanOrEqual(turn?.p as number);
  });
  it('p is the exact share of shifts when there is one block', () => {
    // Near: 0..25 of 100 s. Five dropouts 15 s apart from 2 s on: at most two of them near, at shifts of -2..8 s and 85..95 s.
    const dropouts = [2, 17, 32, 47, 62];
    const { p, near } = associate(dropouts, [{ start: 0, end: 25 }], { start: 0, end: 100 }, { block: 100, clusterGap: 5 });
    expect(near).toBe(2);
    let extreme = 0;
    for (let shift = 0; shift < 100; shift += 0.25) {
      if (dropouts.filter((at) => (at + shift) % 100 < 25).length >= 2) extreme++;
    }
    expect(p).toBeCloseTo(extreme / 400, 12);
  });
});

describe('error rate of the p-value when nothing links marks and dropouts', () => {
  const size = 0.05;
  const check = (of: (p: DriveParameters) => DriveParameters, seed: number): void => {
    const random = new Random(seed);
    const found = told(Array.from({ length: 700 }, () => of(drawDriveParameters(random))), random);
    expect(found.length).toBeGreaterThan(200);
    const wrong = found.filter((one) => (one.p as number) <= size).length;
    expect(wrong / found.length).toBeLessThan(size + 3 * Math.sqrt((size * (1 - size)) / found.length));
  };
  it('holds for scattered marks and dropouts', () => check((p) => ({ ...p, markCluster: 1, dropoutCluster: 1, quiet: 1 }), 1));
  it('holds for clustered marks and dropouts', () => check((p) => ({ ...p, markCluster: 4, dropoutCluster: 6, quiet: 1 }), 2));
  it('holds under a slow common factor: town, then motorway', () => check((p) => ({ ...p, quiet: 0.05 }), 3));
  it('holds when there are many marks and few dropouts, and the other way round', () => {
    check((p) => ({ ...p, duration: 3600, markRate: 0.1, dropoutRate: 0.006 }), 4);
    check((p) => ({ ...p, duration: 3600, markRate: 0.004, dropoutRate: 0.05 }), 5);
  });
  it('finds a link that is there: four bumps in ten bring a dropout', () => {
    const random = new Random(6);
    const found = told(Array.from({ length: 150 }, () => ({ ...drawDriveParameters(random), link: 0.4 })), random);
    expect(found.filter((one) => (one.p as number) <= size).length / found.length).toBeGreaterThan(0.8);
  });
});

describe('dropouts against motion', () => {
  /** Ten minutes of acceleration at 10 values a second, with jolts; the second half of the road is rough altogether. */
  function road(random: Random): { motion: { time: number[]; size: number[] }; jolts: number[] } {
    const jolts = Array.from({ length: 40 }, () => random.between(0, 600)).sort((a, b) => a - b);
    const time = Array.from({ length: 6000 }, (_, k) => k / 10);
    const size = time.map((at) => Math.abs(random.gauss()) * (at > 300 ? 3 : 1) + (jolts.some((jolt) => at >= jolt && at < jolt + 0.3) ? 8 : 0));
    return { motion: { time, size }, jolts };
  }
  it('finds dropouts that follow jolts', () => {
    const { motion, jolts } = road(new Random(3));
    const dropouts = jolts.filter((_, k) => k % 3 === 0).map((at) => at + 0.3);
    expect(associateMotion(dropouts, motion, take).p).toBeLessThan(0.01);
  });
  it('does not take a rough half of the road for a link', () => {
    const random = new Random(4);
    let wrong = 0;
    const takes = 150;
    for (let i = 0; i < takes; i++) {
      const { motion } = road(random);
      const dropouts = Array.from({ length: 14 }, () => random.between(300, 600)).sort((a, b) => a - b);
      if ((associateMotion(dropouts, motion, take).p ?? 1) <= 0.05) wrong++;
    }
    expect(wrong / takes).toBeLessThan(0.05 + 3 * Math.sqrt((0.05 * 0.95) / takes));
  });
  it('refuses times and sizes that differ in number', () => {
    expect(() => associateMotion([1], { time: [1, 2], size: [1] }, take)).toThrow(RangeError);
  });
});
