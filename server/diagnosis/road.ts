/**
 * Road takes: do dropouts go with marks (bumps, left turns) or with motion? The number of clusters of dropouts near the marks is
 * compared with what it would be if the marks lay anywhere else: within each block of the take they are shifted round in a
 * circle, all shifts counted. So neither clustering of the dropouts or of the marks fools it, nor a slow common factor
 * (town, then motorway) that changes from block to block. What comes out is an association, never a cause: an operator who
 * marks because the tool chirped makes one too.
 */
export interface Stretch {
  readonly start: number;
  readonly end: number;
}

export interface RoadOptions {
  /** A dropout belongs to a mark when it begins from `before` s before it (the operator presses late) to `after` s after it. */
  readonly before: number;
  readonly after: number;
  /** Length of the blocks within which is shifted, s. */
  readonly block: number;
  /** Dropouts closer than this are one cluster, s. */
  readonly clusterGap: number;
}

/** Common practice, no source. */
export const ROAD_DEFAULTS: RoadOptions = { before: 3, after: 0.5, block: 120, clusterGap: 5 };

/** Below so many clusters in blocks that can tell, nothing is said. */
export const FEWEST_CLUSTERS = 5;

export interface Association {
  /** Clusters that begin near, and time near, s. */
  readonly near: number;
  readonly nearTime: number;
  readonly away: number;
  readonly awayTime: number;
  /** Rate near over rate away; null when either can't be told. */
  readonly rateRatio: number | null;
  /** Clusters in blocks where near and away both occur: only these tell. */
  readonly effectiveClusters: number;
  /** Chance of so many clusters near, or more, by coincidence; null (withheld) below five effective clusters. */
  readonly p: number | null;
}

/** Shifts tried in a block: a step of at most half a second, so that windows of seconds are not missed. */
const SHIFT_STEP = 0.25;

/**
 * Association of dropouts with stretches of time.
 * @param dropouts  start of each merged dropout, s, rising
 * @param stretches  the stretches in question, s; may overlap
 * @param take  the take, s
 * @throws {RangeError} for a take, block or cluster gap that is not positive
 */
export function associate(
  dropouts: readonly number[], stretches: readonly Stretch[], take: Stretch,
  { block, clusterGap }: Pick<RoadOptions, 'block' | 'clusterGap'> = ROAD_DEFAULTS,
): Association {
  const duration = take.end - take.start;
  if (!(duration > 0 && block > 0 && clusterGap > 0)) throw new RangeError('a take, its blocks and the cluster gap are longer than 0 s');
  const clusters = dropouts.filter((at, k) => at >= take.start && at < take.end && (k === 0 || at - (dropouts[k - 1] as number) > clusterGap));
  const near = merge(stretches, take);
  const nearTime = near.reduce((sum, stretch) => sum + stretch.end - stretch.start, 0);
  const isNear = (at: number): boolean => near.some((stretch) => at >= stretch.start && at < stretch.end);

  const blocks = Math.max(1, Math.round(duration / block));
  const length = duration / blocks;
  let observed = 0;
  let effective = 0;
  let chances = [1]; // chances[k]: chance that k clusters fall near by coincidence, over the blocks so far
  for (let b = 0; b < blocks; b++) {
    const start = take.start + b * length;
    const inside = clusters.filter((at) => at >= start && at < start + length);
    const local = clip(near, { start, end: start + length });
    const localTime = local.reduce((sum, stretch) => sum + stretch.end - stretch.start, 0);
    if (inside.length === 0 || localTime <= 0 || localTime >= length) continue;
    effective += inside.length;
    observed += inside.filter(isNear).length;
    chances = convolve(chances, countsOverShifts(inside, local, start, length));
  }
  const all = clusters.filter(isNear).length;
  const away = clusters.length - all;
  const awayTime = duration - nearTime;
  return {
    near: all, nearTime, away, awayTime,
    rateRatio: nearTime > 0 && awayTime > 0 && away > 0 ? all / nearTime / (away / awayTime) : null,
    effectiveClusters: effective,
    p: effective < FEWEST_CLUSTERS ? null : Math.min(1, chances.slice(observed).reduce((sum, chance) => sum + chance, 0)),
  };
}

/** Chances of 0, 1, 2... clusters falling near, over all circular shifts of one block (the shift of 0, as observed, is one of them). */
function countsOverShifts(clusters: readonly number[], near: readonly Stretch[], start: number, length: number): number[] {
  const shifts = Math.max(8, Math.ceil(length / SHIFT_STEP));
  const counts = new Array<number>(clusters.length + 1).fill(0);
  for (let k = 0; k < shifts; k++) {
    const shift = (k * length) / shifts;
    let count = 0;
    for (const at of clusters) {
      const moved = start + ((at - start + shift) % length);
      if (near.some((stretch) => moved >= stretch.start && moved < stretch.end)) count++;
    }
    counts[count] = (counts[count] as number) + 1 / shifts;
  }
  return counts;
}

