/**
 * Posterior of a dropout's length given the readings around it: a sum over depth, start and end.
 *
 *   gap 0 |aperture 0| gap 1 |aperture 1| gap 2 |aperture 2|      the times at which a dropout can start or end, as cells
 *                [ start ............... end ]
 *
 * Given the depth, a reading depends on the start alone (its aperture holds the start), on the end alone, on both (both in one
 * aperture), or on neither (fully open, or quiet). So the likelihood is a product of a factor of the start, one of the
 * end and a constant, and a grid needs to be fine only where a single reading asks for it.
 */
import { normalUpper } from './normal.ts';
import type { DepartureReadings } from './duration.ts';

/** What the likelihood is made of. SI. */
export interface DepartureModel {
  readonly aperture: number;
  readonly noise: number;
  readonly resolution: number;
  /** Weight of the newest reading in the meter's own averaging; 1 for none. */
  readonly filterWeight: number;
  readonly threshold: number;
  /** How far the signal goes when fully open: the least and the most, the same where it is known; null when nothing is. */
  readonly fullDepth: number | null;
  readonly mostDepth: number | null;
  /** Range of the log-uniform prior of the length, s. */
  readonly shortest: number;
  readonly longest: number;
}

export interface LengthPosterior {
  /** Chance that the dropout was shorter than `length`, s. */
  below(length: number): number;
  /** How badly the best length explains the readings: minus twice the log likelihood against a perfect account of each. */
  readonly misfit: number;
  /** Readings that the misfit is summed over. */
  readonly readings: number;
}

/** Share of dropouts taken as fully open beforehand; the others have any depth from the threshold up, every decade alike. */
const FULL_SHARE = 0.5;
/** Nodes for a start or an end within one aperture; for both in one aperture; in a gap between apertures; for an unknown depth. */
const EDGE_NODES = 10;
const INSIDE_NODES = 20;
const GAP_NODES = 6;
const DEPTH_NODES = 30;
const FULL_NODES = 16;
/** Combinations less likely than exp(-this) against the best are left out. */
const NEGLIGIBLE = 12;
/** So many departed readings are kept on each side; those between are fully open and count as a block. */
const EDGE_READINGS = 4;

/** Starts (or ends) in one cell. Weights are relative to exp(`scale`). */
interface Cell {
  readonly order: number;
  /** First reading (for an end: last reading) that is fully open. */
  readonly full: number;
  readonly times: readonly number[];
  readonly weights: readonly number[];
  /** Stretch of time that each node stands for, s. */
  readonly width: number;
  readonly scale: number;
}

/** @returns null when no length explains the readings at all */
export function lengthPosterior(readings: DepartureReadings, model: DepartureModel): LengthPosterior | null {
  const around = cutOut(readings, model);
  const { ends, first, last } = around;
  const n = ends.length;
  // No start before the quiet aperture before last, no end after the quiet one after next.
  const longest = (ends[Math.min(n - 1, last + 2)] as number) - (ends[Math.max(0, first - 2)] as number) + 2 * model.aperture;
  const surest = last - first > 2 ? (ends[last - 1] as number) - model.aperture - (ends[first + 1] as number) : 0;
  const isFiltering = model.filterWeight < 1;
  const lengths = new LengthHistogram(
    isFiltering ? model.shortest : Math.max(model.shortest, surest), Math.min(model.longest, longest), model.longest,
  );
  for (const offset of levelOffsets(model)) {
    for (const node of depthNodes(around, model)) addDepth(lengths, around, model, node, offset);
  }
  return lengths.isEmpty ? null : lengths.close(around);
}

/** The readings that matter, cut out and with the meter's own averaging undone. */
interface Around {
  readonly ends: readonly number[];
  readonly values: readonly number[];
  readonly first: number;
  readonly last: number;
  /** Fully open readings left out after `ends[first + EDGE_READINGS - 1]`: how many, and their mean. */
  readonly block: { readonly count: number; readonly mean: number };
  readonly density: LogDensity;
}

