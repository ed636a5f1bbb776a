// SPDX-License-Identifier: GPL-3.0-or-later
// Plants as marks on a canvas: discs, squares, triangles, diamonds, crosses, told by shape first. Each mark is drawn once as a small
// picture and set down as often as needed, so that 50,000 are one short frame.
import type { MapData } from "./state";

export type Inks = Record<string, string>;
const layerInks = ["soft", "canopy", "subcanopy", "shrub", "climber", "text"];
const lostWords = ["dead_standing", "missing", "not_found", "removed", "replaced"];

/** Marks of a map as columns. Layer 6: what is gone. */
export interface Marks {
  n: number;
  x: Float64Array;
  y: Float64Array;
  layer: Uint8Array;
  species: Uint16Array;
}
const known = new WeakMap<MapData, Marks>();

export function marksOf(data: MapData): Marks {
  const before = known.get(data);
  if (before) return before;
  const places = data.places ?? [], plants = data.plants ?? [], n = places.length + plants.length;
  const out: Marks = { n, x: new Float64Array(n), y: new Float64Array(n), layer: new Uint8Array(n), species: new Uint16Array(n) };
  const lost = new Set((data.states ?? []).flatMap((word, i) => (lostWords.includes(word) ? [i] : [])));
  places.forEach(([x, y, layer, species], i) => {
    out.x[i] = x;
    out.y[i] = y;
    out.layer[i] = layer;
    out.species[i] = species;
  });
  plants.forEach(([x, y, layer, species, state], k) => {
    const i = places.length + k;
    out.x[i] = x;
    out.y[i] = y;
    out.layer[i] = lost.has(state) ? 6 : layer;
    out.species[i] = species;
  });
  known.set(data, out);
  return out;
}

function markPath(c: CanvasRenderingContext2D, layer: number, x: number, y: number, r: number): void {
  if (layer === 1) c.arc(x, y, r, 0, 7);
  else if (layer === 2) c.rect(x - 0.8 * r, y - 0.8 * r, 1.6 * r, 1.6 * r);
  else if (layer === 3 || layer === 4) {
    const n = layer === 3 ? 3 : 4;
    for (let i = 0; i < n; i++) {
      const a = (2 * Math.PI * i) / n, px = x + 1.15 * r * Math.sin(a), py = y + (layer === 3 ? 0.15 * r : 0) - 1.15 * r * Math.cos(a);
      if (i === 0) c.moveTo(px, py);
      else c.lineTo(px, py);
    }
    c.closePath();
  } else if (layer === 5 || layer === 6) {
    const s = layer === 5 ? [[-1, 0, 1, 0], [0, -1, 0, 1]] : [[-1, -1, 1, 1], [-1, 1, 1, -1]];
    for (const [x0, y0, x1, y1] of s as [number, number, number, number][]) {
      c.moveTo(x + x0 * r, y + y0 * r);
      c.lineTo(x + x1 * r, y + y1 * r);
    }
  } else c.arc(x, y, 0.6 * r, 0, 7);
}

/** One mark in ink. */
export function mark(c: CanvasRenderingContext2D, layer: number, x: number, y: number, r: number, inks: Inks): void {
  c.beginPath();
  markPath(c, layer, x, y, r);
  c.lineWidth = layer === 2 ? Math.max(1, 0.3 * r) : layer >= 5 ? Math.max(1.2, 0.34 * r) : Math.max(0.7, 0.14 * r);
  c.strokeStyle = layer === 6 ? inks.caution! : inks.text!;
  if (layer >= 1 && layer <= 4) {
    c.fillStyle = inks[layerInks[layer]!]!;
    c.fill();
  }
  c.stroke();
}

const sprites = new Map<string, HTMLCanvasElement>();
function sprite(layer: number, r: number, ratio: number, inks: Inks): HTMLCanvasElement {
  const key = `${layer} ${r} ${ratio} ${inks.text} ${inks.canopy}`;
  let made = sprites.get(key);
  if (!made) {
    if (sprites.size > 200) sprites.clear();
    const half = Math.ceil(1.3 * r + 2);
    made = document.createElement("canvas");
    made.width = made.height = 2 * half * ratio;
    const c = made.getContext("2d")!;
    c.scale(ratio, ratio);
    mark(c, layer, half, half, r, inks);
    sprites.set(key, made);
  }
  return made;
}

/**
 * Set down all marks within the extent. `a`, `d`, `e`, `f`: pixel = a·east + e, d·north + f. `species` shows one clearly and the others faintly.
 */
export function marksDraw(c: CanvasRenderingContext2D, marks: Marks, [a, d, e, f]: [number, number, number, number], extent: number[], r: number, ratio: number, shown: Record<string, boolean>, species: number, inks: Inks): void {
  const [left = 0, low = 0, right = 0, high = 0] = extent;
  const size = Math.round(r * 4) / 4, half = Math.ceil(1.3 * size + 2);
  const by: HTMLCanvasElement[] = [];
  for (let layer = 0; layer <= 6; layer++) by.push(sprite(layer, size, ratio, inks));
  const off = [0, 1, 2, 3, 4, 5, 6].map((layer) => shown[layer === 6 ? "gone" : `layer${layer}`] === false);
  c.save();
  c.setTransform(1, 0, 0, 1, 0, 0);
  for (const faint of species >= 0 ? [true, false] : [false]) {
    c.globalAlpha = faint ? 0.16 : 1;
    for (let i = 0; i < marks.n; i++) {
      const x = marks.x[i]!, y = marks.y[i]!, layer = marks.layer[i]!;
      if (x < left || x > right || y < low || y > high || off[layer]) continue;
      if (species >= 0 && (marks.species[i] === species) === faint) continue;
      c.drawImage(by[layer]!, Math.round((a * x + e - half) * ratio), Math.round((d * y + f - half) * ratio));
    }
  }
  c.restore();
}