function convolve(a: readonly number[], b: readonly number[]): number[] {
  const sum = new Array<number>(a.length + b.length - 1).fill(0);
  a.forEach((x, i) => b.forEach((y, j) => { sum[i + j] = (sum[i + j] as number) + x * y; }));
  return sum;
}

/** Stretches within the take, overlapping ones joined, in order. */
function merge(stretches: readonly Stretch[], take: Stretch): Stretch[] {
  const merged: { start: number; end: number }[] = [];
  for (const stretch of clip(stretches, take).sort((a, b) => a.start - b.start)) {
    const last = merged.at(-1);
    if (last !== undefined && stretch.start <= last.end) last.end = Math.max(last.end, stretch.end);
    else merged.push({ ...stretch });
  }
  return merged;
}

function clip(stretches: readonly Stretch[], to: Stretch): Stretch[] {
  return stretches
    .map(({ start, end }) => ({ start: Math.max(start, to.start), end: Math.min(end, to.end) }))
    .filter(({ start, end }) => end > start);
}

export interface MarkAssociation extends Association {
  readonly text: string;
  readonly marks: number;
  /** `p` after Holm's correction for the number of kinds of mark looked at. */
  readonly correctedP: number | null;
}

/**
 * Dropouts against each kind of mark, by its text.
 * @param marks  as noted, s
 */
export function associateMarks(
  dropouts: readonly number[], marks: readonly { readonly at: number; readonly text: string }[], take: Stretch,
  options: RoadOptions = ROAD_DEFAULTS,
): MarkAssociation[] {
  const texts = [...new Set(marks.map((mark) => mark.text))];
  const found = texts.map((text) => {
    const of = marks.filter((mark) => mark.text === text);
    const stretches = of.map(({ at }) => ({ start: at - options.before, end: at + options.after }));
    return { text, marks: of.length, ...associate(dropouts, stretches, take, options) };
  });
  return holm(found);
}

/** Holm (1979): the smallest p times the number of kinds, the next times one less, never falling. */
function holm(found: readonly (Association & { text: string; marks: number })[]): MarkAssociation[] {
  const ranked = found.filter((one) => one.p !== null).sort((a, b) => (a.p as number) - (b.p as number));
  let least = 0;
  const corrected = new Map<string, number>();
  ranked.forEach((one, rank) => {
    least = Math.max(least, Math.min(1, (one.p as number) * (ranked.length - rank)));
    corrected.set(one.text, least);
  });
  return found.map((one) => ({ ...one, correctedP: corrected.get(one.text) ?? null }));
}

/** Acceleration as a phone gives it. */
export interface Motion {
  /** s, rising. */
  readonly time: readonly number[];
  /** Size of the acceleration without gravity, or its change, in any unit. */
  readonly size: readonly number[];
}

/** Part of each block that counts as rough. */
const ROUGH_PART = 0.2;

/**
 * Dropouts against motion: near means the roughest fifth of each block, so that a rough road as a whole doesn't count against a
 * smooth one. A dropout counts as near up to a second after the motion.
 * @throws {RangeError} when times and sizes differ in number
 */
export function associateMotion(dropouts: readonly number[], motion: Motion, take: Stretch, options: RoadOptions = ROAD_DEFAULTS): Association {
  if (motion.time.length !== motion.size.length) throw new RangeError(`${motion.time.length} times and ${motion.size.length} sizes of motion`);
  const seconds = new Map<number, number>();
  motion.time.forEach((at, k) => {
    if (at < take.start || at >= take.end) return;
    const second = Math.floor(at - take.start);
    seconds.set(second, Math.max(seconds.get(second) ?? 0, motion.size[k] as number));
  });
  const blocks = Math.max(1, Math.round((take.end - take.start) / options.block));
  const length = (take.end - take.start) / blocks;
  const rough: Stretch[] = [];
  for (let b = 0; b < blocks; b++) {
    const inside = [...seconds].filter(([second]) => Math.floor(second / length) === b).sort(([, a], [, c]) => c - a);
    for (const [second] of inside.slice(0, Math.round(inside.length * ROUGH_PART))) {
      rough.push({ start: take.start + second, end: take.start + second + 2 });
    }
  }
  return associate(dropouts, rough, take, options);
}
