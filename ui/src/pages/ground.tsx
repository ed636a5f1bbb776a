// SPDX-License-Identifier: GPL-3.0-or-later
// The first pages of the loop: the programme, its sites, what the ground is like.
import { useState } from "preact/hooks";
import { type Filled, FieldView, JobForm, NounForm, choicesOf, looksOf, useRun, valuesRead, Busy, Done } from "../forms";
import { MapView } from "../map";
import { FailureView, NoteBody, TableView, Takeaway, Said } from "../note";
import { check_stateWords, check_topicWords, clay_stateWords, constraint_kindWords, service_kindWords, stageWords } from "../nouns";
import { begin, jobOf, plotOf, shared, siteOf, stored, useMap, useNote, useShared } from "../state";
import { w } from "../words";
import { BackdropForm } from "./backdrop";
import { Further } from "./further";
import { Do, Empty, Go, PlotChoice, Sheet, SiteChoice } from "./common";
import { run } from "../api";

export function Programme() {
  const { offer } = useShared();
  const exists = offer?.exists === true;
  const look = useNote(exists ? "look" : null);
  const { map } = useMap();
  if (!exists)
    return (
      <Sheet page="programme">
        <Empty text={w.empty.noProgramme} to="/first" label={w.programme.firstGo} />
        <JobForm job="new" show={["name", "longitude", "latitude", "crs"]} hide={["file"]} fixed={{ file: shared.offer?.file ?? "" }} submit={w.programme.make} onDone={() => void begin()} />
      </Sheet>
    );
  return (
    <Sheet page="programme" note={look.note} busy={look.busy} failure={look.failure} side={<MapView data={map} />}>
      {look.note && <NoteBody note={look.note} />}
      {map && map.sites.length === 0 && (
        <section class="part">
          <h2>{w.programme.first}</h2>
          <p>{w.programme.firstAbout}</p>
          <p class="acts"><Go to="/first" class="main">{w.programme.firstGo}</Go></p>
        </section>
      )}
      <Do title={w.programme.backup}><JobForm job="backup" hide={["to"]} fixed={{ to: w.programme.backupName }} /></Do>
      {jobOf("package") && <Do title={w.programme.package}><JobForm job="package" fixed={{ to: "programme-data.zip" }} show={["title", "licence", "credit"]} /></Do>}
      <Do title={w.programme.verify}><JobForm job="verify" /></Do>
      <Further page="programme" />
      <Takeaway job="look" />
    </Sheet>
  );
}

const stages = choicesOf(stageWords);
const yesNo = choicesOf(["yes", "no"]);

