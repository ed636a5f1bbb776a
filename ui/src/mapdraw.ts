// SPDX-License-Identifier: GPL-3.0-or-later
// Drawing the programme on a canvas: everything in ink, told by shape and weight first. Tens of thousands of plants a frame.
import type { MapData } from "./state";
import { plain } from "./words";

export type To = (east: number, north: number) => [number, number];
export type Inks = Record<string, string>;
export type Shown = Record<string, boolean>;
type Ring = [number, number][];

export const inkNames = ["text", "soft", "faint", "paper", "wash", "accent", "caution", "canopy", "subcanopy", "shrub", "climber", "ground"];
export function inksNow(): Inks {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(inkNames.map((name) => [name, style.getPropertyValue(`--ink-${name}`).trim() || "#000"]));
}

/** Rings and lines of a GeoJSON geometry, or its points. */
export function partsOf(geometry: unknown): { rings: Ring[]; lines: Ring[]; points: Ring } {
  const out = { rings: [] as Ring[], lines: [] as Ring[], points: [] as Ring };
  const g = geometry as { type: string; coordinates: unknown; geometries?: unknown[] } | null;
  if (!g) return out;
  const c = g.coordinates as never;
  if (g.type === "Polygon") out.rings = c as Ring[];
  else if (g.type === "MultiPolygon") out.rings = (c as Ring[][]).flat();
  else if (g.type === "LineString") out.lines = [c as Ring];
  else if (g.type === "MultiLineString") out.lines = c as Ring[];
  else if (g.type === "Point") out.points = [c as [number, number]];
  else if (g.type === "MultiPoint") out.points = c as Ring;
  for (const one of g.geometries ?? []) {
    const inner = partsOf(one);
    out.rings.push(...inner.rings);
    out.lines.push(...inner.lines);
    out.points.push(...inner.points);
  }
  return out;
}

/** Least and most of all coordinates, or null where there are none. */
export function extentOf(geometries: unknown[]): [number, number, number, number] | null {
  let e: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const one of geometries) {
    const { rings, lines, points } = partsOf(one);
    for (const [x, y] of [...rings.flat(), ...lines.flat(), ...points]) e = [Math.min(e[0], x), Math.min(e[1], y), Math.max(e[2], x), Math.max(e[3], y)];
  }
  return e[0] <= e[2] ? e : null;
}

export function inside(geometry: unknown, x: number, y: number): boolean {
  let within = false;
  for (const ring of partsOf(geometry).rings)
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [xi, yi] = ring[i]!, [xj, yj] = ring[j]!;
      if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) within = !within;
    }
  return within;
}

function trace(c: CanvasRenderingContext2D, geometry: unknown, to: To): void {
  const { rings, lines } = partsOf(geometry);
  c.beginPath();
  for (const ring of [...rings, ...lines]) {
    ring.forEach(([x, y], i) => {
      const [px, py] = to(x, y);
      if (i === 0) c.moveTo(px, py);
      else c.lineTo(px, py);
    });
    if (rings.includes(ring)) c.closePath();
  }
}

/* Where words already stand: a name that would cover another is left out at this scale. */
let taken: [number, number, number, number][] = [];

function label(c: CanvasRenderingContext2D, text: string, x: number, y: number, inks: Inks, size = 13, bold = false): void {
  c.font = `${bold ? "600 " : ""}${size}px "Open Sans", sans-serif`;
  const half = c.measureText(text).width / 2 + 3, tall = size / 2 + 2;
  const box: [number, number, number, number] = [x - half, y - tall, x + half, y + tall];
  if (taken.some((one) => box[0] < one[2] && box[2] > one[0] && box[1] < one[3] && box[3] > one[1])) return;
  taken.push(box);
  c.textAlign = "center";
  c.textBaseline = "middle";
  c.lineWidth = 3;
  c.lineJoin = "round";
  c.strokeStyle = inks.paper!;
  c.strokeText(text, x, y);
  c.fillStyle = inks.text!;
  c.fillText(text, x, y);
}

function middle(geometry: unknown): [number, number] | null {
  const e = extentOf([geometry]);
  return e ? [(e[0] + e[2]) / 2, (e[1] + e[3]) / 2] : null;
}

const steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000];
/** Distance between the crosses of the ground grid at this scale. */
export function crossStep(metresPerPixel: number): number {
  return steps.find((one) => one / metresPerPixel >= 64) ?? 20000;
}