/** The departed readings with two quiet ones on each side. */
function cutOut({ ends, departures, first, last }: DepartureReadings, model: DepartureModel): Around {
  const from = Math.max(0, first - 2);
  const to = Math.min(ends.length - 1, last + 2);
  const filter = model.filterWeight;
  // Undone readings keep what little of the departure is left in the quiet ones after it.
  const offset = filter === 1 ? localOffset(departures, first, last, model) : 0;
  const plain = (i: number): number => {
    const shown = (departures[i] as number) - offset;
    return filter === 1 ? shown : (shown - (1 - filter) * ((departures[i - 1] ?? offset) - offset)) / filter;
  };
  const hasBlock = filter === 1 && last - first + 1 > 2 * EDGE_READINGS;
  const blockFrom = hasBlock ? first + EDGE_READINGS : to + 1;
  const blockTo = hasBlock ? last - EDGE_READINGS : to;
  const kept: number[] = [];
  let sum = 0;
  for (let i = from; i <= to; i++) {
    if (i >= blockFrom && i <= blockTo) sum += plain(i);
    else kept.push(i);
  }
  const count = blockTo - blockFrom + 1;
  return {
    ends: kept.map((i) => ends[i] as number), values: kept.map(plain), first: first - from, last: last - from - count,
    block: { count, mean: count > 0 ? sum / count : 0 }, density: logDensity(model),
  };
}

/**
 * Where the quiet readings right beside the departure lie against the level, when they agree that it is not 0: noise that wanders
 * (correlated, or a level that is followed late) shifts them and the departed ones alike.
 */
function localOffset(departures: readonly number[], first: number, last: number, model: DepartureModel): number {
  const beside = departures.filter((value, i) => (i < first || i > last) && Number.isFinite(value)).sort((a, b) => a - b);
  const n = beside.length;
  if (n < 4) return 0;
  const middle = ((beside[(n - 1) >> 1] as number) + (beside[n >> 1] as number)) / 2;
  // Root pi / 2: the standard error of a median against that of a mean.
  return Math.abs(middle) > 2 * Math.sqrt(Math.PI / 2 / n) * model.noise ? middle : 0;
}

type LogDensity = (shown: number, mean: number) => number;

/** Log density of a shown departure around its mean: normal, or the exact chance of that count on a coarse display. */
function logDensity(model: DepartureModel): LogDensity {
  const { resolution, filterWeight } = model;
  // Undoing an averaging y += w (x - y) with white noise on y makes the noise of x this much wider.
  const noise = (model.noise * Math.sqrt(1 + (1 - filterWeight) ** 2)) / filterWeight;
  if (!isCoarse(model)) return (shown, mean) => -0.5 * ((shown - mean) / noise) ** 2;
  return roundedLogDensity(resolution, analogNoise(model));
}

/** Log of the chance that a value `miss` away is rounded to the count shown, from a table: it is asked for thousands of times. */
function roundedLogDensity(resolution: number, analog: number): LogDensity {
  const entries = 512;
  const reach = resolution / 2 + 8 * analog;
  const step = reach / entries;
  const table = new Float64Array(entries + 2);
  for (let k = 0; k < table.length; k++) {
    const upper = (k * step + resolution / 2) / analog;
    const lower = (k * step - resolution / 2) / analog;
    table[k] = Math.log(lower > 0 ? normalUpper(lower) - normalUpper(upper) : normalUpper(-upper) - normalUpper(-lower));
  }
  return (shown, mean) => {
    const miss = Math.abs(shown - mean);
    // Beyond the table the tail goes on as a parabola.
    if (miss >= reach) return (table[entries] as number) - 0.5 * (((miss - resolution / 2) / analog) ** 2 - 64);
    const place = miss / step;
    const k = Math.floor(place);
    const below = table[k] as number;
    return below + (place - k) * ((table[k + 1] as number) - below);
  };
}

