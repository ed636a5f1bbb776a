// SPDX-License-Identifier: GPL-3.0-or-later
// The shape that is being drawn: shared by the form that asks for it and the map on which it is drawn. Metres; exact in the plane.

export type SketchKind = "point" | "line" | "polygon";
export type Corner = [number, number];

interface Sketch {
  active: boolean;
  kind: SketchKind;
  corners: Corner[];
  closed: boolean;
}
export const sketch: Sketch = { active: false, kind: "polygon", corners: [], closed: false };
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

const digits = (x: number) => String(Math.round(x * 1000) / 1000);

/** Well-known text, or "" while there are too few corners. */
export function wktOf(kind: SketchKind, corners: Corner[]): string {
  const list = (all: Corner[]) => all.map(([x, y]) => `${digits(x)} ${digits(y)}`).join(", ");
  if (kind === "point") return corners.length >= 1 ? `POINT(${list(corners.slice(0, 1))})` : "";
  if (kind === "line") return corners.length >= 2 ? `LINESTRING(${list(corners)})` : "";
  return corners.length >= 3 ? `POLYGON((${list([...corners, corners[0]!])}))` : "";
}
