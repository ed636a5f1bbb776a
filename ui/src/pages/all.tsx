// SPDX-License-Identifier: GPL-3.0-or-later
// The back of the book: the index of everything that can be done, and the rows of any kind with their change, removal and history.
import { useEffect, useState } from "preact/hooks";
import type { Values } from "../api";
import { Busy, type Choice, Done, FieldView, JobForm, NounForm, choicesOf, useRun } from "../forms";
import { homes, pathOf } from "../homes";
import { Answer, FailureView, NoteBody, TableView, Written } from "../note";
import { constraint_kindWords, nounFields, regimeWords, service_kindWords, stageWords, check_topicWords, check_stateWords } from "../nouns";
import { go, jobOf, useMap, useNote, useShared } from "../state";
import { capital, plain, told, w } from "../words";
import { Do, Go, Sheet } from "./common";

const part = (path: string, at: number) => decodeURIComponent(path.split("/")[at] ?? "");
const shaped = new Set(["site", "plot", "constraint"]);

export function Index() {
  const { offer, path } = useShared();
  const [word, setWord] = useState("");
  const wanted = word.trim().toLowerCase();
  const jobs = (offer?.jobs ?? []).filter((one) => !wanted || [one.name, one.summary, one.about].some((text) => text.toLowerCase().includes(wanted)));
  const name = part(path, 2);
  const open = offer?.jobs.find((one) => one.name === name);
  return (
    <Sheet own page="index" note={{ answer: w.index.sum(offer?.jobs.length ?? 0) }}>
      {open && <OneJob key={open.name} name={open.name} />}
      <section class="part">
        <h2>{w.index.all}</h2>
        <div class="fields"><FieldView look={{ name: "find", kind: "text", label: w.index.find }} value={word} onValue={setWord} /></div>
        <div class="table" role="group" aria-label={w.index.all} tabIndex={0}>
          <table>
            <thead><tr><th scope="col">{w.index.name}</th><th scope="col">{w.index.what}</th><th scope="col">{w.index.page}</th><th scope="col">{w.note.act}</th></tr></thead>
            <tbody>
              {jobs.map((one) => {
                const home = homes[one.name];
                return (
                  <tr key={one.name}>
                    <th scope="row" {...told}>{one.name}</th>
                    <td {...told}>{one.summary}</td>
                    <td>{home ? <Go to={pathOf(home)}>{w.pages[home].name}</Go> : w.index.here}</td>
                    <td class="act"><Go to={`/index/${one.name}`} label={`${w.calculators.show} ${one.name}`}>{w.calculators.show}</Go></td>
                  </tr>
                );
              })}
            </tbody>
          </table>
        </div>
      </section>
    </Sheet>
  );
}

function OneJob({ name }: { name: string }) {
  const { map } = useMap();
  const job = jobOf(name);
  if (!job) return null;
  const sites: Choice[] = (map?.sites ?? []).map((one) => ({ value: one.code, label: `${one.code} · ${one.name}` }));
  const plots: Choice[] = (map?.plots ?? []).map((one) => ({ value: one.name, label: one.name }));
  const choices: Record<string, Choice[]> = { noun: choicesOf(Object.keys(nounFields)) };
  if (sites.length && name !== "site") choices.site = sites;
  if (plots.length) choices.plot = plots;
  if (name === "constraint") Object.assign(choices, { kind: choicesOf(constraint_kindWords), service: choicesOf(service_kindWords) });
  if (name === "plot") choices.regime = choicesOf(regimeWords);
  if (name === "stage") choices.to = choicesOf(stageWords);
  if (name === "register") Object.assign(choices, { topic: choicesOf(check_topicWords), state: choicesOf(check_stateWords) });
  return (
    <section class="part one-job">
      <h2 {...told}>{capital(name)}</h2>
      <p {...told}>{job.about}</p>
      <JobForm job={name} shape={shaped.has(name) ? (name === "constraint" ? "any" : "polygon") : undefined} choices={choices} level={3} />
      {job.example && <p class="help">{w.index.example} <code {...told}>{job.example}</code></p>}
    </section>
  );
}

