// SPDX-License-Identifier: GPL-3.0-or-later
// Layout: where each plant stands, on the map; a plant can be moved, the plan judged again, two plans held beside each other.
import { useEffect, useMemo, useState } from "preact/hooks";
import type { Note } from "../api";
import { Busy, FieldView, JobForm, Undo, choicesOf, useRun } from "../forms";
import { MapView, layerWords } from "../map";
import { groundAt } from "../mapsketch";
import { moveTo, moves, movesSet, onMoves } from "../moves";
import { FailureView, NoteBody, Said, TableView, Takeaway } from "../note";
import { type MapData, type PlotPlace, jobOf, plotOf, shared, useMap, useNote } from "../state";
import { figure, numberRead, w } from "../words";
import { Do, Empty, PlotChoice, Sheet } from "./common";

interface Plan {
  id: number;
  plot_id: number;
  version: number;
  chosen: boolean | null;
}

export function Layout() {
  const base = useMap();
  const plot = plotOf(base.map);
  const plans = useNote(plot ? "rows" : null, { noun: "plan", where: `plot_id=${plot?.id ?? 0}` });
  const has = Number(plans.note?.data?.count ?? 0) > 0;
  const full = useNote(plot && has ? "map" : null, { site: plot?.site ?? "", plot: plot?.name ?? "" });
  const map = (full.note?.data as MapData | undefined) ?? base.map;
  const places = map?.places ?? [];
  const laid = places.length > 0;
  const judged = useNote(plot && laid ? "layout" : null, { plot: plot?.name ?? "", stored: true });
  const versions = ((plans.note?.data?.rows ?? []) as Plan[]).filter((one) => one.plot_id === plot?.id);
  return (
    <Sheet page="layout" note={judged.note ?? undefined} busy={judged.busy} failure={judged.failure} choice={<PlotChoice map={base.map} />} side={plot && <MapView tall data={map} focus={[plot.geometry]} />}>
      {base.map && !plot && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      {plot && plans.note && !has && <Empty text={w.empty.noPlan} to="/mix" label={w.empty.goMix} />}
      {plot && has && full.note && !laid && <Empty text={w.empty.noPlaces} />}
      {plot && has && (
        <Do key={plot.name} title={w.layout.lay} open={full.note !== null && !laid}>
          <JobForm job="layout" fixed={{ plot: plot.name }} hide={["try", "stored"]} show={["pattern", "edge_m", "thorny_edge_m", "least_m"]} choices={{ pattern: choicesOf(["irregular", "rows"]) }} submit={w.layout.lay} skip={["Map"]} />
        </Do>
      )}
      {plot && laid && map && <Moving key={plot.name} plot={plot} map={map} />}
      {judged.note && <NoteBody note={judged.note} skip={["Map"]} />}
      {plot && versions.length > 1 && <Beside key={plot.name} plot={plot} versions={versions} />}
      {plot && laid && (
        <>
          <Do title={w.layout.substitute}><JobForm job="substitute" fixed={{ plot: plot.name }} show={["species", "offered", "approver", "approved_on"]} required={["species", "offered"]} submit={w.layout.substitute} /></Do>
          <Do title={w.layout.mend}><JobForm job="mend" fixed={{ plot: plot.name }} show={["short", "fill", "why"]} submit={w.layout.mend} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.sheet}`}><JobForm job="sheet" fixed={{ site: plot.site }} show={["pdf", "html", "revision"]} start={{ pdf: "yes" }} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.cards}`}><JobForm job="cards" fixed={{ plot: plot.name }} show={["pdf", "html"]} start={{ pdf: "yes" }} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.forms}`}><JobForm job="forms" fixed={{ plot: plot.name, pdf: "form.pdf" }} show={["form", "show_last"]} choices={{ form: choicesOf(["census", "first_census", "cards", "sign_in"]) }} /></Do>
          <Do title={w.layout.places}>
            <Places map={map!} />
          </Do>
          <Takeaway job="layout" options={{ plot: plot.name, stored: true }} />
        </>
      )}
    </Sheet>
  );
}

/* Every place in the order of its square. */
function Places({ map }: { map: MapData }) {
  const table = useMemo(() => ({
    columns: [{ name: "square", title: w.layout.square, unit: "" }, { name: "number", title: w.layout.number, unit: "" }, { name: "species", title: w.layout.species, unit: "" }, { name: "layer", title: w.layout.layer, unit: "" }, { name: "east", title: w.layout.east, unit: "m", digits: 2 }, { name: "north", title: w.layout.north, unit: "m", digits: 2 }],
    rows: (map.places ?? [])
      .map((one) => [map.squares?.[one[4]]?.code ?? "", one[5], map.species[one[3]] ?? "", layerWords[one[2]] ?? "", one[0], one[1]] as (string | number)[])
      .sort((a, b) => (a[0]! < b[0]! ? -1 : a[0]! > b[0]! ? 1 : Number(a[1]) - Number(b[1]))),
  }), [map]);
  return <TableView own title={w.layout.places} table={table} />;
}

/* Plants moved by hand: dragged on the map, nudged by arrow keys, or by their coordinates. Nothing is stored until it is said so. */
function Moving({ plot, map }: { plot: PlotPlace; map: MapData }) {
  const [, again] = useState(0);
  const [name, setName] = useState("");
  const [why, setWhy] = useState("");
  const r = useRun("move");
  const places = map.places ?? [];
  const nameOf = (i: number) => `${map.squares?.[places[i]![4]]?.code ?? ""}-${places[i]![5]}`;
  useEffect(() => onMoves(() => again((n) => n + 1)), []);
  useEffect(() => () => movesSet({ on: false, chosen: -1, to: new Map() }), []);
  useEffect(() => movesSet({ chosen: -1, to: new Map() }), [shared.version]);
  useEffect(() => setName(moves.chosen >= 0 && places[moves.chosen] ? nameOf(moves.chosen) : ""), [moves.chosen]);
  const chosen = places[moves.chosen], at = chosen ? (moves.to.get(moves.chosen) ?? ([chosen[0], chosen[1]] as [number, number])) : null;
  const nearest = at ? Math.min(...places.map((one, i) => (i === moves.chosen ? Infinity : Math.hypot((moves.to.get(i)?.[0] ?? one[0]) - at[0], (moves.to.get(i)?.[1] ?? one[1]) - at[1])))) : Infinity;
  const ground = at ? groundAt(map, plot.geometry, at) : "free";
  const pick = (text: string) => {
    setName(text);
    const found = places.findIndex((_, i) => nameOf(i).toLowerCase() === text.trim().toLowerCase());
    if (found >= 0) movesSet({ chosen: found });
  };
  const coordinate = (axis: 0 | 1, text: string) => {
    const value = numberRead(text);
    if (at && !Number.isNaN(value)) moveTo(moves.chosen, axis === 0 ? [value, at[1]] : [at[0], value]);
  };
  const store = async () => {
    const list = [...moves.to].map(([i, [x, y]]) => `${places[i]![6]}=${x} ${y}`).join(";");
    if (await r.start({ plot: plot.name, places: list, ...(why.trim() ? { why: why.trim() } : {}) })) setWhy("");
  };
  return (
    <section class="part moving">
      <h2>{w.move.title}</h2>
      <p class="help">{w.move.help}</p>
      <div class="acts">
        <button type="button" class="second" aria-pressed={moves.on} onClick={() => movesSet({ on: !moves.on, chosen: -1, to: new Map() })}>{moves.on ? w.move.stop : w.move.begin}</button>
        {moves.on && moves.to.size > 0 && <button type="button" class="main" disabled={r.busy} onClick={() => void store()}>{w.move.store(moves.to.size)}</button>}
        {moves.on && moves.to.size > 0 && <button type="button" class="quiet" onClick={() => movesSet({ chosen: -1, to: new Map() })}>{w.move.back}</button>}
        <Busy run={r} />
      </div>
      {moves.on && (
        <>
          <div class="fields one">
            <FieldView look={{ name: "plant", kind: "text", label: w.move.plant, help: w.move.plantHelp, own: true }} value={name} onValue={pick} />
            {at && <FieldView look={{ name: "east", kind: "text", label: w.layout.east, unit: "m" }} value={String(at[0])} onValue={(text) => coordinate(0, text)} />}
            {at && <FieldView look={{ name: "north", kind: "text", label: w.layout.north, unit: "m" }} value={String(at[1])} onValue={(text) => coordinate(1, text)} />}
            {moves.to.size > 0 && <FieldView look={{ name: "why", kind: "text", label: w.rows.why }} value={why} onValue={setWhy} />}
          </div>
          {chosen && at && (
            <p class="said" aria-live="polite">
              {w.move.now(map.species[chosen[3]] ?? "", figure(Math.hypot(at[0] - chosen[0], at[1] - chosen[1]), 2), Number.isFinite(nearest) ? figure(nearest, 2) : "–")}
              {ground !== "free" && <strong> {ground === "out" ? w.move.out : w.move.kept}</strong>}
            </p>
          )}
        </>
      )}
      <FailureView failure={r.failure} />
      {r.note && <Said status text={r.note.answer}><Undo run={r} /></Said>}
      {r.message && <p role="status">{r.message}</p>}
    </section>
  );
}

/* Two plans of one plot: what differs in numbers, and each on its own map. */
function Beside({ plot, versions }: { plot: PlotPlace; versions: Plan[] }) {
  const order = [...versions].sort((a, b) => a.version - b.version);
  const chosen = order.find((one) => one.chosen) ?? order[order.length - 1]!;
  const [left, setLeft] = useState(String(chosen.version));
  const [right, setRight] = useState(String((order.filter((one) => one !== chosen).pop() ?? chosen).version));
  const [open, setOpen] = useState(false);
  const ask = (version: string) => useNote(open ? "map" : null, { site: plot.site, plot: plot.name, plan: Number(version) });
  const a = ask(left), b = ask(right);
  const judge = (version: string, map: Note | null) => useNote(open && ((map?.data?.places ?? []) as unknown[]).length > 0 ? "layout" : null, { plot: plot.name, plan: Number(version), stored: true });
  const ja = judge(left, a.note), jb = judge(right, b.note);
  const idOf = (version: string) => order.find((one) => String(one.version) === version)?.id ?? 0;
  const lines = (version: string) => useNote(open ? "rows" : null, { noun: "mix_line", where: `plan_id=${idOf(version)}` });
  const la = lines(left), lb = lines(right);
  const count = (note: Note | null) => new Map(((note?.data?.rows ?? []) as { species: string; plants: number }[]).map((one) => [one.species, one.plants]));
  const ca = count(la.note), cb = count(lb.note);
  const species = [...new Set([...ca.keys(), ...cb.keys()])].sort();
  const rows = species.map((name) => [name, ca.get(name) ?? 0, cb.get(name) ?? 0, (cb.get(name) ?? 0) - (ca.get(name) ?? 0)] as (string | number)[]);
  const choice = (value: string, set: (text: string) => void, label: string) => (
    <label>{label}{" "}
      <select value={value} onChange={(e) => set((e.target as HTMLSelectElement).value)}>
        {order.map((one) => <option value={String(one.version)}>{one.version}{one.chosen ? ` · ${w.layout.chosen}` : ""}</option>)}
      </select>
    </label>
  );
  return (
    <details class="do" onToggle={(e) => setOpen((e.currentTarget as HTMLDetailsElement).open)}>
      <summary><h2>{w.layout.beside}</h2></summary>
      {open && (
        <div class="inner">
          <div class="two-plans">
            {[{ note: a.note, judged: ja.note, value: left, set: setLeft }, { note: b.note, judged: jb.note, value: right, set: setRight }].map((one, at) => (
              <section aria-label={`${w.layout.plan} ${one.value}`}>
                <p class="choice">{choice(one.value, one.set, w.layout.plan)}</p>
                <MapView still key={at} data={(one.note?.data as MapData | undefined) ?? null} focus={[plot.geometry]} />
                {one.judged ? <Said text={one.judged.answer} /> : one.note && <p>{w.empty.noPlaces}</p>}
              </section>
            ))}
          </div>
          <h3>{w.layout.differ}</h3>
          <TableView own title={w.layout.differ} table={{
            columns: [{ name: "species", title: w.layout.species, unit: "" }, { name: "a", title: `${w.layout.plan} ${left}`, unit: "" }, { name: "b", title: `${w.layout.plan} ${right}`, unit: "" }, { name: "change", title: w.layout.change, unit: "" }],
            rows,
          }} />
        </div>
      )}
    </details>
  );
}
