// SPDX-License-Identifier: GPL-3.0-or-later
// Species and mix: wishes beside the answer, solved again as they change; what conflicts gives way at a press.
import { useState } from "preact/hooks";
import type { Note } from "../api";
import { Busy, FieldView, type Filled, JobForm, Undo, looksOf, useRun, valuesRead, choicesOf } from "../forms";
import { FailureView, NoteBody, Said, TableView, Takeaway } from "../note";
import { jobOf, plotOf, useMap, useNote } from "../state";
import { giveWay, ranges, wishesOf } from "../wishes";
import { w } from "../words";
import { Do, Empty, Go, PlotChoice, Sheet } from "./common";

export function Mix() {
  const { map } = useMap();
  const plot = plotOf(map), site = map?.sites.find((one) => one.code === plot?.site);
  const communities = useNote(site ? "communities" : null, { site: site?.code ?? "" });
  const listed: [string, string][] = (communities.note?.sections?.[0]?.table?.rows ?? []).map((row) => [String(row[0]), String(row[1])]);
  const plans = useNote(plot ? "rows" : null, { noun: "plan", where: `plot_id=${plot?.id ?? 0}` });
  const rows = (plans.note?.data?.rows ?? []) as { plot_id: number; chosen: boolean | null; settings: Record<string, unknown> | null }[];
  const chosen = rows.find((one) => one.chosen) ?? rows[rows.length - 1];
  if (plot && (!plans.note || rows.some((one) => one.plot_id !== plot.id))) return <Sheet page="mix" note={null} busy choice={<PlotChoice map={map} />} />;
  return plot && site ? (
    <MixOf key={plot.name} plot={plot.name} site={site.code} map={map} communities={listed} plans={plans.note!} start={wishesOf(chosen?.settings ?? {})}>
      {communities.note && <Do title={w.mix.communities}><Said text={communities.note.answer} /><NoteBody note={communities.note} level={3} /></Do>}
    </MixOf>
  ) : (
    <Sheet page="mix">{map && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}</Sheet>
  );
}

function MixOf({ plot, site, map, communities, plans, start, children }: {
  plot: string;
  site: string;
  map: ReturnType<typeof useMap>["map"];
  communities: [string, string][];
  plans: Note;
  start: ReturnType<typeof wishesOf>;
  children: preact.ComponentChildren;
}) {
  const job = jobOf("mix");
  const [filled, setFilled] = useState<Filled>(start.filled);
  const [out, setOut] = useState<string[]>(start.out);
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
  const would = giveWay(asked.note);
  const side = (
    <section class="wishes" aria-label={w.mix.wishes}>
      <h2>{w.mix.wishes}</h2>
      <p class="help">{w.mix.wishesAbout}</p>
      <div class="acts">
        <button type="button" class="main" disabled={r.busy || !solved} onClick={() => void r.start(values)}>{w.mix.keep}</button>
        <Busy run={r} />
      </div>
      <FailureView failure={r.failure} />
      {r.note && <Said status text={r.note.answer}><Undo run={r} /></Said>}
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
      <p>
        <button type="button" class="quiet" onClick={() => (setFilled({}), setOut([]))}>{w.mix.fresh}</button>
      </p>
      <details class="fold">
        <summary>{w.form.more}</summary>
        <div class="fields one">{looks.filter((one) => !first.includes(one.name)).map((one) => view(one.name))}</div>
      </details>
    </section>
  );
  return (
    <Sheet page="mix" note={asked.note ?? null} busy={asked.busy} failure={asked.failure} choice={<PlotChoice map={map} />} side={side}>
      {asked.failure && /--ask-too/.test(`${asked.failure.sentence} ${asked.failure.remedy}`) && (
        <div class="acts">
          <button type="button" class="second" onClick={() => put("ask_too", "yes")}>{w.mix.askToo}</button> <Go to="/ground">{w.pages.ground.name}</Go>
        </div>
      )}
      {would && (
        <div class="acts">
          <button type="button" class="second" onClick={() => setFilled((f) => ({ ...f, ...would }))}>{w.mix.giveWay}</button>
        </div>
      )}
      {asked.note && <NoteBody note={{ ...asked.note, sections: (asked.note.sections ?? []).map((one) => (one === table ? { ...one, table: undefined } : one)) }}>
        {table?.table && <TableView title={table.title} table={table.table} extraTitle="" extra={(row) => (
          <button type="button" class="quiet" aria-label={`${w.mix.out} ${String(row[0])}`} onClick={() => setOut([...out, String(row[0])])}>{w.mix.out}</button>
        )} />}
      </NoteBody>}
      {Number(plans.data?.count ?? 0) > 0 && plans.sections?.[0]?.table && (
        <section class="part">
          <h2>{w.mix.plans}</h2>
          <TableView title={w.mix.plans} table={plans.sections[0].table} hide={["id", "plot_id", "settings", "note"]} />
        </section>
      )}
      {children}
      <Do title={w.mix.library}><JobForm job="library" show={["name", "region", "source"]} submit={w.mix.library} /></Do>
      {species.note && <Do title={w.mix.species}><Said text={species.note.answer} /><NoteBody note={species.note} level={3} /></Do>}
      <Do title={w.mix.releves}><JobForm job="releves" show={["file", "scale", "merge", "take"]} choices={{ scale: choicesOf(["percent", "braun_blanquet", "domin"]) }} submit={w.mix.releves} /></Do>
      <Do title={w.mix.fits}><JobForm key={plot} job="species" fixed={{ plot }} show={["position", "community", "all"]} hide={["name", "site"]} choices={{ position: choicesOf(["open", "edge", "inside"]) }} submit={w.mix.fits} /></Do>
      <Do title={w.mix.together}><JobForm job="mixes" show={["plots", "bundle", "stock", "price", "budget"]} submit={w.mix.together} /></Do>
      <Do title={w.mix.allFacts}><JobForm job="species" show={["name"]} hide={["site", "community", "all"]} required={["name"]} /></Do>
      <Takeaway job="mix" options={{ ...values, try: true }} />
    </Sheet>
  );
}