/** Noise before rounding; never quite 0, so that a level between two counts is possible. */
function analogNoise({ noise, resolution }: DepartureModel): number {
  return Math.sqrt(Math.max((resolution / 20) ** 2, noise * noise - (resolution * resolution) / 12));
}

function isCoarse(model: DepartureModel): boolean {
  return model.filterWeight === 1 && model.resolution > analogNoise(model);
}

/** On a coarse and quiet display the level itself is known to half a count only. */
function levelOffsets(model: DepartureModel): readonly number[] {
  if (!isCoarse(model) || analogNoise(model) > 0.4 * model.resolution) return [0];
  return [-0.4, -0.2, 0, 0.2, 0.4].map((part) => part * model.resolution);
}

interface DepthNode {
  readonly depth: number;
  readonly logPrior: number;
  /** Relative width of the depths that the node stands for. */
  readonly width: number;
}

/** Depths with their prior weights: all decades from the threshold to fully open, finer where the readings fix the depth. */
function depthNodes({ values, first, last, block }: Around, model: DepartureModel): DepthNode[] {
  const { noise, fullDepth, mostDepth, threshold, filterWeight } = model;
  const wide = noise / filterWeight;
  const touched = values.slice(first, last + 1);
  const deepest = Math.max(...touched);
  const top = Math.max(mostDepth ?? 1000 * deepest, deepest + 6 * wide);
  const bottom = Math.max(threshold / 2, Math.min(deepest - 6 * wide, 0.999 * top));
  const logs: number[] = [];
  for (let k = 0; k <= DEPTH_NODES; k++) logs.push(Math.log(bottom) + (Math.log(top / bottom) * k) / DEPTH_NODES);
  const addAround = (centre: number, deviation: number): void => {
    for (let k = -6; k <= 6; k++) {
      const depth = centre + 0.75 * k * deviation;
      if (depth > bottom && depth < top) logs.push(Math.log(depth));
    }
  };
  // Of a meter that averages the last departed readings may hold nothing but what is left of those before.
  const inner = filterWeight === 1 ? touched.slice(1, -1) : touched.filter((value) => value > deepest / 2).slice(1, -1);
  const innerCount = inner.length + block.count;
  if (innerCount > 0) {
    const mean = (inner.reduce((a, b) => a + b, 0) + block.count * block.mean) / innerCount;
    addAround(mean, wide / Math.sqrt(isCoarse(model) ? 1 : innerCount));
  } else for (const value of touched) addAround(value, wide);
  logs.sort((a, b) => a - b);
  const nodes: DepthNode[] = [];
  if (fullDepth !== null && mostDepth !== null) {
    // Every decade alike between the least and the most.
    const count = mostDepth > fullDepth ? FULL_NODES : 1;
    const step = Math.log(mostDepth / fullDepth) / count;
    for (let k = 0; k < count; k++) nodes.push({ depth: fullDepth * Math.exp((k + 0.5) * step), logPrior: Math.log(FULL_SHARE / count), width: step });
  }
  const share = fullDepth === null ? 1 : 1 - FULL_SHARE;
  const range = Math.max(1, Math.log(top / Math.min(threshold, top / 2)));
  logs.forEach((log, k) => {
    const width = ((logs[k + 1] ?? log) - (logs[k - 1] ?? log)) / 2;
    if (width > 0) nodes.push({ depth: Math.exp(log), logPrior: Math.log((share * width) / range), width });
  });
  return nodes;
}

