// SPDX-License-Identifier: GPL-3.0-or-later
// The map beside the words: the programme in its own metres, and the sketch that a form asks for. No picture from elsewhere.
import OlMap from "ol/Map";
import View from "ol/View";
import Feature from "ol/Feature";
import type { FrameState } from "ol/Map";
import { defaults as controlDefaults } from "ol/control/defaults";
import { LineString, MultiPoint, Point, Polygon } from "ol/geom";
import { Draw, Modify, Snap } from "ol/interaction";
import { defaults as interactionDefaults } from "ol/interaction/defaults";
import Layer from "ol/layer/Layer";
import VectorLayer from "ol/layer/Vector";
import Projection from "ol/proj/Projection";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style } from "ol/style";
import proj4 from "proj4";
import { useEffect, useRef, useState } from "preact/hooks";
import { type Inks, type Shown, crossStep, extentOf, inksNow, inside, mapDraw, partsOf } from "./mapdraw";
import { measured } from "./shape";
import { type Corner, onSketch, sketch, sketchSet } from "./sketch";
import type { MapData } from "./state";
import { figure, numberRead, plain, w } from "./words";

const plane = new Projection({ code: "programme", units: "m", extent: [-1e7, -1e7, 2e7, 2e7] });

/* Everything of the programme on one canvas. */
class Ground extends Layer {
  private canvas = document.createElement("canvas");
  data: MapData | null = null;
  shown: Shown = {};
  inks: Inks = inksNow();
  constructor() {
    super({});
    this.canvas.className = "ground";
  }
  override render(frame: FrameState): HTMLElement {
    const [width = 0, height = 0] = frame.size, ratio = frame.pixelRatio;
    if (this.canvas.width !== width * ratio || this.canvas.height !== height * ratio) {
      this.canvas.width = width * ratio;
      this.canvas.height = height * ratio;
      this.canvas.style.width = `${width}px`;
      this.canvas.style.height = `${height}px`;
    }
    const c = this.canvas.getContext("2d")!, t = frame.coordinateToPixelTransform;
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.clearRect(0, 0, width, height);
    if (this.data) mapDraw(c, this.data, (x, y) => [t[0]! * x + t[2]! * y + t[4]!, t[1]! * x + t[3]! * y + t[5]!], frame.extent!, frame.viewState.resolution, this.shown, this.inks);
    return this.canvas;
  }
  override getSourceState() {
    return "ready" as const;
  }
}

interface Parts {
  map: OlMap;
  view: View;
  ground: Ground;
  source: VectorSource;
  sketchLayer: VectorLayer;
  draw: Draw | null;
  modify: Modify | null;
  snap: Snap | null;
  own: boolean;
}

function sketchStyle(inks: Inks): Style[] {
  const stroke = new Stroke({ color: inks.accent, width: 2.5 });
  return [
    new Style({ stroke, fill: new Fill({ color: `${inks.accent}22` }) }),
    new Style({
      image: new Circle({ radius: 5, stroke, fill: new Fill({ color: inks.paper! }) }),
      geometry: (feature) => {
        const g = feature.getGeometry();
        if (g instanceof Point) return g;
        const list = g instanceof Polygon ? (g.getCoordinates()[0] ?? []) : g instanceof LineString ? g.getCoordinates() : [];
        return list.length ? new MultiPoint(list) : undefined;
      },
    }),
  ];
}

function cornersOf(feature: Feature): Corner[] {
  const g = feature.getGeometry();
  if (g instanceof Point) return [g.getCoordinates().slice(0, 2) as Corner];
  if (g instanceof LineString) return g.getCoordinates().map((c) => c.slice(0, 2) as Corner);
  if (g instanceof Polygon) return (g.getCoordinates()[0] ?? []).slice(0, -1).map((c) => c.slice(0, 2) as Corner);
  return [];
}

function geometryOf(): Point | LineString | Polygon | null {
  const c = sketch.corners;
  if (c.length === 0) return null;
  if (sketch.kind === "point" || c.length === 1) return new Point(c[0]!);
  if (sketch.kind === "line" || c.length === 2) return new LineString(c);
  return new Polygon([[...c, c[0]!]]);
}

