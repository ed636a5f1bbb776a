// SPDX-License-Identifier: GPL-3.0-or-later
// What a drawn line or outline measures, leg by leg; the next corner by length and bearing; the outline moved in or out.
import { useEffect, useState } from "preact/hooks";
import { areaOf, legOf, legTo, lengthOf, offsetRing, onSketch, sketch, sketchSet, stripOf } from "./sketch";
import { figure, numberRead, w } from "./words";

function useSketch(): void {
  const [, again] = useState(0);
  useEffect(() => onSketch(() => again((n) => n + 1)), []);
}

export function MeasurePanel() {
  useSketch();
  const { corners, kind } = sketch;
  const legs = corners.slice(1).map((one, i) => legOf(corners[i]!, one));
  if (kind === "polygon" && corners.length > 2) legs.push(legOf(corners[corners.length - 1]!, corners[0]!));
  return (
    <div class="measure" role="group" aria-label={w.map.measure}>
      <p class="ways">
        {(["line", "polygon"] as const).map((one) => (
          <label><input type="radio" name="measure-kind" checked={kind === one} onChange={() => sketchSet({ kind: one, corners, closed: false })} /> {w.shape[one]}</label>
        ))}
        {corners.length > 0 && <button type="button" class="quiet" onClick={() => sketchSet({ corners: [], closed: false })}>{w.shape.clear}</button>}
      </p>
      <p class="help">{w.map.measureHelp}</p>
      {legs.length > 0 && (
        <>
          <p class="said" aria-live="polite">{kind === "polygon" && corners.length > 2 ? w.map.area(figure(areaOf(corners), 1), figure(lengthOf(corners, true), 2)) : w.map.length(figure(lengthOf(corners, false), 2))}</p>
          <ol class="legs">{legs.map((one) => <li>{w.map.leg(figure(one.length, 2), figure(one.bearing, 1))}</li>)}</ol>
        </>
      )}
      <NextLeg />
    </div>
  );
}

/** The next corner by how far and which way it lies from the last one: exact, and without a pointer. */
export function NextLeg() {
  useSketch();
  const [length, setLength] = useState("");
  const [bearing, setBearing] = useState("");
  const last = sketch.corners[sketch.corners.length - 1];
  const far = numberRead(length), way = numberRead(bearing);
  if (!last || sketch.closed) return null;
  const add = () => {
    if (Number.isNaN(far) || Number.isNaN(way)) return;
    sketchSet({ corners: [...sketch.corners, legTo(last, far, way)] });
    setLength("");
  };
  const enter = (event: KeyboardEvent) => event.key === "Enter" && (event.preventDefault(), add());
  return (
    <p class="next-leg">
      <label>{w.map.legLength} <input type="text" inputMode="decimal" value={length} onInput={(e) => setLength((e.target as HTMLInputElement).value)} onKeyDown={enter} /></label>
      <label>{w.map.legBearing} <input type="text" inputMode="decimal" value={bearing} onInput={(e) => setBearing((e.target as HTMLInputElement).value)} onKeyDown={enter} /></label>
      <button type="button" class="quiet" disabled={Number.isNaN(far) || Number.isNaN(way)} onClick={add}>{w.map.legAdd}</button>
      {sketch.corners.length >= (sketch.kind === "polygon" ? 3 : 2) && <button type="button" class="quiet" onClick={() => sketchSet({ closed: true })}>{w.map.close}</button>}
    </p>
  );
}

/** The outline moved outwards or inwards, or a line made a strip: both exact, both can be taken back. */
export function OffsetField({ strip }: { strip: boolean }) {
  useSketch();
  const [text, setText] = useState("");
  const [wrong, setWrong] = useState("");
  const metres = numberRead(text);
  const { corners, closed, kind } = sketch;
  if (kind === "point" || !closed || (kind === "line" && !strip)) return null;
  const go = () => {
    const made = kind === "line" ? stripOf(corners, metres) : offsetRing(corners, metres);
    setWrong(made ? "" : w.shape.offsetWrong);
    if (made) sketchSet({ kind: "polygon", corners: made, closed: true });
  };
  return (
    <div class="field offset">
      <label>{kind === "line" ? w.shape.strip : w.shape.offset}{" "}
        <input type="text" class="short" inputMode="decimal" value={text} aria-invalid={wrong ? true : undefined} onInput={(e) => (setText((e.target as HTMLInputElement).value), setWrong(""))} onKeyDown={(e) => e.key === "Enter" && (e.preventDefault(), go())} />
      </label>{" "}
      <button type="button" class="quiet" disabled={Number.isNaN(metres)} onClick={go}>{w.shape.offsetGo}</button>
      {wrong && <p class="wrong" role="alert">{wrong}</p>}
    </div>
  );
}