/** Adds all starts and ends for one depth (and one offset of the level). */
function addDepth(lengths: LengthHistogram, around: Around, model: DepartureModel, node: DepthNode, offset: number): void {
  const { ends, values, first, last, block, density } = around;
  const { depth, logPrior } = node;
  const { aperture } = model;
  const n = ends.length;
  const quiet = values.map((value) => density(value, offset));
  // A coarse display rounds all readings of the block alike: they weigh as one.
  const blockWeight = isCoarse(model) ? Math.min(1, block.count) : block.count;
  const allQuiet = quiet.reduce((sum, log) => sum + log, 0) + (block.count > 0 ? blockWeight * density(block.mean, depth + offset) : 0);
  // prefix[i]: log likelihood ratio of readings 0..i-1 being fully open rather than quiet.
  const prefix = [0];
  for (let i = 0; i < n; i++) prefix.push((prefix[i] as number) + density(values[i] as number, depth + offset) - (quiet[i] as number));

  const opens = (i: number): number => (ends[i] as number) - aperture;
  /** Nodes of the overlap with aperture i, with likelihood ratios against quiet. */
  const overlaps = (i: number, count: number): { at: number[]; logs: number[]; width: number } => {
    const slack = 5 * model.noise / model.filterWeight + model.resolution;
    const value = (values[i] as number) - offset;
    const low = Math.min(Math.max(0, ((value - slack) * aperture) / depth), aperture);
    const high = Math.max(0, Math.min(aperture, ((value + slack) * aperture) / depth));
    const width = (high - low) / count;
    const at: number[] = [];
    const logs: number[] = [];
    if (width > 0) {
      for (let k = 0; k < count; k++) {
        const overlap = low + (k + 0.5) * width;
        at.push(overlap);
        logs.push(density(values[i] as number, offset + (depth * overlap) / aperture) - (quiet[i] as number));
      }
    }
    return { at, logs, width };
  };
  const gapCell = (i: number, full: number): Cell | null => {
    // The gap before aperture i; outside of the readings cut out it is taken to be as long as the aperture.
    const from = i === 0 ? opens(0) - aperture : (ends[i - 1] as number);
    const to = i === n ? (ends[n - 1] as number) + aperture : opens(i);
    const width = (to - from) / GAP_NODES;
    if (!(width > 1e-9 * aperture)) return null;
    const times: number[] = [];
    for (let k = 0; k < GAP_NODES; k++) times.push(from + (k + 0.5) * width);
    return { order: 2 * i, full, times, weights: times.map(() => width), width, scale: 0 };
  };
  const apertureCell = (i: number, full: number, timeOf: (overlap: number) => number): Cell | null => {
    const { at, logs, width } = overlaps(i, EDGE_NODES);
    if (at.length === 0) return null;
    const scale = Math.max(...logs);
    return { order: 2 * i + 1, full, times: at.map(timeOf), weights: logs.map((log) => width * Math.exp(log - scale)), width, scale };
  };

  const isFiltering = model.filterWeight < 1;
  const starts: Cell[] = [];
  for (let i = Math.max(0, first - 2); i <= Math.min(n, first + 2); i++) {
    const gap = gapCell(i, i);
    if (gap !== null) starts.push(gap);
    const cell = i < n ? apertureCell(i, i + 1, (overlap) => (ends[i] as number) - overlap) : null;
    if (cell !== null) starts.push(cell);
  }
  const finishes: Cell[] = [];
  for (let i = Math.max(0, isFiltering ? first - 1 : last - 2); i <= Math.min(n, last + 2); i++) {
    const gap = gapCell(i, i - 1);
    if (gap !== null) finishes.push(gap);
    const cell = i < n ? apertureCell(i, i - 1, (overlap) => opens(i) + overlap) : null;
    if (cell !== null) finishes.push(cell);
  }

  for (const start of starts) {
    for (const finish of finishes) {
      if (finish.order <= start.order) continue;
      const inside = finish.full >= start.full ? (prefix[finish.full + 1] as number) - (prefix[start.full] as number) : 0;
      const scale = allQuiet + start.scale + finish.scale + inside;
      if (!lengths.weigh(scale, logPrior)) continue;
      const spread = Math.max(start.width, finish.width);
      for (let a = 0; a < start.times.length; a++) {
        for (let b = 0; b < finish.times.length; b++) {
          const length = (finish.times[b] as number) - (start.times[a] as number);
          lengths.add(length, spread, ((start.weights[a] as number) * (finish.weights[b] as number)) / length);
        }
      }
    }
  }
  // Start and end within one aperture: the reading tells the length, and leaves the place open.
  for (let i = Math.max(0, first - 1); i <= Math.min(n - 1, last + 1); i++) {
    const { at, logs, width } = overlaps(i, INSIDE_NODES);
    if (at.length === 0) continue;
    const best = Math.max(...logs);
    if (!lengths.weigh(allQuiet + best, logPrior)) continue;
    at.forEach((length, k) => {
      const spread = Math.max(width, length * node.width);
      lengths.add(length, spread, (width * Math.exp((logs[k] as number) - best) * (aperture - length)) / length);
    });
  }
}

