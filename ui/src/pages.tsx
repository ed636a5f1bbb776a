// SPDX-License-Identifier: GPL-3.0-or-later
// The pages, one for each step of the loop: the answer first, the map beside it, then what can be done.
import { useEffect, useRef } from "preact/hooks";
import { JobForm } from "./forms";
import { MapView } from "./map";
import { Answer, FailureView, NoteBody, Takeaway } from "./note";
import { choose, go, jobOf, plotOf, shared, siteOf, useMap, useNote, useShared } from "./state";
import type { Values } from "./api";
import { named, w } from "./words";

type Key = keyof typeof w.pages;

/** A thing to do on a page: a form over one job. */
interface Act {
  job: string;
  show?: string[];
  shape?: "polygon" | "any";
  of?: "site" | "plot";
  start?: Record<string, string>;
}
/** A page: the jobs whose notes it shows, and what can be done. */
interface Page {
  key: Key;
  notes: { job: string; of?: "site" | "plot" }[];
  map?: "site" | "plot";
  acts: Act[];
}

export const pages: Page[] = [
  { key: "programme", notes: [{ job: "look" }], acts: [{ job: "verify" }, { job: "backup", start: { to: "yes" } }] },
  {
    key: "sites",
    notes: [{ job: "distances", of: "site" }, { job: "stage", of: "site" }],
    map: "site",
    acts: [
      { job: "site", show: ["code", "name", "region", "clay"], shape: "polygon" },
      { job: "constraint", show: ["kind", "label", "stem_diameter_m", "depth_m", "standoff_m", "checked_on"], shape: "any", of: "site" },
      { job: "register", show: ["topic", "state", "asked_of", "replied_by", "replied_on"], of: "site" },
      { job: "stage", show: ["to", "reason"], of: "site" },
    ],
  },
  {
    key: "ground",
    notes: [{ job: "ground", of: "site" }],
    acts: [
      { job: "import", show: ["file", "answer", "take"], start: { kind: "soil" } },
      { job: "prepare", show: ["loosened_depth_m", "compost_depth_m", "mulch_depth_m", "fence_height_m", "keep"], of: "plot" },
    ],
  },
  {
    key: "plots",
    notes: [{ job: "compare", of: "site" }],
    map: "site",
    acts: [
      { job: "split", show: ["buffer_m", "area_m2", "regimes", "question", "outcome", "witness"], of: "site" },
      { job: "plot", show: ["code", "regime", "density"], shape: "polygon", of: "site" },
      { job: "protocol", show: ["primary_outcome", "established", "survey_window", "replacement_policy", "margin_points", "lock"] },
      { job: "power", show: ["sites", "plants_a", "plants_b", "share_a", "share_b"] },
    ],
  },
  {
    key: "mix",
    notes: [{ job: "communities", of: "site" }],
    acts: [
      { job: "mix", show: ["community", "count_least", "species_most", "pioneer", "fix", "try"], of: "plot" },
      { job: "species", show: ["name"] },
    ],
  },
  {
    key: "layout",
    notes: [],
    map: "plot",
    acts: [
      { job: "layout", show: ["pattern", "edge_m", "seed", "try"], of: "plot" },
      { job: "sheet", show: ["pdf"], of: "site", start: { pdf: "yes" } },
      { job: "cards", show: ["pdf"], of: "plot", start: { pdf: "yes" } },
    ],
  },
  {
    key: "order",
    notes: [{ job: "budget" }],
    acts: [{ job: "order", show: ["planting_on", "reserve_pct", "pdf", "xlsx"] }],
  },
  {
    key: "planting",
    notes: [],
    map: "plot",
    acts: [{ job: "planted", show: ["on", "batch"], of: "plot" }, { job: "forms", show: ["form", "pdf"], of: "plot", start: { pdf: "yes" } }],
  },
  {
    key: "records",
    notes: [{ job: "held" }],
    acts: [
      { job: "import", show: ["file", "kind", "answer", "map", "first_census", "take"] },
      { job: "decide", show: ["rows", "check", "what", "reason"] },
    ],
  },
  {
    key: "findings",
    notes: [{ job: "findings" }],
    acts: [{ job: "claim", show: ["words"] }, { job: "lives", show: ["by"] }],
  },
  { key: "report", notes: [], acts: [{ job: "report", show: ["title", "limits", "pdf", "html"], start: { pdf: "yes", html: "yes" } }] },
  { key: "log", notes: [{ job: "log" }], acts: [{ job: "undo", show: ["step"] }, { job: "history", show: ["noun", "id"] }] },
  { key: "calculators", notes: [{ job: "calc" }], acts: [{ job: "calc", show: ["name", "in"] }] },
];

