/** The way of a wire in the drawing, and places along it. Pure. */

export interface Spot { readonly x: number; readonly y: number }

/** The piece of a way of straight lines between two shares of its length, 0 to 1, corners included. */
export function pieceOf(way: readonly Spot[], from: number, to: number): Spot[] {
  const total = lengthOf(way);
  const piece = [spotAt(way, from)];
  let done = 0;
  for (let corner = 1; corner < way.length; corner++) {
    done += distance(way[corner - 1] as Spot, way[corner] as Spot);
    if (done > from * total && done < to * total) piece.push(way[corner] as Spot);
  }
  return [...piece, spotAt(way, to)];
}

/** The spot at a share of the way's length, 0 to 1. */
export function spotAt(way: readonly Spot[], share: number): Spot {
  let left = share * lengthOf(way);
  for (let corner = 1; corner < way.length; corner++) {
    const [a, b] = [way[corner - 1] as Spot, way[corner] as Spot];
    const length = distance(a, b);
    if (left <= length && length > 0) return { x: a.x + ((b.x - a.x) * left) / length, y: a.y + ((b.y - a.y) * left) / length };
    left -= length;
  }
  return way[way.length - 1] as Spot;
}

export function pathOf(way: readonly Spot[]): string {
  return way.map(({ x, y }, order) => `${order === 0 ? 'M' : 'L'}${x} ${y}`).join('');
}

function lengthOf(way: readonly Spot[]): number {
  return way.slice(1).reduce((sum, spot, order) => sum + distance(way[order] as Spot, spot), 0);
}

function distance(a: Spot, b: Spot): number {
  return Math.hypot(b.x - a.x, b.y - a.y);
}
