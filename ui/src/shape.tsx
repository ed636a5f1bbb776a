// SPDX-License-Identifier: GPL-3.0-or-later
// The field that asks where something lies: a map file, drawn on the map, by coordinates, or pasted text.
import { useEffect, useId, useState } from "preact/hooks";
import { NextLeg, OffsetField } from "./measure";
import { areaOf, lengthOf, onSketch, sketch, sketchSet, type Corner, type SketchKind, wktOf } from "./sketch";
import { figure, numberRead, w } from "./words";

export interface Drawn {
  file: File | null;
  wkt: string;
}
export const drawnEmpty: Drawn = { file: null, wkt: "" };

type Way = "file" | "draw" | "table" | "text";
const ways: Way[] = ["file", "draw", "table", "text"];
const kinds: SketchKind[] = ["polygon", "line", "point"];

export function measured(kind: SketchKind, corners: Corner[]): string {
  if (kind === "point") return corners[0] ? w.map.at(figure(corners[0][0], 2, false), figure(corners[0][1], 2, false)) : "";
  if (kind === "line") return corners.length > 1 ? w.map.length(figure(lengthOf(corners, false), 2)) : "";
  return corners.length > 2 ? w.map.area(figure(areaOf(corners), 1), figure(lengthOf(corners, true), 2)) : "";
}

export function ShapeField({ kind, way: firstWay, drawn, onDrawn }: { kind: "polygon" | "any"; way?: Way; drawn: Drawn; onDrawn: (drawn: Drawn) => void }) {
  const [way, setWay] = useState<Way>(firstWay ?? "file");
  const [, again] = useState(0);
  const id = useId();
  useEffect(() => onSketch(() => again((n) => n + 1)), []);
  useEffect(() => {
    if (way !== "draw" && way !== "table") return;
    sketchSet({ active: true, purpose: "shape", kind: "polygon", corners: [], closed: false });
    return () => {
      if (sketch.purpose === "shape") sketchSet({ active: false, corners: [], closed: false });
    };
  }, [way]);
  const sketching = way === "draw" || way === "table";
  const key = sketching ? `${sketch.kind} ${JSON.stringify(sketch.corners)}` : "";
  useEffect(() => {
    if (sketching) onDrawn({ file: null, wkt: wktOf(sketch.kind, sketch.corners) });
  }, [key]);
  // After the form was sent the drawing begins anew.
  useEffect(() => {
    if (sketching && drawn.wkt === "" && wktOf(sketch.kind, sketch.corners) !== "") sketchSet({ corners: [], closed: false });
  }, [drawn.wkt]);
  const choose = (next: Way) => {
    setWay(next);
    onDrawn({ file: null, wkt: "" });
  };
  return (
    <fieldset class="shape">
      <legend>{w.shape.legend}</legend>
      <div class="ways">
        {ways.map((one) => (
          <label>
            <input type="radio" name={`${id}-way`} checked={way === one} onChange={() => choose(one)} /> {w.shape[one]}
          </label>
        ))}
      </div>
      {way === "file" && (
        <div class="field">
          <label for={`${id}-file`}>{w.form.file}</label>
          <input id={`${id}-file`} type="file" accept=".geojson,.json,.gpkg,.zip,.shp,.kml" aria-describedby={`${id}-fh`} onChange={(e) => onDrawn({ file: (e.target as HTMLInputElement).files?.[0] ?? null, wkt: "" })} />
          <p class="help" id={`${id}-fh`}>{w.shape.fileHelp}.</p>
        </div>
      )}
      {way === "text" && (
        <div class="field wide">
          <label for={`${id}-text`}>{w.shape.text}</label>
          <textarea id={`${id}-text`} rows={3} value={drawn.wkt} aria-describedby={`${id}-th`} onInput={(e) => onDrawn({ file: null, wkt: (e.target as HTMLTextAreaElement).value.trim() })} />
          <p class="help" id={`${id}-th`}>{w.shape.textHelp}.</p>
        </div>
      )}
      {sketching && (
        <>
          {kind === "any" && (
            <div class="field">
              <label for={`${id}-kind`}>{w.shape.kind}</label>
              <select id={`${id}-kind`} value={sketch.kind} onChange={(e) => sketchSet({ kind: (e.target as HTMLSelectElement).value as SketchKind, corners: [], closed: false })}>
                {kinds.map((one) => <option value={one}>{w.shape[one]}</option>)}
              </select>
            </div>
          )}
          <p class="help">{way === "draw" ? w.shape.drawHelp : w.shape.tableHelp}</p>
          <p class="said" aria-live="polite">{measured(sketch.kind, sketch.corners) && w.shape.measured + measured(sketch.kind, sketch.corners)}</p>
          {way === "draw" && <NextLeg />}
          {way === "table" && <Corners />}
          <OffsetField strip={kind === "any"} />
          {sketch.corners.length > 0 && <button type="button" class="quiet" onClick={() => sketchSet({ corners: [], closed: false })}>{w.shape.clear}</button>}
        </>
      )}
    </fieldset>
  );
}

/* Coordinates row by row: the way to draw without a pointer. */
function Corners() {
  const [rows, setRows] = useState<[string, string][]>([["", ""], ["", ""], ["", ""]]);
  const need = sketch.kind === "point" ? 1 : sketch.kind === "line" ? 2 : 3;
  const change = (next: [string, string][]) => {
    setRows(next);
    const corners = next.map(([x, y]) => [numberRead(x), numberRead(y)] as Corner).filter(([x, y]) => !Number.isNaN(x) && !Number.isNaN(y));
    sketchSet({ corners, closed: corners.length >= need });
  };
  const shown = sketch.kind === "point" ? rows.slice(0, 1) : rows;
  const set = (i: number, at: 0 | 1, text: string) => change(rows.map((row, j) => (j === i ? (at === 0 ? [text, row[1]] : [row[0], text]) : row) as [string, string]));
  return (
    <div class="corners">
      <table>
        <thead>
          <tr><td /><th scope="col">{w.shape.east}</th><th scope="col">{w.shape.north}</th><td /></tr>
        </thead>
        <tbody>
          {shown.map((row, i) => (
            <tr>
              <th scope="row" class="soft">{i + 1}</th>
              <td><input type="text" inputMode="decimal" aria-label={`${w.shape.corner(i + 1)}, ${w.shape.east}`} value={row[0]} onInput={(e) => set(i, 0, (e.target as HTMLInputElement).value)} /></td>
              <td><input type="text" inputMode="decimal" aria-label={`${w.shape.corner(i + 1)}, ${w.shape.north}`} value={row[1]} onInput={(e) => set(i, 1, (e.target as HTMLInputElement).value)} /></td>
              <td>{rows.length > need && <button type="button" class="quiet" aria-label={w.shape.removeCorner(i + 1)} onClick={() => change(rows.filter((_, j) => j !== i))}>×</button>}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {sketch.kind !== "point" && <button type="button" class="quiet" onClick={() => setRows([...rows, ["", ""]])}>{w.shape.addCorner}</button>}
    </div>
  );
}
