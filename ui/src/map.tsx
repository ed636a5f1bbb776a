// SPDX-License-Identifier: GPL-3.0-or-later
// The map beside the words: the programme in its own metres, what a form asks to be drawn, measuring, moving. No picture from elsewhere.
import OlMap from "ol/Map";
import View from "ol/View";
import { defaults as controlDefaults } from "ol/control/defaults";
import { defaults as interactionDefaults } from "ol/interaction/defaults";
import Projection from "ol/proj/Projection";
import proj4 from "proj4";
import { useEffect, useRef, useState } from "preact/hooks";
import { type Shown, type Squares, crossStep, extentOf, inksNow, inside } from "./mapdraw";
import { Ground } from "./mapground";
import { HandLayer, cornerSet, reachOf, snap } from "./mapsketch";
import { moveTo, moves, onMoves } from "./moves";
import { measured } from "./shape";
import { type Corner, legOf, onSketch, sketch, sketchSet } from "./sketch";
import type { MapData } from "./state";
import { MeasurePanel } from "./measure";
import { figure, numberRead, plain, w } from "./words";

const plane = new Projection({ code: "programme", units: "m", extent: [-1e7, -1e7, 2e7, 2e7] });

interface Parts {
  map: OlMap;
  view: View;
  ground: Ground;
  hand: HandLayer;
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
    backdrop: <><rect x="3" y="3" width="18" height="12" class="s-text" /><path d="M3 12L9 7L13 11L16 8L21 13" class="s-text" /></>,
    gone: <path d="M7 4L17 14M7 14L17 4" class="s-caution k-heavy" />,
  };
  return <svg class="swatch" viewBox="0 0 24 18" aria-hidden="true">{shapes[kind]}</svg>;
}

/* The way ahead and what is drawn so far, in words. */
function livePhrase(hand: Corner | null): string {
  if (!sketch.active) return "";
  const last = sketch.corners[sketch.corners.length - 1], so = measured(sketch.kind, sketch.corners);
  if (!last || !hand || sketch.closed || sketch.kind === "point") return so;
  const { length, bearing } = legOf(last, hand);
  return [w.map.leg(figure(length, 2), figure(bearing, 0)), measured(sketch.kind, [...sketch.corners, hand])].filter(Boolean).join(" · ");
}

