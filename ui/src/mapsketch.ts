// SPDX-License-Identifier: GPL-3.0-or-later
// The hand on the map: corners set by click or by Enter at the cross, snapping to what is there, corners and plants dragged.
import Feature from "ol/Feature";
import type OlMap from "ol/Map";
import type MapBrowserEvent from "ol/MapBrowserEvent";
import { LineString, MultiPoint, Point, Polygon } from "ol/geom";
import PointerInteraction from "ol/interaction/Pointer";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style } from "ol/style";
import { inside, partsOf } from "./mapdraw";
import { type Inks, marksOf } from "./marks";
import { moveTo, moves, movesSet } from "./moves";
import { type Corner, sketch, sketchSet } from "./sketch";
import type { MapData } from "./state";

const near = 9;

/** Where the hand is while it draws: the place it snaps to, and whether it does. */
export interface Hand {
  at: Corner | null;
  snapped: boolean;
}

/** Nearest corner, else nearest side, within reach. */
export function snap(data: MapData | null, at: Corner, reach: number): { at: Corner; snapped: boolean } {
  let best = reach, found: Corner | null = null, side: Corner | null = null, bestSide = reach;
  const shapes = [...(data?.sites ?? []), ...(data?.plots ?? []), ...(data?.constraints ?? [])].map((one) => one.geometry);
  for (const geometry of [...shapes, ...(data?.sites ?? []).map((one) => one.plantable)]) {
    const { rings, lines, points } = partsOf(geometry);
    for (const point of points) {
      const d = Math.hypot(point[0] - at[0], point[1] - at[1]);
      if (d < best) [best, found] = [d, point];
    }
    for (const path of [...rings, ...lines])
      for (let i = 0; i < path.length; i++) {
        const a = path[i]!, d = Math.hypot(a[0] - at[0], a[1] - at[1]);
        if (d < best) [best, found] = [d, a];
        const b = path[i + 1];
        if (!b) continue;
        const long = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2;
        if (long === 0) continue;
        const t = Math.min(1, Math.max(0, ((at[0] - a[0]) * (b[0] - a[0]) + (at[1] - a[1]) * (b[1] - a[1])) / long));
        const foot: Corner = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])], away = Math.hypot(foot[0] - at[0], foot[1] - at[1]);
        if (away < bestSide) [bestSide, side] = [away, foot];
      }
  }
  return found ? { at: [found[0], found[1]], snapped: true } : side ? { at: side, snapped: true } : { at, snapped: false };
}

/** Set a corner, or close the shape where the corner is the first one or the last one again. */
export function cornerSet(at: Corner, reach: number): void {
  const { corners, kind } = sketch, last = corners[corners.length - 1], first = corners[0];
  const close = (one: Corner | undefined) => one !== undefined && Math.hypot(one[0] - at[0], one[1] - at[1]) <= reach;
  if (kind === "point") return sketchSet({ corners: [at], closed: true });
  if (kind === "polygon" && corners.length >= 3 && (close(first) || close(last))) return sketchSet({ closed: true });
  if (kind === "line" && corners.length >= 2 && close(last)) return sketchSet({ closed: true });
  if (!close(last)) sketchSet({ corners: [...corners, at] });
}

function shapeOf(corners: Corner[], closed: boolean): Point | LineString | Polygon | null {
  if (corners.length === 0) return null;
  if (sketch.kind === "point" || corners.length === 1) return new Point(corners[0]!);
  if (sketch.kind === "line" || corners.length === 2 || !closed) return new LineString(corners);
  return new Polygon([[...corners, corners[0]!]]);
}

function styles(inks: Inks): Record<string, Style | Style[]> {
  const stroke = new Stroke({ color: inks.accent, width: 2.5 });
  const dots = new Style({
    image: new Circle({ radius: 5, stroke, fill: new Fill({ color: inks.paper! }) }),
    geometry: (feature) => {
      const g = feature.getGeometry();
      if (g instanceof Point) return g;
      const list = g instanceof Polygon ? (g.getCoordinates()[0] ?? []) : g instanceof LineString ? g.getCoordinates() : [];
      return list.length ? new MultiPoint(list) : undefined;
    },
  });
  return {
    shape: [new Style({ stroke, fill: new Fill({ color: `${inks.accent}22` }) }), dots],
    ahead: new Style({ stroke: new Stroke({ color: inks.accent, width: 1.5, lineDash: [5, 4] }) }),
    snapped: new Style({ image: new Circle({ radius: 8, stroke: new Stroke({ color: inks.accent, width: 2 }) }) }),
    chosen: new Style({ image: new Circle({ radius: 10, stroke: new Stroke({ color: inks.accent, width: 3 }) }) }),
    moved: new Style({ stroke: new Stroke({ color: inks.accent, width: 1.5 }), image: new Circle({ radius: 4.5, stroke, fill: new Fill({ color: inks.paper! }) }) }),
  };
}