function NoteOf({ job, options }: { job: string; options: Values }) {
  const asked = useNote(job, options);
  return (
    <section class="finding" aria-label={jobOf(job)?.summary}>
      {asked.failure ? <FailureView failure={asked.failure} /> : <Answer note={asked.note} busy={asked.busy} />}
      {!asked.failure && asked.note && <NoteBody note={asked.note} />}
      {!asked.failure && asked.note && <Takeaway job={job} options={options} />}
    </section>
  );
}

function Choosers({ page }: { page: Page }) {
  const { map } = useMap();
  const wants = (of: "site" | "plot") => page.map === of || page.notes.some((one) => one.of === of) || page.acts.some((one) => one.of === of);
  const site = siteOf(map);
  const plot = plotOf(map);
  return (
    <div class="choosers">
      {wants("site") && map && map.sites.length > 0 && (
        <label class="field short">
          {w.sites.choose}
          <select value={site?.code} onChange={(e) => choose("site", e.currentTarget.value)}>
            {map.sites.map((one) => <option key={one.code} value={one.code}>{`${one.code} ${one.name}`}</option>)}
          </select>
        </label>
      )}
      {wants("plot") && map && map.plots.length > 0 && (
        <label class="field short">
          {named("plot")}
          <select value={plot?.name} onChange={(e) => choose("plot", e.currentTarget.value)}>
            {map.plots.map((one) => <option key={one.name} value={one.name}>{one.name}</option>)}
          </select>
        </label>
      )}
    </div>
  );
}

function PageMap({ of }: { of: "site" | "plot" }) {
  const all = useMap();
  const plot = plotOf(all.map);
  const { map } = useMap(of === "plot" && plot ? { plot: plot.name } : {});
  const focus = of === "plot" ? plotOf(map)?.geometry : siteOf(map)?.geometry;
  return <MapView data={map} focus={focus ? [focus] : undefined} />;
}

/** Options that a job takes for the chosen site or plot. */
function chosen(job: string, of: "site" | "plot" | undefined, site?: string, plot?: string): Values | null {
  if (of === undefined) return {};
  if (!jobOf(job)?.options.some((one) => one.name === of)) return {};
  const code = of === "site" ? site : plot;
  return code ? { [of]: code } : null;
}

function Begin() {
  return (
    <>
      <p class="answer">{w.empty.noProgramme}</p>
      <JobForm job="new" show={["name", "organisation", "crs", "currency", "price_year"]} hide={["file", "from_crs", "layer", "feature", "swap"]} fixed={{ file: "new" }}
        submit={w.programme.make} onDone={() => location.assign("/")} />
    </>
  );
}

export function PageView({ page }: { page: Page }) {
  const { offer } = useShared();
  const { map } = useMap();
  const head = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    document.title = `${w.pages[page.key].name} · spinney`;
    head.current?.focus();
  }, [page.key]);
  const site = siteOf(map)?.code;
  const plot = plotOf(map)?.name;
  const at = pages.indexOf(page);
  const next = pages[at + 1];
  return (
    <main id="page" class={page.map ? "with-map" : undefined}>
      <header class="head">
        <p class="soft">{w.stepOf(at + 1, pages.length, w.pages[page.key].name)}</p>
        <h1 ref={head} tabIndex={-1}>{w.pages[page.key].question}</h1>
        {offer?.exists && <Choosers page={page} />}
      </header>
      {!offer?.exists ? <Begin /> : (
        <div class="spread">
          <div class="words">
            {map && map.sites.length === 0 && page.key !== "programme" && page.key !== "calculators" && page.key !== "log" && <p class="answer">{w.empty.noSite}</p>}
            {page.notes.map((one) => {
              const options = chosen(one.job, one.of, site, plot);
              return options && <NoteOf key={one.job} job={one.job} options={options} />;
            })}
            {page.acts.map((act, i) => {
              const fixed = chosen(act.job, act.of, site, plot);
              const job = jobOf(act.job);
              if (!fixed || !job) return null;
              return (
                <details class="act" key={act.job + i} open={page.notes.length === 0 && i === 0}>
                  <summary>{job.summary}</summary>
                  <p class="help">{job.about}</p>
                  <JobForm key={JSON.stringify(fixed)} job={act.job} show={act.show} shape={act.shape} fixed={fixed} start={act.start} />
                </details>
              );
            })}
          </div>
          {page.map && <aside class="beside" aria-label={w.pages.sites.name}><PageMap of={page.map} /></aside>}
        </div>
      )}
      {offer?.exists && next && (
        <p class="onward">
          <a href={`/${next.key}`} onClick={(e) => { e.preventDefault(); go(`/${next.key}`); }}>{`${w.next}: ${w.pages[next.key].name}`}</a>
        </p>
      )}
    </main>
  );
}

export function pageAt(path: string): Page {
  const key = path.split("/")[1];
  return pages.find((one) => one.key === key) ?? pages[0]!;
}
export const current = () => pageAt(shared.path);
