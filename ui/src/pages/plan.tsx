// SPDX-License-Identifier: GPL-3.0-or-later
// The pages of planning: plots, species and mix, layout, order and budget.
import { useState } from "preact/hooks";
import { Busy, Done, FieldView, type Filled, JobForm, choicesOf, looksOf, useRun, valuesRead } from "../forms";
import { MapView, layerWords } from "../map";
import { FailureView, NoteBody, TableView, Takeaway } from "../note";
import { regimeWords } from "../nouns";
import { jobOf, plotOf, siteOf, useMap, useNote } from "../state";
import { w } from "../words";
import { Do, Empty, PlotChoice, Sheet, SiteChoice } from "./common";

export function Plots() {
  const { map } = useMap();
  const site = siteOf(map);
  const plots = (map?.plots ?? []).filter((one) => one.site === site?.code);
  const compare = useNote(plots.length > 1 ? "compare" : null, { site: site?.code ?? "" });
  const rules = useNote("rows", { noun: "protocol" });
  const written = Number(rules.note?.data?.count ?? 0) > 0;
  const protocol = useNote(written ? "protocol" : null);
  const regimes = choicesOf(regimeWords);
  return (
    <Sheet page="plots" note={compare.note ?? undefined} busy={compare.busy} failure={compare.failure} choice={<SiteChoice map={map} />} side={<MapView data={map} focus={[site?.geometry]} />}>
      {map && !site && <Empty text={w.empty.noSite} to="/sites" label={w.empty.goSites} />}
      {site && plots.length === 0 && <Empty text={w.empty.noPlot} />}
      {plots.length > 0 && (
        <section class="part">
          <h2>{w.plots.list}</h2>
          <TableView title={w.plots.list} table={{
            columns: [{ name: "plot", title: "plot", unit: "" }, { name: "regime", title: "regime", unit: "" }, { name: "area", title: "area", unit: "m²", digits: 0 }, { name: "density", title: "density", unit: "per m²", digits: 1 }],
            rows: plots.map((one) => [one.name, one.regime, one.area_m2, one.density_m2]),
          }} />
        </section>
      )}
      {site && (
        <Do key={site.code} title={w.plots.split} open={plots.length === 0}>
          <JobForm job="split" fixed={{ site: site.code }} show={["buffer_m", "area_m2", "witness", "question", "outcome"]} submit={w.plots.split} />
        </Do>
      )}
      {site && (
        <Do title={w.plots.add}>
          <JobForm job="plot" shape="polygon" fixed={{ site: site.code }} show={["code", "regime", "density"]} choices={{ regime: regimes }} submit={w.plots.add} />
        </Do>
      )}
      {compare.note && <NoteBody note={compare.note} />}
      <section class="part">
        <h2>{w.plots.protocol}</h2>
        {protocol.note && <><p class="said">{protocol.note.answer}</p><NoteBody note={protocol.note} level={3} quiet /></>}
      </section>
      <Do title={w.plots.write}>
        <JobForm job="protocol" show={["primary_outcome", "survey_window", "established", "replacement_policy", "stopping_rules", "analysis_plan", "margin_points", "lock"]} submit={w.plots.write} />
      </Do>
      <Do title={w.plots.power}>
        <JobForm job="power" show={["sites", "plants_a", "plants_b", "share_a", "share_b", "icc"]} />
      </Do>
      {compare.note && <Takeaway job="compare" options={{ site: site?.code ?? "" }} />}
    </Sheet>
  );
}

const ranges = ["canopy", "subcanopy", "shrub", "pioneer"];

export function Mix() {
  const { map } = useMap();
  const plot = plotOf(map), site = map?.sites.find((one) => one.code === plot?.site);
  const communities = useNote(site ? "communities" : null, { site: site?.code ?? "" });
  const listed: [string, string][] = (communities.note?.sections?.[0]?.table?.rows ?? []).map((row) => [String(row[0]), String(row[1])]);
  return plot && site ? (
    <MixOf key={plot.name} plot={plot.name} site={site.code} map={map} communities={listed}>
      {communities.note && <Do title={w.mix.communities}><p class="said">{communities.note.answer}</p><NoteBody note={communities.note} level={3} /></Do>}
    </MixOf>
  ) : (
    <Sheet page="mix">{map && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}</Sheet>
  );
}

