// SPDX-License-Identifier: GPL-3.0-or-later
// Drawing the programme on a canvas: everything in ink, told by shape and weight first. Tens of thousands of plants a frame.
import { backdropDraw, backdropImage } from "./backdrop";
import { type Inks, marksDraw, marksOf } from "./marks";
import type { MapData } from "./state";
import { plain } from "./words";

export type To = (east: number, north: number) => [number, number];
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

/** How one square does: plants alive of those that were looked at; `of` 0 where nobody looked. */
export interface Square {
  alive: number;
  of: number;
}
export type Squares = Map<string, Square>;

/* Squares by the share alive: the fuller the ink, the more live; the count stands in it where there is room. */
function squaresDraw(c: CanvasRenderingContext2D, data: MapData, squares: Squares, to: To, perPixel: number, inks: Inks): void {
  for (const one of data.squares ?? []) {
    const square = squares.get(one.code);
    trace(c, one.geometry, to);
    if (square && square.of > 0) {
      c.globalAlpha = 0.85 * (square.alive / square.of);
      c.fillStyle = inks.canopy!;
    } else {
      c.globalAlpha = 0.5;
      c.fillStyle = hatch(c, inks.soft!) ?? "transparent";
    }
    c.fill("evenodd");
    c.globalAlpha = 1;
    c.lineWidth = 0.5;
    c.strokeStyle = inks.soft!;
    c.stroke();
  }
  if (1 / perPixel < 26) return;
  for (const one of data.squares ?? []) {
    const square = squares.get(one.code), at = middle(one.geometry);
    if (square && square.of > 0 && at) label(c, `${square.alive}/${square.of}`, ...to(at[0], at[1]), inks, 11);
  }
}

const canHurt = new Set(["buried_service", "overhead_line", "contamination", "invasive_plant", "railway"]);

/** What a map shows beside its data. */
export interface Look {
  shown: Shown;
  inks: Inks;
  /** Index of the one species to show clearly, or −1. */
  species: number;
  squares: Squares | null;
  /** Called when a picture beneath has come. */
  ready: () => void;
}

/** The whole map, from the ground up. `scale`: pixel = a·east + e, d·north + f. */
export function mapDraw(c: CanvasRenderingContext2D, data: MapData, scale: [number, number, number, number], extent: number[], perPixel: number, ratio: number, { shown, inks, species, squares, ready }: Look): void {
  const [a, d, e, f] = scale, to: To = (x, y) => [a * x + e, d * y + f];
  taken = [];
  for (const one of shown.backdrop === false ? [] : (data.backdrops ?? [])) {
    const image = backdropImage(one, ready);
    if (image) backdropDraw(c, image, one.place, scale);
  }
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
  if (squares) squaresDraw(c, data, squares, to, perPixel, inks);
  marksDraw(c, marksOf(data), scale, extent, Math.min(9, Math.max(1.4, 0.17 / perPixel)), ratio, shown, species, inks);
  if (!squares && shown.squares !== false && data.squares && 1 / perPixel > 34)
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
