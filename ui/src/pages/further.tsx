// SPDX-License-Identifier: GPL-3.0-or-later
// Jobs that belong to a page's step and need no more than their form there.
import { type Choice, JobForm } from "../forms";
import { type PageKey, further } from "../homes";
import { jobOf, useMap } from "../state";
import { capital, told, w } from "../words";
import { Do } from "./common";

export function Further({ page }: { page: PageKey }) {
  const { map } = useMap();
  const sites: Choice[] = (map?.sites ?? []).map((one) => ({ value: one.code, label: `${one.code} · ${one.name}` }));
  const plots: Choice[] = (map?.plots ?? []).map((one) => ({ value: one.name, label: one.name }));
  return (
    <>
      {(further[page] ?? []).flatMap((name) => {
        const job = jobOf(name);
        if (!job) return [];
        const first = job.options.filter((one) => one.required || ["site", "plot"].includes(one.name)).map((one) => one.name);
        const rest = job.options.map((one) => one.name).filter((one) => !first.includes(one));
        return [
          <Do key={name} title={w.also[name] ?? capital(job.summary)}>
            <p class="help" {...told}>{job.about}</p>
            <JobForm job={name} show={[...first, ...rest.slice(0, Math.max(0, 6 - first.length))]} choices={{ ...(sites.length ? { site: sites } : {}), ...(plots.length ? { plot: plots } : {}) }} level={3} />
          </Do>,
        ];
      })}
    </>
  );
}
