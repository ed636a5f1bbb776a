// SPDX-License-Identifier: GPL-3.0-or-later
// From an empty sheet to a first plan: eight steps on one page, each open when it is its turn, each told by what is stored.
import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { JobForm, NounForm, choicesOf } from "../forms";
import { MapView } from "../map";
import { textureWords, constraint_kindWords, service_kindWords, check_topicWords, check_stateWords } from "../nouns";
import { begin, plotOf, shared, siteOf, useMap, useNote, useShared } from "../state";
import { w } from "../words";
import { Go, Sheet } from "./common";

type State = "done" | "now" | "later" | "left";
interface Part {
  key: keyof typeof w.first.parts;
  done: boolean;
  /** A plan can be made without it; what follows says what is then not known. */
  optional?: boolean;
  body: ComponentChildren;
}

export function First() {
  const { offer } = useShared();
  const exists = offer?.exists === true;
  const { map } = useMap();
  const site = siteOf(map), plot = plotOf(map);
  const samples = useNote(site ? "rows" : null, { noun: "soil_sample", where: `site_id=${site?.id ?? 0}` });
  const checks = useNote(site ? "rows" : null, { noun: "site_check", where: `site_id=${site?.id ?? 0}` });
  const plans = useNote(plot ? "rows" : null, { noun: "plan", where: `plot_id=${plot?.id ?? 0}` });
  const places = useNote(plot && Number(plans.note?.data?.count ?? 0) > 0 ? "map" : null, { site: plot?.site ?? "", plot: plot?.name ?? "" });
  const [left, setLeft] = useState<string[]>([]);
  const count = (asked: typeof samples) => Number(asked.note?.data?.count ?? 0);
  const here = map && site ? { ...map, constraints: map.constraints.filter((one) => one.site === site.code) } : map;
  const full = (places.note?.data as typeof map | undefined) ?? here;
  const laid = ((places.note?.data?.places ?? []) as unknown[]).length > 0;
  const parts: Part[] = [
    { key: "programme", done: exists, body: <JobForm job="new" show={["name", "longitude", "latitude"]} hide={["file"]} fixed={{ file: shared.offer?.file ?? "" }} submit={w.programme.make} onDone={() => void begin()} /> },
    { key: "site", done: !!site?.geometry, body: <JobForm job="site" shape="polygon" way="draw" show={["code", "name", "region"]} hide={["stage"]} submit={w.sites.add} skip={["Map"]} /> },
    { key: "keep", done: (here?.constraints.length ?? 0) > 0, optional: true, body: site && <JobForm key={site.code} job="constraint" shape="any" way="draw" fixed={{ site: site.code }} show={["kind", "label", "service", "stem_diameter_m", "height_m"]} required={["kind"]} choices={{ kind: choicesOf(constraint_kindWords), service: choicesOf(service_kindWords) }} submit={w.sites.constraint} /> },
    { key: "ask", done: count(checks) > 0, optional: true, body: site && <JobForm key={site.code} job="register" fixed={{ site: site.code }} show={["topic", "state", "asked_of", "asked_on"]} required={["topic", "state"]} start={{ topic: "services", state: "asked" }} choices={{ topic: choicesOf(check_topicWords), state: choicesOf(check_stateWords) }} submit={w.sites.record} skip={["Checks register"]} /> },
    { key: "ground", done: count(samples) > 0, optional: true, body: site && <NounForm key={site.code} noun="soil_sample" fixed={{ site_id: site.id, time_point: "before_works" }} start={{ composite: "P1", depth_top_cm: "0", depth_bottom_cm: "30" }} choices={{ texture: choicesOf(textureWords) }} show={["composite", "depth_top_cm", "depth_bottom_cm", "texture", "bulk_density_g_cm3", "ph"]} submit={w.ground.add} /> },
    { key: "plots", done: !!plot, body: site && <JobForm key={site.code} job="split" fixed={{ site: site.code }} show={["area_m2", "buffer_m", "witness"]} submit={w.plots.split} /> },
    { key: "mix", done: count(plans) > 0, body: plot && <JobForm key={plot.name} job="mix" fixed={{ plot: plot.name }} show={["density", "widen", "ask_too"]} hide={["try"]} submit={w.first.solve} level={3} /> },
    { key: "layout", done: laid, body: plot && <JobForm key={plot.name} job="layout" fixed={{ plot: plot.name }} show={[]} hide={["try", "stored"]} submit={w.layout.lay} skip={["Map"]} level={3} /> },
    { key: "print", done: false, body: plot && laid && (
      <>
        <JobForm job="sheet" fixed={{ site: plot.site, pdf: "plan.pdf" }} show={[]} submit={w.layout.sheet} level={3} />
        <JobForm job="cards" fixed={{ plot: plot.name, pdf: "cards.pdf" }} show={[]} submit={w.layout.cards} level={3} />
        <p>{w.first.onward} <Go to="/order">{w.pages.order.name}</Go></p>
      </>
    ) },
  ];
  const now = parts.findIndex((one) => !one.done && !left.includes(one.key));
  const stateOf = (one: Part, at: number): State => (one.done ? "done" : left.includes(one.key) ? "left" : at === now ? "now" : "later");
  const done = parts.filter((one) => one.done).length;
  const ready = !exists || map !== null;
  return (
    <Sheet page="first" note={{ answer: laid ? w.first.there : w.first.sum(done, parts.length - 1) }} own side={exists ? <MapView data={full} focus={[laid ? plot?.geometry : site?.geometry]} /> : undefined}>
      <ol class="walk-through">
        {ready && parts.map((one, at) => {
          const state = stateOf(one, at);
          const { title, why } = w.first.parts[one.key];
          return (
            <li key={one.key} class={state} data-part={one.key}>
              <details open={state === "now"}>
                <summary><h2>{title}</h2> <span class="soft">{w.first[state]}</span></summary>
                <p>{why}</p>
                {one.body ?? <p class="soft">{w.first.wait}</p>}
                {one.optional && state === "now" && <p><button type="button" class="quiet" onClick={() => setLeft([...left, one.key])}>{w.first.leave}</button></p>}
              </details>
            </li>
          );
        })}
      </ol>
    </Sheet>
  );
}