/** `still`: a map to look at only; what is drawn or moved belongs to another one on the page. */
export function MapView({ data, focus, tall, squares, still }: { data: MapData | null; focus?: unknown[]; tall?: boolean; squares?: Squares; still?: boolean }) {
  const box = useRef<HTMLDivElement>(null);
  const parts = useRef<Parts | null>(null);
  const [shown, setShown] = useState<Shown>({});
  const [species, setSpecies] = useState("");
  const [at, setAt] = useState("");
  const [words, setWords] = useState("");
  const [step, setStep] = useState(0);
  const [live, setLive] = useState("");
  const [measuring, setMeasuring] = useState(false);
  const [cross, setCross] = useState(false);
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
    const ground = new Ground(), hand = new HandLayer(ground.look.inks);
    const view = new View({ projection: plane, center: [500000, 5400000], resolution: 0.25, minResolution: 0.003, maxResolution: 200, constrainResolution: false, enableRotation: false });
    const drawing = () => !still && sketch.active && !sketch.closed;
    const interactions = interactionDefaults({ altShiftDragRotate: false, pinchRotate: false, doubleClickZoom: false });
    const map = new OlMap({ target, view, layers: still ? [ground] : [ground, hand.layer], controls: controlDefaults({ zoom: false, rotate: false, attribution: false }), interactions, keyboardEventTarget: target });
    if (!still) map.addInteraction(hand.dragging(map));
    const p: Parts = { map, view, ground, hand };
    parts.current = p;
    map.on("pointermove", (event) => {
      const [x = 0, y = 0] = event.coordinate;
      setAt(w.map.at(figure(x, 1, false), figure(y, 1, false)));
      if (!drawing() || event.dragging) return;
      hand.hand = snap(hand.data, [x, y], reachOf(map));
      setLive(livePhrase(hand.hand.at));
      hand.renew();
    });
    map.on("click", (event) => {
      const [x = 0, y = 0] = event.coordinate;
      if (drawing()) cornerSet(snap(hand.data, [x, y], reachOf(map)).at, reachOf(map) * 0.6);
      else if ((still || !sketch.active) && ground.data) setWords(wordsAt(ground.data, x, y, Math.max(0.35, (view.getResolution() ?? 1) * 10)));
    });
    map.on("dblclick", (event) => {
      if (!sketch.active && !moves.on) view.animate({ center: event.coordinate, resolution: (view.getResolution() ?? 1) / 2, duration: 150 });
    });
    // By keyboard: Enter sets a corner at the cross in the middle, Backspace takes the last one back, arrows move a chosen plant.
    const keys = (event: KeyboardEvent) => {
      const chosen = moves.on && !still ? hand.data?.places?.[moves.chosen] : undefined;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (chosen && way) {
        const [x, y] = moves.to.get(moves.chosen) ?? [chosen[0], chosen[1]], by = event.shiftKey ? 0.25 : 0.05;
        moveTo(moves.chosen, [x + way[0]! * by, y + way[1]! * by]);
      } else if (drawing() && event.key === "Enter") cornerSet(snap(hand.data, view.getCenter()!.slice(0, 2) as Corner, reachOf(map)).at, reachOf(map) * 0.6);
      else if (!still && sketch.active && event.key === "Backspace" && sketch.corners.length > 0) sketchSet({ corners: sketch.corners.slice(0, -1), closed: false });
      else return;
      event.preventDefault();
      event.stopImmediatePropagation();
    };
    target.addEventListener("keydown", keys, true);
    view.on("change:resolution", () => setStep(crossStep(view.getResolution() ?? 1)));
    setStep(crossStep(0.25));
    const night = matchMedia("(prefers-color-scheme: dark)");
    const recolour = () => {
      ground.look = { ...ground.look, inks: inksNow() };
      hand.recolour(ground.look.inks);
      ground.renew();
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
    const sketched = () => {
      setCross(drawing());
      if (still) return;
      setLive(livePhrase(drawing() ? hand.hand.at : null));
      if (!sketch.active || sketch.corners.length === 0) hand.hand = { at: null, snapped: false };
      hand.renew();
    };
    const off = onSketch(sketched), offMoves = onMoves(() => hand.renew());
    sketched();
    void document.fonts?.ready.then(() => ground.renew());
    return () => {
      off();
      offMoves();
      target.removeEventListener("keydown", keys, true);
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
    p.ground.data = p.hand.data = data;
    p.ground.look = { ...p.ground.look, shown, squares: squares ?? null, species: data && species ? data.species.indexOf(species) : -1 };
    p.ground.renew();
    p.hand.renew();
  }, [data, shown, squares, species]);
  const focusKey = JSON.stringify(extentOf(focus?.filter(Boolean) ?? [])) + (data ? data.sites.length + data.constraints.length : "-");
  useEffect(fit, [focusKey]);
  const measure = () => {
    if (measuring) sketchSet({ active: false, corners: [], closed: false });
    else sketchSet({ active: true, purpose: "measure", kind: "line", corners: [], closed: false });
    setMeasuring(!measuring);
  };
  useEffect(() => onSketch(() => (still || !sketch.active || sketch.purpose !== "measure") && setMeasuring(false)), []);
  const zoom = (factor: number) => {
    const view = parts.current?.view;
    if (view) view.animate({ resolution: (view.getResolution() ?? 1) * factor, duration: 150 });
  };
  const keys: [string, string][] = [
    ["site", w.map.site],
    ...(data?.backdrops?.length ? [["backdrop", w.map.backdrop] as [string, string]] : []),
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
          {!still && (!sketch.active || sketch.purpose === "measure") && <button type="button" class="word" aria-pressed={measuring} onClick={measure}>{w.map.measure}</button>}
        </div>
        <p class="north" aria-hidden="true">N<br />↑</p>
        {live && <p class="live">{live}</p>}
        {cross && <p class="cross" aria-hidden="true" />}
      </div>
      <p class="foot">
        <span>{data?.crs ?? ""} · {w.map.square(figure(step))}</span>
        <span class="at">{at}</span>
      </p>
      <p class="at-words" aria-live="polite">{words}</p>
      {!still && measuring && <MeasurePanel />}
      <ul class="key" aria-label={w.map.key}>
        {keys.map(([kind, name]) => (
          <li>
            <label>
              {kind !== "site" && <input type="checkbox" checked={shown[kind] !== false} onChange={(e) => setShown({ ...shown, [kind]: (e.target as HTMLInputElement).checked })} />}
              <Swatch kind={kind} />
              <span>{name}</span>
            </label>
          </li>
        ))}
      </ul>
      {(data?.species.length ?? 0) > 1 && (
        <p class="one-species">
          <label>{w.map.species}{" "}
            <select value={species} onChange={(e) => setSpecies((e.target as HTMLSelectElement).value)}>
              <option value="">{w.map.allSpecies}</option>
              {[...data!.species].sort().map((one) => <option value={one}>{one}</option>)}
            </select>
          </label>
          {species && <span class="soft"> {w.map.ofSpecies([...(data?.places ?? []), ...(data?.plants ?? [])].filter((one) => data?.species[one[3]] === species).length)}</span>}
        </p>
      )}
      {!still && sketch.active && <Centre crs={data?.crs ?? ""} onCentre={(x, y) => {
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
