// SPDX-License-Identifier: GPL-3.0-or-later
// Layout: where each plant stands, on the map; a plant can be moved, the plan judged again, two plans held beside each other.
import { useState } from "preact/hooks";
import { Busy, Done, FieldView, type Filled, JobForm, Undo, choicesOf, useRun } from "../forms";
import { MapView, layerWords } from "../map";
import { FailureView, NoteBody, Said, TableView, Takeaway } from "../note";
import { plotOf, useMap, useNote } from "../state";
import { w } from "../words";
import { Do, Empty, PlotChoice, Sheet } from "./common";

export function Layout() {
  const base = useMap();
  const plot = plotOf(base.map);
  const plans = useNote(plot ? "rows" : null, { noun: "plan", where: `plot_id=${plot?.id ?? 0}` });
  const has = Number(plans.note?.data?.count ?? 0) > 0;
  const full = useNote(plot && has ? "map" : null, { site: plot?.site ?? "", plot: plot?.name ?? "" });
  const map = (full.note?.data as typeof base.map | undefined) ?? base.map;
  const places = map?.places ?? [];
  const judged = useNote(plot && places.length > 0 ? "layout" : null, { plot: plot?.name ?? "", stored: true });
  const sorted = places.map((one) => [map?.squares?.[one[4]]?.code ?? "", one[5], map?.species[one[3]] ?? "", layerWords[one[2]] ?? "", one[0], one[1]] as (string | number)[]).sort((a, b) => String(a[0]).localeCompare(String(b[0])) || Number(a[1]) - Number(b[1]));
  return (
    <Sheet page="layout" note={judged.note ?? undefined} busy={judged.busy} failure={judged.failure} choice={<PlotChoice map={base.map} />} side={plot && <MapView tall data={map} focus={[plot.geometry]} />}>
      {base.map && !plot && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      {plot && plans.note && !has && <Empty text={w.empty.noPlan} to="/mix" label={w.empty.goMix} />}
      {plot && has && full.note && places.length === 0 && <Empty text={w.empty.noPlaces} />}
      {plot && has && (
        <Do key={plot.name} title={w.layout.lay} open={full.note !== null && places.length === 0}>
          <JobForm job="layout" fixed={{ plot: plot.name }} hide={["try", "stored"]} show={["pattern", "edge_m", "thorny_edge_m", "least_m"]} choices={{ pattern: choicesOf(["irregular", "rows"]) }} submit={w.layout.lay} skip={["Map"]} />
        </Do>
      )}
      {judged.note && <NoteBody note={judged.note} skip={["Map"]} />}
      {plot && places.length > 0 && (
        <>
          <Do title={w.layout.substitute}><JobForm job="substitute" fixed={{ plot: plot.name }} show={["species", "offered", "approver", "on"]} required={["species", "offered"]} submit={w.layout.substitute} /></Do>
          <Do title={w.layout.mend}><JobForm job="mend" fixed={{ plot: plot.name }} show={["short", "fill", "why"]} submit={w.layout.mend} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.sheet}`}><JobForm job="sheet" fixed={{ site: plot.site }} show={["pdf", "html", "revision"]} start={{ pdf: "yes" }} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.cards}`}><JobForm job="cards" fixed={{ plot: plot.name }} show={["pdf", "html"]} start={{ pdf: "yes" }} /></Do>
          <Do title={`${w.layout.print}: ${w.layout.forms}`}><JobForm job="forms" fixed={{ plot: plot.name, pdf: "form.pdf" }} show={["form", "show_last"]} choices={{ form: choicesOf(["census", "first_census", "cards", "sign_in"]) }} /></Do>
          <Do title={w.layout.places}>
            <TableView title={w.layout.places} table={{
              columns: [{ name: "square", title: "square", unit: "" }, { name: "number", title: "number", unit: "" }, { name: "species", title: "species", unit: "" }, { name: "layer", title: "layer", unit: "" }, { name: "east", title: "east", unit: "m", digits: 2 }, { name: "north", title: "north", unit: "m", digits: 2 }],
              rows: sorted,
            }} />
          </Do>
          <Takeaway job="layout" options={{ plot: plot.name, stored: true }} />
        </>
      )}
    </Sheet>
  );
}