function crosses(c: CanvasRenderingContext2D, extent: number[], step: number, to: To, inks: Inks): void {
  c.strokeStyle = inks.faint!;
  c.lineWidth = 1;
  c.beginPath();
  for (let x = Math.ceil(extent[0]! / step) * step; x <= extent[2]!; x += step)
    for (let y = Math.ceil(extent[1]! / step) * step; y <= extent[3]!; y += step) {
      const [px, py] = to(x, y), qx = Math.round(px) + 0.5, qy = Math.round(py) + 0.5;
      c.moveTo(qx - 4, qy);
      c.lineTo(qx + 4, qy);
      c.moveTo(qx, qy - 4);
      c.lineTo(qx, qy + 4);
    }
  c.stroke();
}

const hatches = new Map<string, CanvasPattern | null>();
function hatch(c: CanvasRenderingContext2D, ink: string): CanvasPattern | null {
  if (!hatches.has(ink)) {
    const tile = document.createElement("canvas");
    tile.width = tile.height = 8;
    const t = tile.getContext("2d")!;
    t.strokeStyle = ink;
    t.lineWidth = 1;
    t.beginPath();
    for (const at of [-8, 0, 8]) {
      t.moveTo(at - 1, 9);
      t.lineTo(at + 9, -1);
    }
    t.stroke();
    hatches.set(ink, c.createPattern(tile, "repeat"));
  }
  return hatches.get(ink) ?? null;
}

const layerInks = ["soft", "canopy", "subcanopy", "shrub", "climber", "text"];

/** One path for all marks of a layer: disc, square, triangle, diamond, plus. */
function markPath(c: CanvasRenderingContext2D, layer: number, x: number, y: number, r: number): void {
  if (layer === 1) {
    c.moveTo(x + r, y);
    c.arc(x, y, r, 0, 7);
  } else if (layer === 2) c.rect(x - 0.8 * r, y - 0.8 * r, 1.6 * r, 1.6 * r);
  else if (layer === 3 || layer === 4) {
    const n = layer === 3 ? 3 : 4;
    for (let i = 0; i < n; i++) {
      const a = (2 * Math.PI * i) / n, px = x + 1.15 * r * Math.sin(a), py = y + (layer === 3 ? 0.15 * r : 0) - 1.15 * r * Math.cos(a);
      if (i === 0) c.moveTo(px, py);
      else c.lineTo(px, py);
    }
    c.closePath();
  } else if (layer === 5) {
    c.moveTo(x - r, y);
    c.lineTo(x + r, y);
    c.moveTo(x, y - r);
    c.lineTo(x, y + r);
  } else {
    c.moveTo(x + 0.6 * r, y);
    c.arc(x, y, 0.6 * r, 0, 7);
  }
}

export function marks(c: CanvasRenderingContext2D, layer: number, at: [number, number][], r: number, inks: Inks): void {
  if (at.length === 0) return;
  c.beginPath();
  for (const [x, y] of at) markPath(c, layer, x, y, r);
  c.lineWidth = layer === 2 ? Math.max(1, 0.3 * r) : layer === 5 ? Math.max(1.2, 0.34 * r) : Math.max(0.7, 0.14 * r);
  c.strokeStyle = inks.text!;
  if (layer >= 1 && layer <= 4) {
    c.fillStyle = inks[layerInks[layer]!]!;
    c.fill();
  }
  c.stroke();
}

function plants(c: CanvasRenderingContext2D, data: MapData, to: To, extent: number[], r: number, shown: Shown, inks: Inks): void {
  const rows = data.plants ?? [], states = data.states ?? [];
  const lost = new Set(states.flatMap((word, i) => (["dead_standing", "missing", "not_found", "removed", "replaced"].includes(word) ? [i] : [])));
  const byLayer: [number, number][][] = [[], [], [], [], [], []], gone: [number, number][] = [];
  for (const [x, y, layer, , state] of rows) {
    if (x < extent[0]! || x > extent[2]! || y < extent[1]! || y > extent[3]!) continue;
    if (lost.has(state)) gone.push(to(x, y));
    else byLayer[layer]?.push(to(x, y));
  }
  byLayer.forEach((at, layer) => shown[`layer${layer}`] !== false && marks(c, layer, at, r, inks));
  c.beginPath();
  for (const [x, y] of gone) {
    c.moveTo(x - r, y - r);
    c.lineTo(x + r, y + r);
    c.moveTo(x - r, y + r);
    c.lineTo(x + r, y - r);
  }
  c.lineWidth = Math.max(1.2, r / 3);
  c.strokeStyle = inks.caution!;
  c.stroke();
}

const canHurt = new Set(["buried_service", "overhead_line", "contamination", "invasive_plant", "railway"]);