/** The layer of what is being drawn and moved, and the interaction that drags corners and plants. */
export class HandLayer {
  readonly source = new VectorSource();
  readonly layer: VectorLayer;
  private style: Record<string, Style | Style[]>;
  hand: Hand = { at: null, snapped: false };
  data: MapData | null = null;
  constructor(inks: Inks) {
    this.style = styles(inks);
    this.layer = new VectorLayer({ source: this.source, style: (feature) => this.style[String(feature.get("kind"))] });
  }
  recolour(inks: Inks): void {
    this.style = styles(inks);
    this.layer.changed();
  }
  private put(kind: string, geometry: Point | LineString | Polygon | null): void {
    if (!geometry) return;
    const feature = new Feature(geometry);
    feature.set("kind", kind);
    this.source.addFeature(feature);
  }
  /** Draw anew what the sketch and the moves say. */
  renew(): void {
    this.source.clear(true);
    if (sketch.active) {
      const { corners, closed, kind } = sketch, { at, snapped } = this.hand;
      this.put("shape", shapeOf(corners, closed));
      if (!closed && at && kind !== "point" && corners.length > 0) this.put("ahead", new LineString(kind === "polygon" && corners.length > 1 ? [corners[corners.length - 1]!, at, corners[0]!] : [corners[corners.length - 1]!, at]));
      if (!closed && at && snapped) this.put("snapped", new Point(at));
    }
    const places = this.data?.places ?? [];
    if (moves.on) {
      for (const [i, to] of moves.to) if (places[i]) this.put("moved", new LineString([[places[i][0], places[i][1]], to]));
      for (const [i, to] of moves.to) if (places[i]) this.put("moved", new Point(to));
      const chosen = places[moves.chosen];
      if (chosen) this.put("chosen", new Point(moves.to.get(moves.chosen) ?? [chosen[0], chosen[1]]));
    }
    this.source.changed();
  }
  /** The place nearest to a point, within reach, as an index; −1 where there is none. */
  placeAt(x: number, y: number, reach: number): number {
    if (!this.data) return -1;
    const marks = marksOf(this.data), n = this.data.places?.length ?? 0;
    let best = reach, found = -1;
    for (let i = 0; i < n; i++) {
      const to = moves.to.get(i), d = Math.hypot((to ? to[0] : marks.x[i]!) - x, (to ? to[1] : marks.y[i]!) - y);
      if (d < best) [best, found] = [d, i];
    }
    return found;
  }
  /** Dragging of corners while a closed shape stands, and of plants while moving is on. */
  dragging(map: OlMap): PointerInteraction {
    let corner = -1, place = -1;
    const reach = () => (map.getView().getResolution() ?? 1) * 12;
    const here = (event: MapBrowserEvent) => [event.coordinate[0]!, event.coordinate[1]!] as Corner;
    return new PointerInteraction({
      handleDownEvent: (event) => {
        corner = place = -1;
        const [x, y] = here(event);
        if (sketch.active && sketch.corners.length > 0 && (sketch.closed || sketch.purpose === "measure")) corner = sketch.corners.findIndex((one) => Math.hypot(one[0] - x, one[1] - y) < reach());
        else if (moves.on) {
          place = this.placeAt(x, y, Math.max(0.3, reach()));
          if (place >= 0) movesSet({ chosen: place });
        }
        return corner >= 0 || place >= 0;
      },
      handleDragEvent: (event) => {
        const at = here(event);
        if (corner >= 0) sketchSet({ corners: sketch.corners.map((one, i) => (i === corner ? snap(this.data, at, reach() * 0.7).at : one)) });
        else if (place >= 0) moveTo(place, at);
      },
      handleUpEvent: () => false,
    });
  }
}

/** Which ground a place would stand on, in a word: for the form that moves plants. */
export function groundAt(data: MapData, plot: unknown, at: Corner): "out" | "kept" | "free" {
  if (!inside(plot, at[0], at[1])) return "out";
  return data.sites.some((one) => inside(one.plantable, at[0], at[1])) ? "free" : "kept";
}
export const reachOf = (map: OlMap) => (map.getView().getResolution() ?? 1) * near;
