// SPDX-License-Identifier: GPL-3.0-or-later
// The shape that is being drawn: shared by the form that asks for it and the map on which it is drawn. Metres; exact in the plane.

export type SketchKind = "point" | "line" | "polygon";
export type Corner = [number, number];

interface Sketch {
  active: boolean;
  /** A form asks for a shape, or somebody measures. */
  purpose: "shape" | "measure";
  kind: SketchKind;
  corners: Corner[];
  closed: boolean;
}
export const sketch: Sketch = { active: false, purpose: "shape", kind: "polygon", corners: [], closed: false };
const listeners = new Set<() => void>();

export function onSketch(one: () => void): () => void {
  listeners.add(one);
  return () => void listeners.delete(one);
}
export function sketchSet(change: Partial<Sketch>): void {
  Object.assign(sketch, change);
  for (const one of [...listeners]) one();
}

/** Area of a ring in m² (shoelace about its first corner, so that large coordinates lose nothing). */
export function areaOf(corners: Corner[]): number {
  const [x0, y0] = corners[0] ?? [0, 0];
  let twice = 0;
  corners.forEach(([x, y], i) => {
    const [nx, ny] = corners[(i + 1) % corners.length]!;
    twice += (x - x0) * (ny - y0) - (nx - x0) * (y - y0);
  });
  return Math.abs(twice) / 2;
}

/** Length of a line, or of a ring with its last side, in m. */
export function lengthOf(corners: Corner[], ring: boolean): number {
  let sum = 0;
  for (let i = ring ? 0 : 1; i < corners.length; i++) {
    const [x, y] = corners[i]!, [px, py] = corners[(i + corners.length - 1) % corners.length]!;
    sum += Math.hypot(x - px, y - py);
  }
  return sum;
}

/** Length in m and bearing in degrees from grid north, clockwise, of the way from one corner to another. */
export function legOf([x0, y0]: Corner, [x1, y1]: Corner): { length: number; bearing: number } {
  const bearing = (Math.atan2(x1 - x0, y1 - y0) * 180) / Math.PI;
  return { length: Math.hypot(x1 - x0, y1 - y0), bearing: (bearing + 360) % 360 };
}

/** The corner that lies so far from another in that direction. */
export function legTo([x, y]: Corner, length: number, bearing: number): Corner {
  const a = (bearing * Math.PI) / 180;
  return [x + length * Math.sin(a), y + length * Math.cos(a)];
}

const cross = (a: Corner, b: Corner) => a[0] * b[1] - a[1] * b[0];

/** Whether two sides of a ring cross. */
function crossed(ring: Corner[]): boolean {
  const n = ring.length;
  const turn = (p: Corner, q: Corner, r: Corner) => Math.sign(cross([q[0] - p[0], q[1] - p[1]], [r[0] - p[0], r[1] - p[1]]));
  for (let i = 0; i < n; i++)
    for (let j = i + 2; j < n; j++) {
      if (i === 0 && j === n - 1) continue;
      const [a, b, c, d] = [ring[i]!, ring[(i + 1) % n]!, ring[j]!, ring[(j + 1) % n]!];
      if (turn(a, b, c) !== turn(a, b, d) && turn(c, d, a) !== turn(c, d, b)) return true;
    }
  return false;
}

/**
 * A ring with every side moved outwards by so many metres (inwards if negative), corners mitred. Null where a side would vanish or the
 * outline would cross itself: then it is too narrow for that.
 */
export function offsetRing(corners: Corner[], metres: number): Corner[] | null {
  const ring = corners.filter((one, i) => legOf(one, corners[(i + 1) % corners.length]!).length > 1e-9), n = ring.length;
  if (n < 3) return null;
  const twice = ring.reduce((sum, one, i) => sum + cross([one[0] - ring[0]![0], one[1] - ring[0]![1]], [ring[(i + 1) % n]![0] - ring[0]![0], ring[(i + 1) % n]![1] - ring[0]![1]]), 0);
  const out = twice > 0 ? metres : -metres;
  const sides = ring.map((one, i) => {
    const next = ring[(i + 1) % n]!, length = legOf(one, next).length, way: Corner = [(next[0] - one[0]) / length, (next[1] - one[1]) / length];
    return { from: [one[0] + out * way[1], one[1] - out * way[0]] as Corner, way };
  });
  const moved = sides.map((side, i) => {
    const before = sides[(i + n - 1) % n]!, bend = cross(before.way, side.way);
    if (Math.abs(bend) < 1e-9) return side.from;
    const t = cross([side.from[0] - before.from[0], side.from[1] - before.from[1]], side.way) / bend;
    return [before.from[0] + t * before.way[0], before.from[1] + t * before.way[1]] as Corner;
  });
  const turned = moved.some((one, i) => {
    const next = moved[(i + 1) % n]!, way = sides[i]!.way;
    return (next[0] - one[0]) * way[0] + (next[1] - one[1]) * way[1] <= 0;
  });
  return turned || crossed(moved) ? null : moved;
}

/** The strip of that width along a line, ends square: a path from its middle line. Null where a bend is too tight for it. */
export function stripOf(corners: Corner[], width: number): Corner[] | null {
  const line = corners.filter((one, i) => i === 0 || legOf(one, corners[i - 1]!).length > 1e-9);
  if (line.length < 2 || !(width > 0)) return null;
  const side = (sign: number): Corner[] | null => {
    const parts = line.slice(1).map((to, i) => {
      const from = line[i]!, { length } = legOf(from, to), way: Corner = [(to[0] - from[0]) / length, (to[1] - from[1]) / length], shift = (sign * width) / 2;
      return { a: [from[0] + shift * way[1], from[1] - shift * way[0]] as Corner, b: [to[0] + shift * way[1], to[1] - shift * way[0]] as Corner, way };
    });
    const out: Corner[] = [parts[0]!.a];
    for (let i = 1; i < parts.length; i++) {
      const before = parts[i - 1]!, now = parts[i]!, bend = cross(before.way, now.way);
      if (Math.abs(bend) < 1e-9) out.push(now.a);
      else {
        const t = cross([now.a[0] - before.a[0], now.a[1] - before.a[1]], now.way) / bend;
        out.push([before.a[0] + t * before.way[0], before.a[1] + t * before.way[1]]);
      }
    }
    out.push(parts[parts.length - 1]!.b);
    return out;
  };
  const right = side(1), left = side(-1);
  if (!right || !left) return null;
  const ring = [...right, ...left.reverse()];
  return crossed(ring) ? null : ring;
}

const digits = (x: number) => String(Math.round(x * 1000) / 1000);

/** Well-known text, or "" while there are too few corners. */
export function wktOf(kind: SketchKind, corners: Corner[]): string {
  const list = (all: Corner[]) => all.map(([x, y]) => `${digits(x)} ${digits(y)}`).join(", ");
  if (kind === "point") return corners.length >= 1 ? `POINT(${list(corners.slice(0, 1))})` : "";
  if (kind === "line") return corners.length >= 2 ? `LINESTRING(${list(corners)})` : "";
  return corners.length >= 3 ? `POLYGON((${list([...corners, corners[0]!])}))` : "";
}