function sketchSync(p: Parts): void {
  for (const one of [p.draw, p.modify, p.snap]) if (one) p.map.removeInteraction(one);
  p.draw = p.modify = p.snap = null;
  p.source.clear();
  if (!sketch.active) return;
  const geometry = geometryOf();
  if (geometry) p.source.addFeature(new Feature(geometry));
  if (sketch.closed) {
    p.modify = new Modify({ source: p.source });
    p.modify.on("modifyend", () => {
      const feature = p.source.getFeatures()[0];
      if (feature) own(p, () => sketchSet({ corners: cornersOf(feature) }));
    });
    p.map.addInteraction(p.modify);
  } else if (sketch.corners.length === 0) {
    const type = ({ point: "Point", line: "LineString", polygon: "Polygon" } as const)[sketch.kind];
    p.draw = new Draw({ source: p.source, type, style: sketchStyle(p.ground.inks) });
    p.draw.on("drawstart", (event) => {
      event.feature.getGeometry()?.on("change", () => own(p, () => sketchSet({ corners: cornersOf(event.feature) })));
    });
    p.draw.on("drawend", (event) => {
      const corners = cornersOf(event.feature);
      setTimeout(() => sketchSet({ corners, closed: true }));
    });
    p.map.addInteraction(p.draw);
  }
  p.snap = new Snap({ source: snaps(p.ground.data), pixelTolerance: 8 });
  p.map.addInteraction(p.snap);
}

/* A change the map itself makes must not rebuild the drawing under the pointer. */
function own(p: Parts, change: () => void): void {
  p.own = true;
  change();
  p.own = false;
}

/* What a drawn corner snaps to: corners and sides that are there. */
function snaps(data: MapData | null): VectorSource {
  const source = new VectorSource();
  for (const one of [...(data?.sites ?? []), ...(data?.plots ?? []), ...(data?.constraints ?? [])]) {
    const { rings, lines, points } = partsOf(one.geometry);
    if (rings.length) source.addFeature(new Feature(new Polygon(rings)));
    for (const line of lines) source.addFeature(new Feature(new LineString(line)));
    for (const point of points) source.addFeature(new Feature(new Point(point)));
  }
  return source;
}

/** What lies at a place, in words. */
function wordsAt(data: MapData, x: number, y: number, reach: number): string {
  let best = reach, words = "";
  for (const [px, py, layer, species, square, number] of data.places ?? []) {
    const d = Math.hypot(px - x, py - y);
    if (d < best) {
      best = d;
      words = `${data.squares?.[square]?.code ?? ""}-${number} ${data.species[species] ?? ""}, ${layerWords[layer] ?? ""}`;
    }
  }
  for (const [px, py, layer, species, state, , tag] of data.plants ?? []) {
    const d = Math.hypot(px - x, py - y);
    if (d < best) {
      best = d;
      words = `${tag} ${data.species[species] ?? ""}, ${layerWords[layer] ?? ""}, ${plain(data.states?.[state] ?? "")}`;
    }
  }
  if (words) return words;
  const parts: string[] = [];
  for (const one of data.constraints)
    if (inside(one.zone, x, y)) parts.push(one.standoff_m === null ? `${one.label ?? plain(one.kind)}: ${w.map.notKnown}` : w.map.keep(one.label ?? plain(one.kind), figure(one.standoff_m, 1)));
  for (const one of data.plots) if (inside(one.geometry, x, y)) parts.push(`${one.name}, ${plain(one.regime)}, ${figure(one.area_m2 ?? 0, 0)} m²`);
  for (const one of data.sites) if (inside(one.geometry, x, y)) parts.push(one.name);
  return parts.join(" · ");
}
export const layerWords = ["", w.map.canopy, w.map.subcanopy, w.map.shrub, w.map.climber, w.map.ground];

function Swatch({ kind }: { kind: string }) {
  const shapes: Record<string, preact.JSX.Element> = {
    site: <path d="M2 9H22" class="s-text k-site" />,
    plantable: <rect x="3" y="3" width="18" height="12" class="f-wash s-faint" />,
    plot: <rect x="4" y="4" width="16" height="10" class="s-text k-plot" />,
    thing: <><circle cx="12" cy="9" r="5" class="s-text k-thing" /><circle cx="12" cy="9" r="1.5" class="f-text" /></>,
    standoff: <><path d="M3 15L15 3M9 16L21 4" class="s-soft" /><rect x="3" y="3" width="18" height="12" class="s-soft k-dash" /></>,
    squares: <path d="M4 3V15M12 3V15M20 3V15M4 3H20M4 9H20M4 15H20" class="s-soft k-thin" />,
    layer1: <circle cx="12" cy="9" r="5.5" class="f-canopy s-text" />,
    layer2: <rect x="7" y="4" width="10" height="10" class="f-subcanopy s-text k-heavy" />,
    layer3: <path d="M12 3L18 14H6Z" class="f-shrub s-text" />,
    layer4: <path d="M12 2L19 9L12 16L5 9Z" class="f-climber s-text" />,
    layer5: <path d="M6 9H18M12 3V15" class="s-text k-heavy" />,
    gone: <path d="M7 4L17 14M7 14L17 4" class="s-caution k-heavy" />,
  };
  return <svg class="swatch" viewBox="0 0 24 18" aria-hidden="true">{shapes[kind]}</svg>;
}

