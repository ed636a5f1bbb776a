// SPDX-License-Identifier: GPL-3.0-or-later
// The pages of planning: plots, species and mix, layout, order and budget.
import { useState } from "preact/hooks";
import { Busy, Done, FieldView, type Filled, JobForm, choicesOf, looksOf, useRun, valuesRead, Undo } from "../forms";
import { MapView, layerWords } from "../map";
import { FailureView, NoteBody, TableView, Takeaway, Said, Answer } from "../note";
import { regimeWords } from "../nouns";
import { jobOf, plotOf, siteOf, useMap, useNote } from "../state";
import { named, w } from "../words";
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
          <TableView own title={w.plots.list} table={{
            columns: [{ name: "plot", title: "plot", unit: "" }, { name: "regime", title: "regime", unit: "" }, { name: "area", title: named("area_m2"), unit: "m²", digits: 0 }, { name: "density", title: "density", unit: "per m²", digits: 1 }],
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
        {protocol.note && <><Said text={protocol.note.answer} /><NoteBody note={protocol.note} level={3} quiet /></>}
      </section>
      <Do title={w.plots.write}>
        <JobForm job="protocol" show={["primary_outcome", "survey_window", "established", "replacement_policy", "stopping_rules", "analysis_plan", "margin_points", "lock"]} submit={w.plots.write} />
      </Do>
      <Do title={w.plots.design}>
        <JobForm job="design" show={["asks", "usual_mix", "area_m2", "room", "difference"]} submit={w.plots.design} />
      </Do>
      <Do title={w.plots.power}>
        <JobForm job="power" show={["measure", "sites", "plants_a", "plants_b", "share_a", "share_b", "half_width", "difference"]} choices={{ measure: choicesOf(["survival", "height", "carbon", "kinds"]) }} />
      </Do>
      {plots.length > 0 && (
        <Do title={w.plots.sample}>
          <JobForm job="sample" start={{ plot: plots[0]?.name ?? "" }} show={["plot", "what", "share_pct", "rule", "purpose", "keep"]} choices={{ plot: choicesOf(plots.map((one) => one.name)), what: choicesOf(["squares", "plants"]), rule: choicesOf(["random", "every_kth", "by_layer", "by_species"]) }} submit={w.plots.sample} />
        </Do>
      )}
      {compare.note && <Takeaway job="compare" options={{ site: site?.code ?? "" }} />}
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
      {budget.note && <Answer note={budget.note} />}
      <FailureView failure={budget.failure} />
      <section class="part">
        <h2>{w.order.list}</h2>
        <JobForm job="order" show={["planting_on", "reserve_pct", "loss_pct", "bundle", "keep", "pdf", "xlsx"]} level={3} submit={w.order.list} />
      </section>
      <Do title={w.order.weigh}>
        <JobForm job="weigh" show={["survival", "canopy", "rounds", "price_spread", "years"]} submit={w.order.weigh} />
      </Do>
      <Do title={w.order.delivered}>
        <JobForm job="delivered" show={["species", "plants", "passport", "looked_at", "faulty", "roots", "offered", "approved_by", "approved_on", "refuse", "reason"]} choices={{ roots: choicesOf(["moist", "dry"]) }} submit={w.order.delivered} />
      </Do>
      <Do title={w.order.daypack}>
        <JobForm job="daypack" show={["site", "on", "people", "children", "child_ages", "meet_at", "entrance", "emergency_department", "lead", "first_aider", "pdf"]} start={{ pdf: "yes" }} choices={{ child_ages: choicesOf(["4-8", "9-12", "13-18"]) }} submit={w.order.daypack} />
      </Do>
      <Do title={w.order.returned}>
        <JobForm job="returned" show={["plot", "cards", "but", "less", "team"]} submit={w.order.returned} />
      </Do>
      <Do title={w.order.reconcile}>
        <JobForm job="reconcile" show={["plots"]} submit={w.order.reconcile} />
      </Do>
      <section class="part">
        <h2>{w.order.budget}</h2>
        {budget.note && <NoteBody note={budget.note} level={3} />}
      </section>
      <Do title={w.order.costs}><JobForm job="budget" show={["years", "survival_low", "survival_mode", "survival_high", "weeding_hours", "waterings", "prices"]} submit={w.order.budget} /></Do>
      <Takeaway job="budget" />
    </>
  );
}