function MixOf({ plot, site, map, communities, children }: { plot: string; site: string; map: ReturnType<typeof useMap>["map"]; communities: [string, string][]; children: preact.ComponentChildren }) {
  const job = jobOf("mix");
  const [filled, setFilled] = useState<Filled>({});
  const [out, setOut] = useState<string[]>([]);
  const looks = looksOf((job?.options ?? []).filter((one) => !["plot", "try", "without", ...ranges].includes(one.name)), {
    community: communities.map(([value, label]) => ({ value, label })),
  });
  const read = valuesRead(looks, filled);
  const values = { ...read.values, plot };
  for (const name of ranges) {
    const low = filled[`${name}_low`]?.trim(), high = filled[`${name}_high`]?.trim();
    if (low || high) Object.assign(values, { [name]: `${low || 0}-${high || 100}` });
  }
  if (out.length) Object.assign(values, { without: out.join(";") });
  const asked = useNote(job ? "mix" : null, { ...values, try: true }, 250);
  const plans = useNote("rows", { noun: "plan", where: `plot_id=${map?.plots.find((one) => one.name === plot)?.id ?? 0}` });
  const species = useNote("species", { site });
  const r = useRun("mix");
  const put = (name: string, text: string) => setFilled((f) => ({ ...f, [name]: text }));
  const view = (name: string) => {
    const look = looks.find((one) => one.name === name);
    return look && <FieldView key={name} look={{ ...look, help: undefined }} value={filled[name] ?? ""} error={read.wrong[name]} onValue={(text) => put(name, text)} />;
  };
  const first = ["community", "density", "species_most", "count_least", "least_each"];
  const solved = Array.isArray(asked.note?.data?.mix) && !asked.failure;
  const table = solved ? asked.note?.sections?.find((one) => one.table) : undefined;
  const side = (
    <section class="wishes" aria-label={w.mix.wishes}>
      <h2>{w.mix.wishes}</h2>
      <p class="help">{w.mix.wishesAbout}</p>
      <div class="acts">
        <button type="button" class="main" disabled={r.busy || !solved} onClick={() => void r.start(values)}>{w.mix.keep}</button>
        <Busy run={r} />
      </div>
      <FailureView failure={r.failure} />
      {r.note && <p class="said" role="status">{r.note.answer} {r.step > 0 && <button type="button" class="quiet" onClick={() => void r.undo()}>{w.form.undo}</button>}</p>}
      {r.message && <p role="status">{r.message}</p>}
      <div class="fields one">
        {first.map(view)}
        {ranges.map((name) => (
          <fieldset class="range" key={name}>
            <legend>{w.mix.ranges[name]} <span class="unit">%</span></legend>
            {(["low", "high"] as const).map((end) => (
              <label>{end === "low" ? w.form.from : w.form.to} <input type="text" inputMode="decimal" value={filled[`${name}_${end}`] ?? ""} onInput={(e) => put(`${name}_${end}`, (e.target as HTMLInputElement).value)} /></label>
            ))}
          </fieldset>
        ))}
      </div>
      {out.length > 0 && <p>{w.mix.outList}: {out.map((name) => <button type="button" class="quiet" aria-label={`${w.mix.bringBack} ${name}`} onClick={() => setOut(out.filter((one) => one !== name))}>{name} ×</button>)}</p>}
      <details class="fold">
        <summary>{w.form.more}</summary>
        <div class="fields one">{looks.filter((one) => !first.includes(one.name)).map((one) => view(one.name))}</div>
      </details>
    </section>
  );
  return (
    <Sheet page="mix" note={asked.note ?? null} busy={asked.busy} failure={asked.failure} choice={<PlotChoice map={map} />} side={side}>
      {asked.note && <NoteBody note={{ ...asked.note, sections: (asked.note.sections ?? []).map((one) => (one === table ? { ...one, table: undefined } : one)) }}>
        {table?.table && <TableView title={table.title} table={table.table} extraTitle="" extra={(row) => (
          <button type="button" class="quiet" aria-label={`${w.mix.out} ${String(row[0])}`} onClick={() => setOut([...out, String(row[0])])}>{w.mix.out}</button>
        )} />}
      </NoteBody>}
      {Number(plans.note?.data?.count ?? 0) > 0 && plans.note?.sections?.[0]?.table && (
        <section class="part">
          <h2>{w.mix.plans}</h2>
          <TableView title={w.mix.plans} table={plans.note.sections[0].table} hide={["id", "plot_id", "settings", "note"]} />
        </section>
      )}
      {children}
      {species.note && <Do title={w.mix.species}><p class="said">{species.note.answer}</p><NoteBody note={species.note} level={3} /></Do>}
      <Do title={w.mix.allFacts}><JobForm job="species" show={["name"]} hide={["site", "community", "all"]} required={["name"]} /></Do>
      <Takeaway job="mix" options={{ ...values, try: true }} />
    </Sheet>
  );
}

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

export function Order() {
  const plans = useNote("rows", { noun: "plan" });
  const has = Number(plans.note?.data?.count ?? 0) > 0;
  return (
    <Sheet page="order">
      {plans.note && !has && <Empty text={w.empty.noPlan} to="/mix" label={w.empty.goMix} />}
      {has && <OrderOf />}
    </Sheet>
  );
}

function OrderOf() {
  const budget = useNote("budget");
  return (
    <>
      {budget.note && <p class="answer">{budget.note.answer}</p>}
      <FailureView failure={budget.failure} />
      <section class="part">
        <h2>{w.order.list}</h2>
        <JobForm job="order" show={["planting_on", "reserve_pct", "bundle", "keep", "pdf", "xlsx"]} level={3} submit={w.order.list} />
      </section>
      <section class="part">
        <h2>{w.order.budget}</h2>
        {budget.note && <NoteBody note={budget.note} level={3} />}
      </section>
      <Do title={w.order.costs}><JobForm job="budget" show={["years", "survival_low", "survival_mode", "survival_high", "weeding_hours", "waterings", "prices"]} submit={w.order.budget} /></Do>
      <Takeaway job="budget" />
    </>
  );
}