export function MapView({ data, focus, tall }: { data: MapData | null; focus?: unknown[]; tall?: boolean }) {
  const box = useRef<HTMLDivElement>(null);
  const parts = useRef<Parts | null>(null);
  const [shown, setShown] = useState<Shown>({});
  const [at, setAt] = useState("");
  const [words, setWords] = useState("");
  const [step, setStep] = useState(0);
  const [live, setLive] = useState("");
  const fit = () => {
    const p = parts.current;
    if (!p || !box.current) return;
    const own = sketch.active && sketch.corners.length > 0 ? [geometryJson()] : [];
    const asked = focus?.filter(Boolean) ?? [];
    const all = asked.length ? asked : [...(data?.sites ?? []), ...(data?.plots ?? []), ...(data?.constraints ?? [])].map((one) => one.geometry);
    const extent = extentOf([...all, ...own]);
    p.map.updateSize();
    if (extent) p.view.fit(extent, { padding: [34, 26, 26, 26], minResolution: 0.005 });
  };
  useEffect(() => {
    const target = box.current!;
    const ground = new Ground(), source = new VectorSource();
    const view = new View({ projection: plane, center: [500000, 5400000], resolution: 0.25, minResolution: 0.003, maxResolution: 200, constrainResolution: false, enableRotation: false });
    const sketchLayer = new VectorLayer({ source, style: sketchStyle(ground.inks) });
    const map = new OlMap({ target, view, layers: [ground, sketchLayer], controls: controlDefaults({ zoom: false, rotate: false, attribution: false }), interactions: interactionDefaults({ altShiftDragRotate: false, pinchRotate: false }), keyboardEventTarget: target });
    const p: Parts = { map, view, ground, source, sketchLayer, draw: null, modify: null, snap: null, own: false };
    parts.current = p;
    map.on("pointermove", (event) => {
      const [x = 0, y = 0] = event.coordinate;
      setAt(w.map.at(figure(x, 1, false), figure(y, 1, false)));
    });
    map.on("click", (event) => {
      const [x = 0, y = 0] = event.coordinate;
      if (!sketch.active && ground.data) setWords(wordsAt(ground.data, x, y, Math.max(0.35, (view.getResolution() ?? 1) * 10)));
    });
    view.on("change:resolution", () => setStep(crossStep(view.getResolution() ?? 1)));
    setStep(crossStep(0.25));
    const night = matchMedia("(prefers-color-scheme: dark)");
    const recolour = () => {
      ground.inks = inksNow();
      sketchLayer.setStyle(sketchStyle(ground.inks));
      ground.changed();
    };
    night.addEventListener("change", recolour);
    // On paper the map keeps the size it was drawn at.
    const print = () => {
      const frame = target.parentElement!;
      frame.style.width = `${frame.clientWidth}px`;
      frame.style.height = `${frame.clientHeight}px`;
      recolour();
      map.renderSync();
    };
    const printed = () => {
      const frame = target.parentElement!;
      frame.style.removeProperty("width");
      frame.style.removeProperty("height");
      recolour();
    };
    addEventListener("beforeprint", print);
    addEventListener("afterprint", printed);
    const off = onSketch(() => {
      setLive(sketch.active ? measured(sketch.kind, sketch.corners) : "");
      if (!p.own) sketchSync(p);
    });
    sketchSync(p);
    void document.fonts?.ready.then(() => ground.changed());
    return () => {
      off();
      night.removeEventListener("change", recolour);
      removeEventListener("beforeprint", print);
      removeEventListener("afterprint", printed);
      map.setTarget(undefined);
      parts.current = null;
    };
  }, []);
  useEffect(() => {
    const p = parts.current;
    if (!p) return;
    p.ground.data = data;
    p.ground.shown = shown;
    p.ground.changed();
  }, [data, shown]);
  const focusKey = JSON.stringify(extentOf(focus?.filter(Boolean) ?? [])) + (data ? data.sites.length + data.constraints.length : "-");
  useEffect(fit, [focusKey]);
  const zoom = (factor: number) => {
    const view = parts.current?.view;
    if (view) view.animate({ resolution: (view.getResolution() ?? 1) * factor, duration: 150 });
  };
  const keys: [string, string][] = [
    ["site", w.map.site],
    ...(data?.sites.some((one) => one.plantable) ? [["plantable", w.map.plantable] as [string, string]] : []),
    ...(data?.constraints.length ? ([["thing", w.map.thing], ["standoff", w.map.standoff]] as [string, string][]) : []),
    ...(data?.plots.length ? [["plot", w.map.plot] as [string, string]] : []),
    ...(data?.squares?.length ? [["squares", w.map.squares] as [string, string]] : []),
    ...[1, 2, 3, 4, 5].filter((layer) => data?.places?.some((one) => one[2] === layer) || data?.plants?.some((one) => one[2] === layer)).map((layer) => [`layer${layer}`, layerWords[layer]!] as [string, string]),
    ...(data?.plants?.length ? [["gone", w.map.gone] as [string, string]] : []),
  ];
  return (
    <section class={tall ? "map tall" : "map"} aria-label={w.map.title}>
      <div class="frame">
        <div ref={box} class="canvas" tabIndex={0} role="application" aria-label={`${w.map.title}. ${w.map.help}`} />
        <div class="tools">
          <button type="button" onClick={() => zoom(0.5)} aria-label={w.map.closer} title={w.map.closer}>+</button>
          <button type="button" onClick={() => zoom(2)} aria-label={w.map.wider} title={w.map.wider}>−</button>
          <button type="button" class="word" onClick={fit}>{w.map.fit}</button>
        </div>
        <p class="north" aria-hidden="true">N<br />↑</p>
        {live && <p class="live">{live}</p>}
      </div>
      <p class="foot">
        <span>{data?.crs ?? ""} · {w.map.square(figure(step))}</span>
        <span class="at">{at}</span>
      </p>
      <p class="at-words" aria-live="polite">{words}</p>
      <ul class="key" aria-label={w.map.key}>
        {keys.map(([kind, name]) => (
          <li>
            <label>
              {kind !== "site" && kind !== "gone" && <input type="checkbox" checked={shown[kind] !== false} onChange={(e) => setShown({ ...shown, [kind]: (e.target as HTMLInputElement).checked })} />}
              <Swatch kind={kind} />
              <span>{name}</span>
            </label>
          </li>
        ))}
      </ul>
      {sketch.active && <Centre crs={data?.crs ?? ""} onCentre={(x, y) => {
        parts.current?.view.setCenter([x, y]);
        parts.current?.view.setResolution(0.25);
      }} />}
    </section>
  );
}