/** The whole map, from the ground up. */
export function mapDraw(c: CanvasRenderingContext2D, data: MapData, to: To, extent: number[], perPixel: number, shown: Shown, inks: Inks): void {
  taken = [];
  crosses(c, extent, crossStep(perPixel), to, inks);
  for (const site of data.sites) {
    if (shown.plantable !== false && site.plantable) {
      trace(c, site.plantable, to);
      c.fillStyle = inks.wash!;
      c.fill("evenodd");
    }
    trace(c, site.geometry, to);
    c.lineWidth = 1.5;
    c.setLineDash([10, 3, 2, 3]);
    c.strokeStyle = inks.text!;
    c.stroke();
    c.setLineDash([]);
  }
  for (const thing of shown.standoff === false ? [] : data.constraints) {
    const ink = canHurt.has(thing.kind) ? inks.caution! : inks.soft!;
    trace(c, thing.zone, to);
    c.fillStyle = hatch(c, ink) ?? "transparent";
    c.globalAlpha = 0.55;
    c.fill("evenodd");
    c.globalAlpha = 1;
    c.lineWidth = 1;
    c.setLineDash([4, 3]);
    c.strokeStyle = ink;
    c.stroke();
    c.setLineDash([]);
  }
  for (const thing of shown.thing === false ? [] : data.constraints) {
    trace(c, thing.geometry, to);
    c.lineWidth = 2;
    c.strokeStyle = canHurt.has(thing.kind) ? inks.caution! : inks.text!;
    c.stroke();
    for (const [x, y] of partsOf(thing.geometry).points) {
      const [px, py] = to(x, y);
      c.beginPath();
      c.arc(px, py, 5, 0, 7);
      c.stroke();
      c.beginPath();
      c.arc(px, py, 1.5, 0, 7);
      c.fillStyle = inks.text!;
      c.fill();
    }
  }
  if (shown.squares !== false && data.squares && 1 / perPixel > 6) {
    c.lineWidth = 0.5;
    c.strokeStyle = inks.soft!;
    for (const one of data.squares) {
      trace(c, one.geometry, to);
      c.stroke();
    }
  }
  for (const plot of shown.plot === false ? [] : data.plots) {
    trace(c, plot.geometry, to);
    c.lineWidth = 2.5;
    c.strokeStyle = inks.text!;
    c.stroke();
  }
  const r = Math.min(9, Math.max(1.4, 0.17 / perPixel));
  if (data.places && shown.places !== false) {
    const byLayer: [number, number][][] = [[], [], [], [], [], []];
    for (const [x, y, layer] of data.places) if (x >= extent[0]! && x <= extent[2]! && y >= extent[1]! && y <= extent[3]!) byLayer[layer]?.push(to(x, y));
    byLayer.forEach((at, layer) => shown[`layer${layer}`] !== false && marks(c, layer, at, r, inks));
  }
  plants(c, data, to, extent, r, shown, inks);
  if (shown.squares !== false && data.squares && 1 / perPixel > 34)
    for (const one of data.squares) {
      const e = extentOf([one.geometry]);
      if (!e) continue;
      const [px, py] = to((e[0] + e[2]) / 2, (e[1] + e[3]) / 2);
      label(c, one.code, px, py, inks, 11);
    }
  names(c, data, to, perPixel, shown, inks);
}

/* Names: sites first, then plots, then what is kept away from, where there is room. Small things are named when they can be seen. */
function names(c: CanvasRenderingContext2D, data: MapData, to: To, perPixel: number, shown: Shown, inks: Inks): void {
  const seen = (geometry: unknown, least: number) => {
    const e = extentOf([geometry]);
    return e !== null && Math.max(e[2] - e[0], e[3] - e[1]) / perPixel >= least;
  };
  const crowded = data.places !== undefined || (data.plants?.length ?? 0) > 0;
  for (const site of data.sites) {
    const e = extentOf([site.geometry]);
    if (e && !data.places) {
      const [px, py] = to((e[0] + e[2]) / 2, e[3]);
      label(c, site.code, px, py - 12, inks, 13, true);
    }
  }
  if (shown.plot !== false) for (const plot of data.plots) {
    const e = extentOf([plot.geometry]);
    if (!e || !seen(plot.geometry, 18)) continue;
    const [px, py] = to((e[0] + e[2]) / 2, crowded ? e[3] : (e[1] + e[3]) / 2);
    label(c, plot.code, px, py - (crowded ? 11 : 0), inks, 15, true);
  }
  for (const thing of shown.thing === false ? [] : data.constraints) {
    const at = middle(thing.geometry), point = partsOf(thing.geometry).points.length > 0;
    if (!at || perPixel > (point ? 0.6 : 1.5)) continue;
    const [px, py] = to(at[0], at[1]);
    label(c, thing.label ?? plain(thing.kind), px, py - (point ? 14 : 0), inks, 12);
  }
}
