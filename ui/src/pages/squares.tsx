// SPDX-License-Identifier: GPL-3.0-or-later
// Survival square by square, census by census. A year without a census stays a gap; nothing is filled in between.
import { useState } from "preact/hooks";
import { MapView } from "../map";
import type { Squares } from "../mapdraw";
import { TableView } from "../note";
import { type MapData, type PlotPlace, choose, plotOf, useMap, useNote } from "../state";
import { day, figure, plain, w } from "../words";
import { Empty } from "./common";

const aliveWords = ["alive", "alive_dieback", "resprouting"], openWords = ["not seen yet", "not_found"];

/* How each square stands at one visit: first planting only; not found is no death; who was found dead before needs no record again. */
function squaresAt(data: MapData, visit: number): { squares: Squares; alive: number; dead: number; open: number; unseen: number } {
  const states = data.states ?? [], squares: Squares = new Map();
  const sum = { alive: 0, dead: 0, open: 0, unseen: 0 };
  for (const [code, , , origin, seen] of data.seen ?? []) {
    if (origin !== 1) continue;
    let state = -1, before = -1, at = -1;
    for (let i = 0; i < seen.length; i += 2) {
      if (seen[i] === visit) state = seen[i + 1]!;
      else if (seen[i]! < visit && seen[i]! > at && !openWords.includes(states[seen[i + 1]!] ?? "")) [at, before] = [seen[i]!, seen[i + 1]!];
    }
    if (state < 0 && before >= 0 && !aliveWords.includes(states[before] ?? "")) state = before;
    const word = states[state] ?? "";
    if (state < 0) sum.unseen++;
    else if (openWords.includes(word)) sum.open++;
    else {
      const alive = aliveWords.includes(word), square = squares.get(code) ?? { alive: 0, of: 0 };
      sum[alive ? "alive" : "dead"]++;
      squares.set(code, { alive: square.alive + (alive ? 1 : 0), of: square.of + 1 });
    }
  }
  return { squares, ...sum };
}

export function BySquare() {
  const base = useMap();
  const plot = plotOf(base.map);
  const [asked, setAsked] = useState(false);
  return (
    <details class="do" onToggle={(e) => (e.currentTarget as HTMLDetailsElement).open && setAsked(true)}>
      <summary><h2>{w.squares.title}</h2></summary>
      {asked && plot && (
        <div class="inner">
          <p class="choice"><label>{w.squares.plot}{" "}
            <select value={plot.name} onChange={(e) => choose("plot", (e.target as HTMLSelectElement).value)}>
              {base.map?.plots.map((one) => <option value={one.name}>{one.name} · {plain(one.regime)}</option>)}
            </select>
          </label></p>
          <OnePlot key={plot.name} plot={plot} />
        </div>
      )}
    </details>
  );
}

function OnePlot({ plot }: { plot: PlotPlace }) {
  const plans = useNote("rows", { noun: "plan", where: `plot_id=${plot.id}` });
  const planned = Number(plans.note?.data?.count ?? 0) > 0;
  const asked = useNote(plans.note && planned ? "map" : null, { site: plot.site, plot: plot.name, seen: true });
  const data = (asked.note?.data as MapData | undefined) ?? null;
  const visits = (data?.visits ?? []).map((one, at) => ({ ...one, at })).filter((one) => one.seen);
  const [at, setAt] = useState(-1);
  if (plans.note && !planned) return <Empty text={w.empty.noPlan} />;
  if (!data) return null;
  if (visits.length === 0) return <Empty text={w.empty.noRecords} to="/records" label={w.empty.goRecords} />;
  const chosen = visits[at < 0 ? visits.length - 1 : Math.min(at, visits.length - 1)]!;
  const now = squaresAt(data, chosen.at);
  const years = visits.map((one) => ({ ...squaresAt(data, one.at), day: one.day }));
  const time = (text: string) => new Date(text).getTime();
  const first = time(visits[0]!.day), last = time(visits[visits.length - 1]!.day), span = Math.max(1, last - first);
  const place = (text: string) => 4 + (92 * (time(text) - first)) / span;
  const missing: number[] = [];
  for (let year = Number(visits[0]!.day.slice(0, 4)); year <= Number(chosen.day.slice(0, 4)); year++) if (!visits.some((one) => one.day.startsWith(String(year)))) missing.push(year);
  const looked = now.alive + now.dead;
  return (
    <>
      <div class="years" role="radiogroup" aria-label={w.squares.census}>
        {visits.map((one, i) => (
          <label style={`--at:${place(one.day)}%`} class={one === chosen ? "now" : undefined}>
            <input type="radio" name="census" checked={one === chosen} onChange={() => setAt(i)} />
            <span>{day(one.day)}</span>
          </label>
        ))}
      </div>
      <p class="said" aria-live="polite">
        {w.squares.sum(day(chosen.day), now.alive, looked, looked > 0 ? figure((100 * now.alive) / looked, 0) : "–", now.open, now.unseen)}
        {missing.length > 0 && ` ${w.squares.missing(missing.join(", "))}`}
      </p>
      <div class="one-map">
        <MapView still data={{ ...data, places: [], plants: [] }} squares={now.squares} focus={[plot.geometry]} />
      </div>
      <ul class="square-key" aria-label={w.map.key}>
        {[1, 0.75, 0.5, 0.25, 0].map((share) => <li><span class="shade" style={`--share:${share}`} /> {w.squares.share(String(100 * share))}</li>)}
        <li><span class="shade none" /> {w.squares.nobody}</li>
      </ul>
      <TableView own title={w.squares.title} table={{
        columns: [{ name: "day", title: w.squares.census, unit: "" }, { name: "alive", title: w.squares.alive, unit: "" }, { name: "dead", title: w.squares.dead, unit: "" }, { name: "open", title: w.squares.open, unit: "" }, { name: "unseen", title: w.squares.unseen, unit: "" }, { name: "bare", title: w.squares.bare, unit: "" }],
        rows: years.map((one) => [one.day, one.alive, one.dead, one.open, one.unseen, [...one.squares.values()].filter((square) => square.of > 0 && square.alive === 0).length]),
      }} />
    </>
  );
}