function geometryJson(): unknown {
  return { type: "MultiPoint", coordinates: sketch.corners };
}

/** Metres of a UTM reference system for a longitude and latitude; others are given in metres. */
function metresOf(crs: string, first: number, second: number): Corner | null {
  if (Math.abs(first) > 180 || Math.abs(second) > 90) return [first, second];
  const utm = /^EPSG:32([67])(\d\d)$/.exec(crs), etrs = /^EPSG:258(\d\d)$/.exec(crs);
  const zone = utm?.[2] ?? etrs?.[1];
  if (!zone) return null;
  return proj4("EPSG:4326", `+proj=utm +zone=${Number(zone)}${utm?.[1] === "7" ? " +south" : ""} +datum=WGS84 +units=m`, [first, second]) as Corner;
}

/* Where to begin drawing when nothing is on the map yet. */
function Centre({ crs, onCentre }: { crs: string; onCentre: (x: number, y: number) => void }) {
  const [text, setText] = useState("");
  const show = () => {
    const [a = NaN, b = NaN] = text.split(/[;\s]+|,\s+/).map(numberRead);
    const to = Number.isNaN(a) || Number.isNaN(b) ? null : metresOf(crs, a, b);
    if (to) onCentre(to[0], to[1]);
  };
  return (
    <p class="centre">
      <label>
        {w.map.centre} <input type="text" value={text} placeholder={w.map.eastNorth} onInput={(e) => setText((e.target as HTMLInputElement).value)} onKeyDown={(e) => e.key === "Enter" && (e.preventDefault(), show())} />
      </label>{" "}
      <button type="button" class="quiet" onClick={show}>{w.map.centreGo}</button>
    </p>
  );
}