export function Sites() {
  const { map } = useMap();
  const site = siteOf(map);
  const code = site?.code ?? "";
  const drawn = !!site?.geometry;
  const distances = useNote(drawn ? "distances" : null, { site: code });
  const register = useNote(site ? "register" : null, { site: code });
  const stage = useNote(site ? "stage" : null, { site: code });
  const here = map && site ? { ...map, constraints: map.constraints.filter((one) => one.site === code), plots: map.plots.filter((one) => one.site === code) } : map;
  const regions = ["ireland", "great-britain", "france", "belgium", "netherlands", "germany"];
  return (
    <Sheet page="sites" note={site ? distances.note : undefined} busy={distances.busy} failure={distances.failure} choice={<SiteChoice map={map} />} side={<MapView data={here} focus={[site?.geometry, ...(here?.constraints.map((one) => one.geometry) ?? [])]} />}>
      {map && map.sites.length === 0 && <Empty text={w.empty.noSite} />}
      <Do title={w.sites.add} open={map?.sites.length === 0}>
        <JobForm job="site" shape="polygon" show={["code", "name", "region", "clay"]} hide={["stage"]} choices={{ clay: choicesOf(clay_stateWords) }} offers={{ region: regions }} submit={w.sites.add} skip={["Map"]} />
      </Do>
      {distances.note && <NoteBody note={distances.note} skip={["Map"]} quiet />}
      {site && here && here.constraints.length > 0 && (
        <section class="part">
          <h2>{w.sites.constraints}</h2>
          <TableView own title={w.sites.constraints} table={{
            columns: [{ name: "kind", title: "kind", unit: "" }, { name: "label", title: "label", unit: "" }, { name: "checked", title: w.sites.position, unit: "" }],
            rows: here.constraints.map((one) => [one.kind, one.label ?? "", one.checked ? w.note.yes : w.sites.notChecked]),
          }} extraTitle="" extra={(_, i) => <Remove noun="constraint" id={here.constraints[i]!.id} name={here.constraints[i]!.label ?? here.constraints[i]!.kind} />} />
        </section>
      )}
      {site && (
        <Do title={w.sites.constraint}>
          <JobForm key={code} job="constraint" shape="any" fixed={{ site: code }} show={["kind", "label", "service", "stem_diameter_m", "height_m", "standoff_m", "checked_on"]} required={[]} choices={{ kind: choicesOf(constraint_kindWords), service: choicesOf(service_kindWords) }} submit={w.sites.constraint} />
        </Do>
      )}
      {site && (
        <section class="part">
          <h2>{w.sites.register}</h2>
          {register.note && <Said text={register.note.answer} />}
          {register.note && <NoteBody note={register.note} level={3} skip={[]} quiet />}
          <FailureView failure={register.failure} />
        </section>
      )}
      {site && (
        <Do title={w.sites.record}>
          <JobForm key={code} job="register" fixed={{ site: code }} show={["topic", "state", "asked_of", "asked_on", "reply", "replied_by", "replied_on"]} required={["topic", "state"]} choices={{ topic: choicesOf(check_topicWords), state: choicesOf(check_stateWords) }} submit={w.sites.record} skip={["Checks register"]} />
        </Do>
      )}
      {site && (
        <Do title={w.sites.screen}>
          <JobForm key={code} job="screen" fixed={{ site: code }} show={["species_per_m2", "sharps", "volunteers", "children", "works_from", "works_to"]} choices={{ sharps: yesNo, volunteers: yesNo, children: yesNo, lone_work: yesNo, chemicals: yesNo, clay: choicesOf(clay_stateWords) }} submit={w.sites.screen} />
        </Do>
      )}
      {site && <Do title={w.sites.cautions}><JobForm key={code} job="cautions" fixed={{ site: code }} show={["moment"]} choices={{ moment: choicesOf(["survey", "design", "order", "ground_work", "planting", "care", "records", "report"]) }} submit={w.sites.cautions} /></Do>}
      <Do title={w.sites.rule}><JobForm key={code} job="rule" show={["key", "value", "said_by", "said_on", "site"]} required={["key", "said_by"]} submit={w.sites.rule} /></Do>
      {map && map.sites.length > 0 && <Further page="sites" />}
      {map && map.sites.length > 0 && jobOf("backdrop") && <Do title={w.backdrop.title}><BackdropForm map={map} /></Do>}
      {site && (
        <Do title={w.sites.stage}>
          {stage.note && <Said text={stage.note.answer} />}
          <JobForm key={code} job="stage" fixed={{ site: code }} show={["to", "reason"]} required={["to"]} choices={{ to: stages }} submit={w.sites.stage} />
        </Do>
      )}
      {distances.note && <NoteBody note={{ ...distances.note, sections: [], written: [] }} />}
      {site && <Takeaway job="distances" options={{ site: code }} />}
    </Sheet>
  );
}

/** Take one row out; it stays in the log. */
export function Remove({ noun, id, name }: { noun: string; id: number; name: string }) {
  const [busy, setBusy] = useState(false);
  return (
    <button type="button" class="quiet" disabled={busy} aria-label={`${w.sites.remove} ${name}`} onClick={() => {
      setBusy(true);
      void run("remove", { noun, id }).then(stored).finally(() => setBusy(false));
    }}>{w.sites.remove}</button>
  );
}

