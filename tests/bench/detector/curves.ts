/**
 * Curves of recall against false alarms on the same streams, and whether a textbook way is ahead of ours anywhere.
 *
 * A point Q of a textbook way is ahead of ours when each point P of ours has more false alarms than Q, or finds fewer: ours may choose its
 * setting as theirs may. It dominates when that can't be chance: for each P, fewer found (exact sign test over the dropouts that just one
 * of them found; McNemar 1947) or more false alarms (exact conditional test of two Poisson counts over the same hours; Przyborowski &
 * Wilenski 1940), the smaller p of the two doubled. The largest such p over our points is the p of Q (intersection-union test; Berger
 * 1982), and Bonferroni's 5 % counts all points of all textbook ways in the run. Dropouts or alarms that come in clusters make p too small.
 */
import { binomialCdf } from '../../../server/diagnosis/distributions.ts';

export const OURS = 'this detector';

export interface Point { readonly setting: number; found: boolean[]; falseAlarms: number; hours: number }
export interface Curve { readonly name: string; readonly points: Point[] }
export type Curves = Map<string, Curve>;

/** One point of a textbook way that no point of ours matches. */
export interface Ahead { readonly kind: string; readonly way: string; readonly setting: number; readonly theirs: string; readonly ours: string; readonly p: number }

export function pointOf(curves: Curves, name: string, setting: number): Point {
  let curve = curves.get(name);
  if (curve === undefined) curves.set(name, (curve = { name, points: [] }));
  let point = curve.points.find((p) => p.setting === setting);
  if (point === undefined) curve.points.push((point = { setting, found: [], falseAlarms: 0, hours: 0 }));
  return point;
}

const count = (found: readonly boolean[]): number => found.reduce((n, is) => n + (is ? 1 : 0), 0);

/** Chance of at least `k` heads in `n` throws. */
const atLeast = (k: number, n: number): number => (k === 0 ? 1 : 1 - binomialCdf(k - 1, n, 0.5));

/** p of the claim that `theirs` finds more or has fewer false alarms. */
function betterThan(theirs: Point, ours: Point): number {
  let theirsAlone = 0;
  let oursAlone = 0;
  for (let i = 0; i < theirs.found.length; i++) {
    if (theirs.found[i] === ours.found[i]) continue;
    if (theirs.found[i] === true) theirsAlone++;
    else oursAlone++;
  }
  const recall = atLeast(theirsAlone, theirsAlone + oursAlone);
  const alarms = atLeast(ours.falseAlarms, ours.falseAlarms + theirs.falseAlarms);
  return Math.min(1, 2 * Math.min(recall, alarms));
}

/** Points of other ways that no point of ours matches, however small the difference; those that differ most surely first. */
export function aheadOfOurs(kind: string, curves: Curves): Ahead[] {
  const ours = curves.get(OURS)?.points ?? [];
  const ahead: Ahead[] = [];
  const say = (point: Point): string => `${count(point.found)}/${point.found.length}, ${point.falseAlarms} false in ${point.hours.toPrecision(3)} h`;
  for (const curve of curves.values()) {
    if (curve.name === OURS) continue;
    for (const theirs of curve.points) {
      const theirFound = count(theirs.found);
      const matches = (point: Point): boolean => count(point.found) >= theirFound && point.falseAlarms <= theirs.falseAlarms;
      if (theirFound === 0 || ours.some(matches)) continue;
      const [p, nearest] = ours.map((point) => [betterThan(theirs, point), point] as const).reduce((a, b) => (b[0] > a[0] ? b : a));
      ahead.push({ kind, way: curve.name, setting: theirs.setting, theirs: say(theirs), ours: `${say(nearest)} at ${nearest.setting}`, p: Number(p.toPrecision(2)) });
    }
  }
  return ahead.sort((a, b) => a.p - b.p);
}

/** Adds the points of one kind to those of all. */
export function pool(into: Curves, curves: Curves): void {
  for (const curve of curves.values()) {
    for (const point of curve.points) {
      const all = pointOf(into, curve.name, point.setting);
      all.found.push(...point.found);
      all.falseAlarms += point.falseAlarms;
      all.hours += point.hours;
    }
  }
}

export function sayCurve({ name, points }: Curve): object {
  return {
    way: name,
    points: points.map(({ setting, found, falseAlarms, hours }) => ({
      setting, recall: found.length === 0 ? null : Number((count(found) / found.length).toPrecision(4)), falseAlarmsPerHour: Number((falseAlarms / hours).toPrecision(4)),
    })),
  };
}
