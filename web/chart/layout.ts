/** Where the points of a chart stand in its drawing: from the supply on the left to the ground on the right. Pure. */
import type { Chart, ChartPoint } from '../../server/session/chart.ts';

export interface PlacedPoint {
  readonly point: ChartPoint;
  /** Column from the left and row from the top, whole numbers. */
  readonly column: number;
  readonly row: number;
}

export interface PlacedLink {
  readonly id: string;
  readonly kind: 'span' | 'fuse' | 'contact' | 'load';
  readonly from: PlacedPoint;
  readonly to: PlacedPoint;
}

export interface Layout {
  readonly points: readonly PlacedPoint[];
  readonly links: readonly PlacedLink[];
  readonly columns: number;
  readonly rows: number;
}

interface Edge { readonly id: string; readonly kind: PlacedLink['kind']; readonly from: string; readonly to: string }

/**
 * Columns are the longest way from the left, so that every wire leads to the right; rows keep a way straight where it can
 * be. The battery, which closes the circle, is not drawn as a link: its posts are the two ends.
 */
export function layoutChart(chart: Chart): Layout {
  const edges: Edge[] = [
    ...chart.spans.map(({ id, from, to }): Edge => ({ id, kind: 'span', from, to })),
    ...chart.components.flatMap(({ id, kind, from, to }): Edge[] => (kind === 'battery' ? [] : [{ id, kind, from, to }])),
  ];
  const column = columnsOf(chart.points.map(({ id }) => id), edges);
  const placed = new Map<string, PlacedPoint>();
  const taken = new Map<number, Set<number>>();
  const place = (point: ChartPoint, wanted: number): void => {
    const at = column.get(point.id) ?? 0;
    const used = taken.get(at) ?? new Set();
    let row = wanted;
    while (used.has(row)) row++;
    taken.set(at, used.add(row));
    placed.set(point.id, { point, column: at, row });
  };
  const inOrder = [...chart.points].sort((a, b) => (column.get(a.id) ?? 0) - (column.get(b.id) ?? 0));
  for (const point of inOrder) {
    // Straight on from what leads here; the second branch of a splice goes one row down.
    const before = edges.filter((edge) => edge.to === point.id).map((edge) => placed.get(edge.from)?.row).filter((row) => row !== undefined);
    place(point, before.length > 0 ? Math.min(...before) : 0);
  }
  const links = edges.flatMap(({ id, kind, from, to }): PlacedLink[] => {
    const ends = [placed.get(from), placed.get(to)] as const;
    return ends[0] === undefined || ends[1] === undefined ? [] : [{ id, kind, from: ends[0], to: ends[1] }];
  });
  const points = [...placed.values()];
  return { points, links, columns: Math.max(0, ...points.map((p) => p.column)) + 1, rows: Math.max(0, ...points.map((p) => p.row)) + 1 };
}

/** Longest way to each point; a circle is cut where it closes. */
function columnsOf(points: readonly string[], edges: readonly Edge[]): Map<string, number> {
  const column = new Map(points.map((id) => [id, 0]));
  // As many rounds as there are points settle every way without a circle; a circle would go on for ever.
  for (let round = 0; round < points.length; round++) {
    let moved = false;
    for (const { from, to } of edges) {
      const wanted = (column.get(from) ?? 0) + 1;
      if (wanted > (column.get(to) ?? 0) && wanted < points.length) {
        column.set(to, wanted);
        moved = true;
      }
    }
    if (!moved) break;
  }
  return column;
}