export function Ground() {
  const { map } = useMap();
  const site = siteOf(map);
  const samples = useNote("rows", { noun: "soil_sample" });
  const count = Number(samples.note?.data?.count ?? 0);
  const ground = useNote(site && count > 0 ? "ground" : null, { site: site?.code ?? "" });
  const plot = plotOf(map);
  return (
    <Sheet page="ground" note={ground.note ?? undefined} busy={ground.busy} failure={ground.failure} choice={<SiteChoice map={map} />} side={<MapView data={map} focus={[site?.geometry]} />}>
      {samples.note && count === 0 && <Empty text={w.empty.noSoil} />}
      {map && !site && <Empty text={w.empty.noSite} to="/sites" label={w.empty.goSites} />}
      {ground.note && <NoteBody note={ground.note} />}
      {site && (
        <Do key={site.code} title={w.ground.add} open={samples.note !== null && count === 0}>
          <NounForm noun="soil_sample" fixed={{ site_id: site.id }} start={{ time_point: "before_works" }} submit={w.ground.add}
            show={["composite", "time_point", "sampled_on", "depth_top_cm", "depth_bottom_cm", "texture", "sand_pct", "silt_pct", "clay_pct", "bulk_density_g_cm3", "stones_pct", "ph", "ph_method", "soc_pct", "penetration_mpa", "near_field_capacity"]} />
        </Do>
      )}
      {count > 0 && samples.note?.sections?.[0]?.table && (
        <section class="part">
          <h2>{w.ground.samples}</h2>
          <TableView title={w.ground.samples} table={samples.note.sections[0].table} hide={["site_id", "plot_id", "lead_below_detection"]} />
        </section>
      )}
      <section class="part">
        <h2>{w.ground.prepare}</h2>
        {plot ? <><PlotChoice map={map} /><Prepare key={plot.name} plot={plot.name} /><Do title={w.ground.sideBySide}><JobForm key={plot.name} job="preparations" fixed={{ plot: plot.name }} show={["recipes", "target_organic", "target_cn"]} submit={w.ground.sideBySide} /></Do></> : map && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      </section>
      {site && count > 0 && <Takeaway job="ground" options={{ site: site.code }} />}
    </Sheet>
  );
}

/* Quantities that follow as one types. */
function Prepare({ plot }: { plot: string }) {
  const job = jobOf("prepare");
  const [filled, setFilled] = useState<Filled>({ loosened_depth_m: "0.6", compost_depth_m: "0.05", mulch_depth_m: "0.1" });
  const looks = looksOf((job?.options ?? []).filter((one) => !["plot", "area_m2", "keep"].includes(one.name)));
  const { values, wrong } = valuesRead(looks, filled);
  const asked = useNote(job ? "prepare" : null, { ...values, plot }, 250);
  const r = useRun("prepare");
  const first = ["loosened_depth_m", "compost_depth_m", "mulch_depth_m", "mulch_kind"];
  const view = (name: string) => {
    const look = looks.find((one) => one.name === name);
    return look && <FieldView key={name} look={look} value={filled[name] ?? ""} error={wrong[name]} onValue={(text) => setFilled((f) => ({ ...f, [name]: text }))} />;
  };
  return (
    <div class="instant">
      <p class="help">{w.ground.prepareAbout}</p>
      <div class="fields">{first.map(view)}</div>
      <details class="fold">
        <summary>{w.form.more}</summary>
        <div class="fields">{looks.filter((one) => !first.includes(one.name)).map((one) => view(one.name))}</div>
      </details>
      <FailureView failure={asked.failure} />
      {asked.note && <Said live text={asked.note.answer} />}
      <div class="acts">
        <button type="button" class="main" disabled={r.busy || Object.keys(wrong).length > 0} onClick={() => void r.start({ ...values, plot, keep: true })}>{w.ground.keep}</button>
        <Busy run={r} />
      </div>
      <Done run={r} skip={["Quantities"]} />
      {asked.note && <NoteBody note={asked.note} level={3} />}
    </div>
  );
}