const BINS = 4096;

/** Chance by length, on a logarithmic scale; each node is spread over the stretch that it stands for. */
class LengthHistogram {
  readonly #from: number;
  readonly #to: number;
  readonly #longest: number;
  readonly #binsPerLog: number;
  /** Differences of the density from bin to bin, so that spreading costs the same whatever the width. */
  readonly #steps = new Float64Array(BINS + 2);
  #reference = -Infinity;
  #factor = 0;
  #bestFit = -Infinity;

  constructor(from: number, to: number, longest: number) {
    this.#from = from;
    this.#to = Math.max(to, from * 1.01);
    this.#longest = longest;
    this.#binsPerLog = BINS / Math.log(this.#to / from);
  }

  get isEmpty(): boolean { return this.#reference === -Infinity; }

  /** Takes note of a log likelihood that the next nodes are relative to. @returns false when they don't matter */
  weigh(logLikelihood: number, logPrior: number): boolean {
    const scale = logLikelihood + logPrior;
    if (!(scale > this.#reference - NEGLIGIBLE)) return false;
    if (logLikelihood > this.#bestFit) this.#bestFit = logLikelihood;
    if (scale > this.#reference) {
      const shrink = Math.exp(this.#reference - scale);
      for (let bin = 0; bin < this.#steps.length; bin++) this.#steps[bin] = (this.#steps[bin] as number) * shrink;
      this.#reference = scale;
    }
    this.#factor = Math.exp(scale - this.#reference);
    return true;
  }

  #place(length: number): number {
    return Math.min(BINS, Math.max(0, Math.log(length / this.#from) * this.#binsPerLog));
  }

  add(length: number, spread: number, weight: number): void {
    if (!(length >= this.#from && length <= this.#longest && weight > 0)) return;
    const low = this.#place(Math.max(this.#from, length - spread / 2));
    const high = Math.max(low + 1e-6, this.#place(length + spread / 2));
    const density = (weight * this.#factor) / (high - low);
    this.#step(low, density);
    this.#step(high, -density);
  }

  /** The density rises by `height` at a place within a bin. */
  #step(place: number, height: number): void {
    const bin = Math.floor(place);
    const part = place - bin;
    this.#steps[bin] = (this.#steps[bin] as number) + height * (1 - part);
    this.#steps[bin + 1] = (this.#steps[bin + 1] as number) + height * part;
  }

  close({ values, block, density }: Around): LengthPosterior {
    const cumulative = new Float64Array(BINS + 1);
    let height = 0;
    for (let bin = 0; bin < BINS; bin++) {
      height += this.#steps[bin] as number;
      cumulative[bin + 1] = (cumulative[bin] as number) + Math.max(0, height);
    }
    const total = cumulative[BINS] as number;
    const perfect = values.reduce((sum, value) => sum + density(value, value), 0) + (block.count > 0 ? density(0, 0) : 0);
    return {
      misfit: 2 * (perfect - this.#bestFit),
      readings: values.length,
      below: (length) => {
        const place = this.#place(length);
        const bin = Math.min(BINS - 1, Math.floor(place));
        const under = cumulative[bin] as number;
        return (under + (place - bin) * ((cumulative[bin + 1] as number) - under)) / total;
      },
    };
  }
}
