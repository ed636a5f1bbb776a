// SPDX-License-Identifier: GPL-3.0-or-later
// The pages after planting: what went in, what is handed over, the log, single numbers.
import { useEffect, useState } from "preact/hooks";
import { Busy, Done, type Filled, FieldView, JobForm, NounForm, type Choice, choicesOf, useRun } from "../forms";
import { MapView } from "../map";
import { NoteBody, TableView, Takeaway, Said, FailureView } from "../note";
import { nounFields, stock_formWords } from "../nouns";
import { jobOf, plotOf, siteOf, useMap, useNote } from "../state";
import { plain, w } from "../words";
import { Do, Empty, PlotChoice, Sheet } from "./common";
import { Further } from "./further";
import { BySquare } from "./squares";

export function Planting() {
  const { map } = useMap({ planted: true });
  const plot = plotOf(map), site = siteOf(map);
  const planted = map?.plants?.length ?? 0;
  const orders = useNote("rows", { noun: "order_line" });
  const lines: Choice[] = ((orders.note?.data?.rows ?? []) as { id: number; species: string; plants_ordered: number }[]).map((one) => ({ value: String(one.id), label: `${one.species}, ${one.plants_ordered}` }));
  const plots: Choice[] = (map?.plots ?? []).map((one) => ({ value: String(one.id), label: one.name }));
  const sites: Choice[] = (map?.sites ?? []).map((one) => ({ value: String(one.id), label: one.code }));
  const answer = map ? { answer: planted === 0 ? w.planting.none : w.planting.sum(planted, new Set(map.plants?.map((one) => one[5])).size) } : null;
  return (
    <Sheet own page="planting" note={answer} choice={<PlotChoice map={map} />} side={plot && <MapView tall data={map} focus={[plot.geometry]} />}>
      {map && !plot && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      {plot && (
        <Do key={plot.name} title={w.planting.enter} open={planted === 0}>
          <JobForm job="planted" fixed={{ plot: plot.name }} show={["on", "batch", "stock"]} choices={{ stock: choicesOf(stock_formWords) }} submit={w.planting.enter} />
        </Do>
      )}
      {lines.length > 0 && <Rows noun="delivery_line" title={w.planting.delivery} add={w.planting.addDelivery} show={["order_line_id", "delivered_on", "plants", "passport", "state", "reason"]} choices={{ order_line_id: lines }} />}
      {plots.length > 0 && <Rows noun="care_event" title={w.planting.care} add={w.planting.addCare} show={["plot_id", "done_on", "kind", "state", "litres_m2", "hours", "why"]} choices={{ plot_id: plots }} />}
      {site && <Rows noun="work_hours" title={w.planting.hours} add={w.planting.addHours} show={["site_id", "plot_id", "worked_on", "task", "people", "hours", "volunteer"]} choices={{ site_id: sites, plot_id: plots }} />}
      {site && <Rows noun="incident" title={w.planting.incident} add={w.planting.addIncident} show={["site_id", "plot_id", "happened_on", "kind", "plants", "words"]} choices={{ site_id: sites, plot_id: plots }} />}
    </Sheet>
  );
}

/* Rows of a kind with a form for one more. */
function Rows({ noun, title, add, show, choices }: { noun: string; title: string; add: string; show: string[]; choices: Record<string, Choice[]> }) {
  const rows = useNote("rows", { noun, most: 300 });
  const table = rows.note?.sections?.[0]?.table;
  const fields = nounFields[noun] ?? [];
  const named = table && {
    columns: table.columns.map((column) => (choices[column.name] ? { ...column, title: column.name.replace("_id", "") } : column)),
    rows: table.rows.map((row) => row.map((cell, i) => {
      const list = choices[table.columns[i]!.name];
      return list && cell !== null ? (list.find((one) => one.value === String(cell))?.label ?? cell) : cell;
    })),
  };
  return (
    <Do title={title}>
      <NounForm noun={noun} show={show.filter((name) => fields.some((one) => one.name === name))} choices={choices} submit={add} />
      {named && named.rows.length > 0 && <TableView title={title} table={named} hide={["id"]} />}
    </Do>
  );
}

export function Findings() {
  const counts = useNote("look");
  const has = Number(counts.note?.data?.counts?.plant_record ?? 0) > 0;
  const findings = useNote("findings");
  const views = (["lives", "survival", "growth", "league", "sites", "wildlife", "cost"] as const).filter((name) => jobOf(name));
  const [view, setView] = useState<string>("lives");
  const shown = useNote(view);
  return (
    <Sheet page="findings" note={findings.note ?? null} busy={findings.busy} failure={findings.failure}>
      {counts.note && !has && <Empty text={w.empty.noRecords} to="/records" label={w.empty.goRecords} />}
      {findings.note && <NoteBody note={findings.note} quiet />}
      <section class="part">
        <h2>{w.findings.views}</h2>
        <div class="tabs" role="group" aria-label={w.findings.views}>
          {views.map((name) => <button type="button" aria-pressed={view === name} onClick={() => setView(name)}>{w.findings[name]}</button>)}
        </div>
        <div class={shown.busy ? "busy" : undefined}>
          {shown.note && <><Said text={shown.note.answer} /><NoteBody note={shown.note} level={3} /></>}
          {shown.failure && <FailureView failure={shown.failure} />}
        </div>
      </section>
      {has && <BySquare />}
      <Do title={w.findings.claim} open>
        <p class="help">{w.findings.claimAbout}</p>
        <JobForm job="claim" submit={w.findings.check} />
      </Do>
      {findings.note && <NoteBody note={{ ...findings.note, sections: [] }} />}
      <Further page="findings" />
      <Takeaway job="findings" />
    </Sheet>
  );
}

export function Report() {
  const { map } = useMap();
  const job = jobOf("report");
  const sites = (map?.sites ?? []).map((one) => ({ value: one.code, label: `${one.code} · ${one.name}` }));
  const documents = useNote("rows", { noun: "issued_document" });
  const table = documents.note?.sections?.[0]?.table;
  return (
    <Sheet page="report">
      <p class="answer">{job ? w.report.can : w.report.none}</p>
      {job && <JobForm job="report" show={["site", "pdf", "html"].filter((name) => job.options.some((one) => one.name === name))} start={{ pdf: "yes", html: "yes" }} choices={{ site: sites }} submit={w.report.make} />}
      <p class="help">{w.report.about}</p>
      {table && table.rows.length > 0 && (
        <section class="part">
          <h2>{w.report.made}</h2>
          <TableView title={w.report.made} table={table} hide={["id", "inputs"]} />
        </section>
      )}
    </Sheet>
  );
}

export function Log() {
  const log = useNote("log", { most: 200 });
  const table = log.note?.sections?.find((one) => one.table)?.table;
  const r = useRun("undo");
  const nouns = choicesOf(Object.keys(nounFields));
  return (
    <Sheet page="log" note={log.note ?? null} busy={log.busy} failure={log.failure}>
      <Busy run={r} />
      <Done run={r} />
      {table && (
        <TableView title={w.pages.log.name} table={table} extraTitle="" extra={(row) => {
          const step = Number(row[0]), state = String(row[5]);
          if (step <= 1 || state.startsWith("taken back")) return null;
          const back = state.startsWith("takes back");
          return <button type="button" class="quiet" aria-label={back ? w.log.redoStep(step) : w.log.undoStep(step)} disabled={r.busy} onClick={() => void r.start({ step })}>{back ? w.log.redo : w.log.undo}</button>;
        }} />
      )}
      <Do title={w.log.history}><JobForm job="history" choices={{ noun: nouns }} /></Do>
      <Takeaway job="log" />
    </Sheet>
  );
}

export function Calculators() {
  const list = useNote("calc");
  const [word, setWord] = useState("");
  const [name, setName] = useState(decodeURIComponent(location.pathname.split("/")[2] ?? ""));
  const rows = list.note?.sections?.[0]?.table?.rows ?? [];
  const wanted = word.trim().toLowerCase();
  const found = rows.filter((row) => row.some((cell) => String(cell ?? "").toLowerCase().includes(wanted)));
  const open = (next: string) => {
    setName(next);
    history.replaceState(null, "", `/calculators/${encodeURIComponent(next)}`);
    document.querySelector(".calculator")?.scrollIntoView({ block: "start" });
  };
  return (
    <Sheet own page="calculators" note={list.note ? { answer: w.calculators.sum(rows.length) } : null} failure={list.failure}>
      {name && <Calculator key={name} name={name} />}
      <section class="part">
        <h2>{w.calculators.all}</h2>
        <div class="fields"><FieldView look={{ name: "find", kind: "text", label: w.calculators.find }} value={word} onValue={setWord} /></div>
        {list.note && found.length === 0 && <p>{w.calculators.none}</p>}
        {list.note?.sections?.[0]?.table && (
          <TableView own title={w.calculators.all} table={{ columns: list.note.sections[0].table.columns, rows: found }} extraTitle="" extra={(row) => (
            <button type="button" class="quiet" aria-label={`${w.calculators.show} ${String(row[0])}`} onClick={() => open(String(row[0]))}>{w.calculators.show}</button>
          )} />
        )}
      </section>
      <Do title={w.calculators.check}><JobForm job="check" submit={w.calculators.check} /></Do>
    </Sheet>
  );
}

function Calculator({ name }: { name: string }) {
  const about = useNote("calc", { name, about: true });
  const [filled, setFilled] = useState<Filled>({});
  const [wrong, setWrong] = useState<Record<string, string>>({});
  const r = useRun("calc");
  const inputs = about.note?.sections?.find((one) => one.title === "Inputs")?.table?.rows ?? [];
  useEffect(() => setFilled({}), [name]);
  const submit = (event: Event) => {
    event.preventDefault();
    const missing = Object.fromEntries(inputs.filter((row) => row[2] === "needed" && !filled[String(row[0])]?.trim()).map((row) => [String(row[0]), w.form.needed]));
    setWrong(missing);
    if (Object.keys(missing).length > 0) return;
    const given = inputs.map((row) => [String(row[0]), (filled[String(row[0])] ?? "").trim()] as const).filter(([, text]) => text !== "");
    void r.start({ name, in: given.map(([key, text]) => `${key}=${text.replace(/;\s*/g, ",").replace(/,\s+/g, ",")}`).join(";") });
  };
  const failed = r.failure?.column ? { [r.failure.column]: r.failure.sentence } : {};
  return (
    <section class="part calculator">
      <h2>{about.note?.answer ?? plain(name)}</h2>
      {about.failure && <FailureView failure={about.failure} />}
      <form class="form" onSubmit={submit} noValidate>
        <div class="fields">
          {inputs.map((row) => {
            const key = String(row[0]);
            return <FieldView key={key} look={{ name: key, kind: "text", label: plain(key), unit: String(row[1] ?? ""), help: String(row[3] ?? ""), required: row[2] === "needed" }} value={filled[key] ?? ""} error={wrong[key] ?? failed[key]} onValue={(text) => setFilled((f) => ({ ...f, [key]: text }))} />;
          })}
        </div>
        <div class="acts"><button type="submit" class="main" disabled={r.busy}>{w.calculators.run}</button><Busy run={r} /></div>
        <Done run={r} />
      </form>
      {about.note && !r.note && <NoteBody note={about.note} level={3} skip={["Inputs"]} />}
    </section>
  );
}