export function Rows() {
  const { path, search } = useShared();
  const noun = part(path, 2) in nounFields ? part(path, 2) : "site";
  const asked = new URLSearchParams(search), where = asked.get("where") ?? "", others = asked.getAll("and").map((one) => ({ noun: one.slice(0, one.indexOf(":")), where: one.slice(one.indexOf(":") + 1) }));
  const [changing, setChanging] = useState<number | null>(null);
  const [tracing, setTracing] = useState<number | null>(null);
  const [most, setMost] = useState(200);
  const rows = useNote("rows", where ? { noun, where, most } : { noun, most });
  const csv = useRun("rows");
  const r = useRun("remove");
  const table = rows.note?.sections?.find((one) => one.table)?.table;
  const list = (rows.note?.data?.rows ?? []) as Record<string, unknown>[];
  const count = Number(rows.note?.data?.count ?? 0);
  const refs = (nounFields[noun] ?? []).filter((one) => one.kind === "ref");
  useEffect(() => {
    setChanging(null);
    setTracing(null);
  }, [noun, where]);
  const shown = list.find((one) => one.id === changing);
  return (
    <Sheet page="rows" note={rows.note} busy={rows.busy} failure={rows.failure} choice={
      <label>{w.rows.kind}{" "}
        <select value={noun} onChange={(e) => go(`/rows/${(e.target as HTMLSelectElement).value}`)}>
          {Object.keys(nounFields).map((one) => <option value={one}>{plain(one)}</option>)}
        </select>
      </label>
    }>
      <Busy run={r} />
      <Done run={r} />
      {where && (
        <section class="part selected">
          <p>{w.rows.selected} <code>{where}</code> <Go to={`/rows/${noun}`}>{w.rows.every}</Go></p>
          {others.length > 0 && (
            <>
              <p>{w.rows.together}</p>
              <ul>{others.map((one) => <li><Go to={`/rows/${one.noun}${one.where ? `?${new URLSearchParams({ where: one.where })}` : ""}`}>{plain(one.noun)}: <code>{one.where || w.rows.every}</code></Go></li>)}</ul>
            </>
          )}
          <p><button type="button" class="quiet" disabled={csv.busy} onClick={() => void csv.start({ noun, where, most: 0, csv: `${noun}.csv` })}>{w.rows.csv}</button></p>
          {csv.note && <Written note={csv.note} />}
        </section>
      )}
      {shown && (
        <section class="part">
          <h2>{w.rows.changing(plain(noun), Number(shown.id))}</h2>
          <RefForm key={`${noun} ${shown.id}`} noun={noun} refs={refs} row={shown} />
        </section>
      )}
      {tracing !== null && <Trace key={`${noun} ${tracing}`} noun={noun} id={tracing} />}
      {table && (
        <TableView title={plain(noun)} table={table} hide={["uuid"]} extraTitle="" extra={(row, at) => {
          const id = Number(row[table.columns.findIndex((one) => one.name === "id")] ?? list[at]?.id);
          return (
            <>
              <button type="button" class="quiet" aria-label={`${w.rows.change} ${id}`} onClick={() => setChanging(id)}>{w.rows.change}</button>{" "}
              <button type="button" class="quiet" aria-label={`${w.rows.trace} ${id}`} onClick={() => setTracing(id)}>{w.rows.trace}</button>{" "}
              <button type="button" class="quiet" disabled={r.busy} aria-label={`${w.sites.remove} ${id}`} onClick={() => void r.start({ noun, id })}>{w.sites.remove}</button>
            </>
          );
        }} />
      )}
      {count > list.length && <p><button type="button" class="quiet" onClick={() => setMost(most * 10)}>{w.rows.further(list.length, count)}</button></p>}
      <Do key={noun} title={w.rows.add(plain(noun))}><RefForm noun={noun} refs={refs} /></Do>
    </Sheet>
  );
}

/* A row is told by its code, name or label, and its number. */
function nameOf(row: Record<string, unknown>): string {
  const own = ["name", "code", "label", "composite", "tag", "file_name", "taxon", "species", "version"].map((key) => row[key]).find((one) => one !== null && one !== undefined && one !== "");
  return own === undefined ? String(row.id) : `${own} · ${row.id}`;
}

function RefForm({ noun, refs, row }: { noun: string; refs: { name: string; of?: string }[]; row?: Record<string, unknown> }) {
  const kinds = [...new Set(refs.map((one) => one.of ?? ""))].filter(Boolean);
  const [a, b, c] = [0, 1, 2].map((at) => useNote(kinds[at] ? "rows" : null, { noun: kinds[at] ?? "", most: 500 }));
  const lists: Record<string, Choice[]> = {};
  [a, b, c].forEach((one, at) => {
    if (kinds[at] && one?.note) lists[kinds[at]] = ((one.note.data?.rows ?? []) as Record<string, unknown>[]).map((each) => ({ value: String(each.id), label: nameOf(each) }));
  });
  const choices = Object.fromEntries(refs.map((one) => [one.name, lists[one.of ?? ""] ?? []]));
  const fields = (nounFields[noun] ?? []).map((one) => one.name);
  return <NounForm noun={noun} show={fields.slice(0, 24)} choices={choices} row={row} submit={row ? w.rows.store : w.rows.add(plain(noun))} />;
}

function Trace({ noun, id }: { noun: string; id: number }) {
  const options: Values = { noun, id };
  const history = useNote("history", options);
  return (
    <section class="part">
      <h2>{w.rows.tracing(plain(noun), id)}</h2>
      <FailureView failure={history.failure} />
      {history.note && <><Answer note={history.note} /><NoteBody note={history.note} level={3} /></>}
    </section>
  );
}
