// SPDX-License-Identifier: GPL-3.0-or-later
// A picture of one's own beneath the map: a GeoTIFF lies where it says; any other picture is placed by two points that are known in both.
import { useEffect, useRef, useState } from "preact/hooks";
import { type Picture, type Place, pictureFile, pictureRead, placeByTwo } from "../backdrop";
import { Busy, FieldView, Undo, useRun } from "../forms";
import { FailureView, NoteBody, Said } from "../note";
import type { Corner } from "../sketch";
import { type MapData, tell } from "../state";
import { figure, numberRead, w } from "../words";
import { Remove } from "./ground";

type Point = { column: string; row: string; east: string; north: string };
const bare: Point = { column: "", row: "", east: "", north: "" };

export function BackdropForm({ map }: { map: MapData | null }) {
  const [picture, setPicture] = useState<Picture | null>(null);
  const [name, setName] = useState("");
  const [source, setSource] = useState("");
  const [points, setPoints] = useState<[Point, Point]>([bare, bare]);
  const [turn, setTurn] = useState<0 | 1>(0);
  const [wrong, setWrong] = useState("");
  const view = useRef<HTMLCanvasElement>(null);
  const r = useRun("backdrop");
  const code = Number(/\d+$/.exec(map?.crs ?? "")?.[0] ?? 0);
  const lies = picture?.place && picture.crs === code ? picture.place : null;
  const number = (point: Point) => [point.column, point.row, point.east, point.north].map(numberRead) as [number, number, number, number];
  const [p, q] = [number(points[0]), number(points[1])];
  const whole = [...p, ...q].every((one) => !Number.isNaN(one));
  const place: Place | null = lies ?? (whole ? placeByTwo([[p[0], p[1]], [q[0], q[1]]] as [Corner, Corner], [[p[2], p[3]], [q[2], q[3]]] as [Corner, Corner]) : null);
  useEffect(() => {
    const canvas = view.current, c = canvas?.getContext("2d");
    if (!canvas || !c || !picture) return;
    const by = Math.min(1, 900 / Math.max(picture.canvas.width, picture.canvas.height));
    canvas.width = picture.canvas.width * by;
    canvas.height = picture.canvas.height * by;
    c.drawImage(picture.canvas, 0, 0, canvas.width, canvas.height);
    points.forEach((point, i) => {
      const x = numberRead(point.column) * by, y = numberRead(point.row) * by;
      if (Number.isNaN(x) || Number.isNaN(y)) return;
      for (const [ink, width] of [["#fff", 5], ["#0072b2", 2]] as const) {
        c.strokeStyle = ink;
        c.lineWidth = width;
        c.beginPath();
        c.moveTo(x - 12, y);
        c.lineTo(x + 12, y);
        c.moveTo(x, y - 12);
        c.lineTo(x, y + 12);
        c.stroke();
      }
      c.font = "600 16px sans-serif";
      c.lineWidth = 4;
      c.strokeStyle = "#fff";
      c.strokeText(String(i + 1), x + 8, y - 8);
      c.fillStyle = "#000";
      c.fillText(String(i + 1), x + 8, y - 8);
    });
  }, [picture, points]);
  const read = async (file: File | null) => {
    setWrong("");
    setPicture(null);
    if (!file) return;
    try {
      setPicture(await pictureRead(file));
      setName(file.name.replace(/\.[^.]*$/, ""));
    } catch {
      setWrong(w.backdrop.unread);
    }
  };
  const put = (i: 0 | 1, change: Partial<Point>) => setPoints((all) => all.map((one, k) => (k === i ? { ...one, ...change } : one)) as [Point, Point]);
  const click = (event: MouseEvent) => {
    const canvas = view.current!, box = canvas.getBoundingClientRect(), by = picture!.canvas.width / box.width;
    put(turn, { column: String(Math.round((event.clientX - box.left) * by)), row: String(Math.round((event.clientY - box.top) * by)) });
    setTurn(turn === 0 ? 1 : 0);
  };
  const keep = async () => {
    if (!picture || !place) return;
    const file = await pictureFile(picture, name || "backdrop");
    const note = await r.start({ file: file.name, name: name || file.name, place: place.join(" "), placed_by: lies ? w.backdrop.byFile : w.backdrop.byTwo, ...(source.trim() ? { source: source.trim() } : {}) }, file);
    if (note) {
      setPicture(null);
      tell();
    }
  };
  return (
    <div data-job="backdrop">
      <p class="help">{w.backdrop.help}</p>
      <FieldView look={{ name: "picture", kind: "file_in", label: w.backdrop.file }} value="" onValue={() => null} onFile={(file) => void read(file)} />
      {wrong && <p class="wrong" role="alert">{wrong}</p>}
      {picture && (
        <>
          <div class="fields">
            <FieldView look={{ name: "name", kind: "text", label: w.programme.name }} value={name} onValue={setName} />
            <FieldView look={{ name: "source", kind: "text", label: w.backdrop.source, help: w.backdrop.sourceHelp, own: true }} value={source} onValue={setSource} />
          </div>
          {lies ? <p class="said">{w.backdrop.knows(map?.crs ?? "")}</p> : (
            <>
              <p class="said">{picture.place ? w.backdrop.elsewhere(picture.crs ? `EPSG:${picture.crs}` : "?", map?.crs ?? "") : w.backdrop.points}</p>
              <div class="picture"><canvas ref={view} onClick={click} role="img" aria-label={w.backdrop.picture} /></div>
              {([0, 1] as const).map((i) => (
                <fieldset class="known-point">
                  <legend>{w.backdrop.point(i + 1)}</legend>
                  <div class="fields one">
                    {(["column", "row", "east", "north"] as const).map((key) => <FieldView look={{ name: `${key}_${i}`, kind: "number", label: w.backdrop[key] }} value={points[i][key]} onValue={(text) => put(i, { [key]: text })} />)}
                  </div>
                </fieldset>
              ))}
            </>
          )}
          {place && <p class="said" aria-live="polite">{w.backdrop.pixel(figure(Math.hypot(place[0], place[1]), 3))}</p>}
          <div class="acts"><button type="button" class="main" disabled={!place || r.busy} onClick={() => void keep()}>{w.backdrop.keep}</button><Busy run={r} /></div>
        </>
      )}
      <FailureView failure={r.failure} />
      {r.note && <><Said status text={r.note.answer}><Undo run={r} /></Said><NoteBody note={r.note} level={3} /></>}
      {r.message && <p role="status">{r.message}</p>}
      {(map?.backdrops ?? []).length > 0 && <ul class="backdrops">{map!.backdrops!.map((one) => <li>{one.name} <Remove noun="backdrop" id={one.id} name={one.name} /></li>)}</ul>}
    </div>
  );
}
