// SPDX-License-Identifier: GPL-3.0-or-later
// Records coming in: file, meanings, questions, doubtful rows, taking; and the rows that wait for a decision.
import { useRef, useState } from "preact/hooks";
import { type Note, type Values } from "../api";
import { Busy, FieldView, choicesOf, type Choice, useRun, Undo } from "../forms";
import { FailureView, NoteBody, TableView, Said } from "../note";
import { nounFields } from "../nouns";
import { useNote } from "../state";
import { capital, named, plain, told, w } from "../words";
import { Do, Empty, Sheet } from "./common";

const kinds: Record<string, string> = { plants: "plant_record", wildlife: "wildlife_record", soil: "soil_sample", weather: "weather_day", costs: "cost_item", care: "care_event", hours: "work_hours" };

export function Records() {
  const imports = useNote("rows", { noun: "import" });
  const held = useNote("held");
  const some = Number(imports.note?.data?.count ?? 0) > 0;
  const taken = imports.note?.sections?.[0]?.table;
  return (
    <Sheet page="records" note={some ? held.note : undefined} busy={held.busy} failure={held.failure}>
      {imports.note && !some && <Empty text={w.empty.noRecords} />}
      <Do title={w.records.bring} open={imports.note !== null && !some}><Wizard /></Do>
      {held.note && some && <HeldRows note={held.note} />}
      {taken && some && (
        <section class="part">
          <h2>{w.records.imports}</h2>
          <TableView title={w.records.imports} table={taken} hide={["id", "sha256", "content", "mapping", "undone"]} />
        </section>
      )}
      {some && <Settled />}
    </Sheet>
  );
}

interface Question {
  id: string;
  words: string;
  evidence: string | null;
  suggestion: string | null;
  choices: { value: string; words: string }[];
  required: boolean;
  rows: number;
}

function Wizard() {
  const [file, setFile] = useState<File | null>(null);
  const [kind, setKind] = useState("");
  const [first, setFirst] = useState(false);
  const [fields, setFields] = useState<Record<string, string>>({});
  const [answers, setAnswers] = useState<Record<string, string>>({});
  const [read, setRead] = useState<Note | null>(null);
  const r = useRun("import");
  const table = read?.sections?.find((one) => one.title === "What the columns mean")?.table;
  const questions = (read?.data?.questions ?? []) as Question[];
  const options = (take: boolean): Values => {
    const values: Values = { file: file?.name ?? "" };
    const map = Object.entries(fields).map(([heading, field]) => {
      const before = String(table?.rows.find((row) => row[0] === heading)?.[1] ?? "");
      return field === "" ? `${before}=` : `${field}=${heading}`;
    });
    const answer = Object.entries(answers).filter(([, value]) => value.trim() !== "").map(([id, value]) => `${id}=${value}`);
    if (kind) values.kind = kind;
    if (first) values.first_census = true;
    if (map.length) values.map = map.join(";");
    if (answer.length) values.answer = answer.join(";");
    if (take) values.take = true;
    return values;
  };
  const look = async () => {
    const note = await r.start(options(false), file);
    if (note) setRead(note);
  };
  const take = async () => {
    const note = await r.start(options(true), file);
    if (note) setRead(null);
  };
  const noun = kinds[String(read?.data?.kind ?? kind)] ?? "plant_record";
  const known = [...new Set([...(table?.rows.map((row) => String(row[1])) ?? []).filter((one) => one !== "left out" && !one.startsWith("census ")), ...(nounFields[noun] ?? []).filter((one) => one.kind !== "ref").map((one) => one.name), ...(noun === "plant_record" ? ["plot", "cell_code", "number", "tag", "species"] : ["plot"])])];
  return (
    <div class="wizard" data-job="import">
      <section>
        <h3>{w.records.choose}</h3>
        <div class="fields">
          <FieldView look={{ name: "file", kind: "file_in", label: w.records.file, required: true }} value={file?.name ?? ""} onValue={() => setRead(null)} onFile={(next) => {
            setFile(next);
            setFields({});
            setAnswers({});
          }} />
          <FieldView look={{ name: "kind", kind: "text", label: w.records.kind, choices: choicesOf(Object.keys(kinds)), help: w.records.kindHelp }} value={kind} onValue={setKind} />
          <FieldView look={{ name: "first_census", kind: "flag", label: w.records.first }} value={first ? "yes" : ""} onValue={(text) => setFirst(text !== "")} />
        </div>
        <div class="acts">
          <button type="button" class={read ? "second" : "main"} disabled={!file || r.busy} onClick={() => void look()}>{read ? w.records.again : w.records.read}</button>
          <Busy run={r} />
        </div>
        <FailureView failure={r.failure} />
      </section>
      {read && <Said status text={read.answer?.replace(/ Nothing is stored yet: --take does it\.$/, ` ${w.records.nothingYet}`)} />}
      {read && table && (
        <section>
          <h3>{w.records.meaning}</h3>
          <div class="table" role="group" aria-label={w.records.meaning} tabIndex={0}>
            <table>
              <thead><tr><th scope="col">{w.records.heading}</th><th scope="col">{w.records.as}</th><th scope="col">{w.records.unit}</th><th scope="col">{w.records.why}</th></tr></thead>
              <tbody>
                {table.rows.map((row) => {
                  const heading = String(row[0]), now = String(row[1]), value = fields[heading] ?? (now === "left out" ? "" : now);
                  const list = value && !known.includes(value) ? [value, ...known] : known;
                  return (
                    <tr key={heading}>
                      <th scope="row" lang="">{heading}</th>
                      <td>
                        <select aria-label={`${heading}: ${w.records.as}`} value={value} onChange={(e) => setFields({ ...fields, [heading]: (e.target as HTMLSelectElement).value })}>
                          <option value="">{w.records.leaveOut}</option>
                          {list.map((one) => <option value={one}>{plain(one)}</option>)}
                        </select>
                      </td>
                      <td>{row[2] ?? ""}</td>
                      <td class="long">{row[3] ?? ""}</td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </div>
        </section>
      )}
      {read && questions.length > 0 && (
        <section>
          <h3>{w.records.questions}</h3>
          {questions.map((one) => <QuestionView key={one.id} question={one} value={answers[one.id] ?? ""} onValue={(text) => setAnswers({ ...answers, [one.id]: text })} />)}
        </section>
      )}
      {read && (
        <section>
          {(Object.keys(fields).length > 0 || Object.keys(answers).length > 0) && <p><button type="button" class="second" disabled={r.busy} onClick={() => void look()}>{w.records.again}</button></p>}
          <NoteBody note={read} level={3} skip={["What the columns mean", "Questions only a person can answer"]} />
          <h3>{w.records.take}</h3>
          <div class="acts"><button type="button" class="main" disabled={r.busy} onClick={() => void take()}>{w.records.doTake}</button></div>
        </section>
      )}
      {!read && r.note && (
        <Said status text={r.note.answer}><Undo run={r} /></Said>
      )}
      {r.message && <p role="status">{r.message}</p>}
    </div>
  );
}

function QuestionView({ question, value, onValue }: { question: Question; value: string; onValue: (text: string) => void }) {
  const help = [question.evidence ? w.records.evidence + question.evidence : "", w.records.rowsTouched(question.rows)].filter(Boolean).join(" · ");
  const choices: Choice[] | undefined = question.choices.length ? question.choices.map((one) => ({ value: one.value, label: one.words })) : undefined;
  return <FieldView look={{ name: question.id, kind: "text", label: question.words, help, choices, offers: question.suggestion && !choices ? [question.suggestion] : undefined, required: false }} value={value} onValue={onValue} />;
}

interface Held {
  id: number;
  file: string | null;
  row: number;
  check: string;
  reason: string;
  raw: string;
  parsed: string | null;
}

function rawWords(raw: string): [string, string][] {
  try {
    return Object.entries(JSON.parse(raw) as Record<string, unknown>).filter(([, value]) => value !== null && value !== "").map(([key, value]) => [key, String(value)]);
  } catch {
    return [["", raw]];
  }
}

/* Fields that a correction may change: those of the row's kind, and what it is found by. */
function fieldsOf(rows: Held[]): string[] {
  const out = new Set<string>();
  for (const row of rows) {
    const parsed = JSON.parse(row.parsed ?? "{}") as { noun?: string; keys?: Record<string, unknown> };
    for (const one of nounFields[parsed.noun ?? ""] ?? []) if (one.kind !== "ref") out.add(one.name);
    for (const key of Object.keys(parsed.keys ?? {})) if (!key.endsWith("_id")) out.add(key);
  }
  return [...out];
}

const heldFirst = 25;

/* What a field of a held row says now, as text. */
function valueNow(row: Held | undefined, field: string): string {
  const parsed = JSON.parse(row?.parsed ?? "{}") as { record?: Record<string, unknown>; keys?: Record<string, unknown> };
  const value = parsed.record?.[field] ?? parsed.keys?.[field];
  return value === null || value === undefined || typeof value === "object" ? "" : String(value);
}

function HeldRows({ note }: { note: Note }) {
  const rows = (note.data?.rows ?? []) as Held[];
  const [picked, setPicked] = useState<number[]>([]);
  const [check, setCheck] = useState("");
  const [all, setAll] = useState(false);
  const [what, setWhat] = useState<"accept" | "reject" | "correct">("accept");
  const [field, setField] = useState("height_cm");
  const [value, setValue] = useState("");
  const [reason, setReason] = useState("");
  const [wrong, setWrong] = useState("");
  const panel = useRef<HTMLFormElement>(null);
  const r = useRun("decide");
  const fitting = rows.filter((one) => !check || one.check === check);
  const shown = all ? fitting : fitting.slice(0, heldFirst);
  const chosen = picked.filter((id) => fitting.some((one) => one.id === id));
  const checks = [...new Set(rows.map((one) => one.check))];
  if (rows.length === 0) return r.note ? <Said status text={r.note.answer}><Undo run={r} /></Said> : null;
  const fields = fieldsOf(rows);
  const one = chosen.length === 1 ? fitting.find((row) => row.id === chosen[0]) : undefined;
  const pickField = (name: string) => {
    setField(name);
    setValue(valueNow(one, name));
  };
  const settle = (row: Held) => {
    setPicked([row.id]);
    setValue(valueNow(row, field));
    setWrong("");
    panel.current?.scrollIntoView({ block: "nearest" });
    panel.current?.querySelector<HTMLElement>("input[type=radio]:checked")?.focus();
  };
  const decide = async (event: Event) => {
    event.preventDefault();
    if (chosen.length === 0) return setWrong(w.records.chooseRows);
    if (what !== "correct" && reason.trim() === "") return setWrong(w.records.reasonNeeded);
    setWrong("");
    const values: Values = { rows: chosen.join(";"), what: what === "correct" ? `correct:${field}=${value.trim()}` : what };
    if (reason.trim()) values.reason = reason.trim();
    // One by one: the row after it is the next to be settled.
    const at = one ? fitting.indexOf(one) : -1, after = at >= 0 ? (fitting[at + 1] ?? fitting[at - 1]) : undefined;
    if (await r.start(values)) {
      setPicked(after ? [after.id] : []);
      setValue(valueNow(after, field));
    }
  };
  return (
    <section class="part waiting">
      <h2>{w.records.held}</h2>
      <p class="help">{w.records.heldHelp}</p>
      {checks.length > 1 && (
        <p><label>{w.records.check} <select value={check} onChange={(e) => setCheck((e.target as HTMLSelectElement).value)}>
          <option value="">{w.records.allChecks}</option>
          {checks.map((each) => <option value={each}>{plain(each)} ({rows.filter((row) => row.check === each).length})</option>)}
        </select></label></p>
      )}
      <div class="settling">
        <div class="table" role="group" aria-label={w.records.held} tabIndex={0}>
          <table>
            <thead>
              <tr>
                <th scope="col"><input type="checkbox" aria-label={w.records.pickAll} checked={chosen.length > 0 && chosen.length === fitting.length} onChange={(e) => setPicked((e.target as HTMLInputElement).checked ? fitting.map((each) => each.id) : [])} /></th>
                <th scope="col" class="number">{w.records.row}</th><th scope="col">{w.records.reasonHeld}</th><th scope="col" class="act">{w.note.act}</th>
              </tr>
            </thead>
            <tbody>
              {shown.map((each) => [
                <tr key={each.id} class={picked.includes(each.id) ? "said-of picked" : "said-of"}>
                  <td><input type="checkbox" aria-label={`${w.records.pick} ${w.records.row} ${each.row}`} checked={picked.includes(each.id)} onChange={(e) => setPicked((e.target as HTMLInputElement).checked ? [...picked, each.id] : picked.filter((id) => id !== each.id))} /></td>
                  <td class="number">{each.row}</td>
                  <td class="long" {...told}>{each.reason} <span class="soft">{plain(each.check)}</span></td>
                  <td class="act"><button type="button" class="quiet" aria-label={`${w.records.settle} ${w.records.row} ${each.row}`} onClick={() => settle(each)}>{w.records.settle}</button></td>
                </tr>,
                <tr key={`${each.id} raw`} class={picked.includes(each.id) ? "remark picked" : "remark"}>
                  <td colSpan={2} />
                  <td colSpan={2}><p lang="">{rawWords(each.raw).map(([key, text]) => [<span class="pair"><span class="soft">{key}</span> {text}</span>, " "])}</p></td>
                </tr>,
              ])}
            </tbody>
          </table>
          {shown.length < fitting.length && <button type="button" class="quiet all" onClick={() => setAll(true)}>{w.note.more(fitting.length)}</button>}
        </div>
        <form ref={panel} class="form decision" onSubmit={(e) => void decide(e)} noValidate data-job="decide">
          <h3>{one ? w.records.oneRow(one.row, one.file ?? "") : w.records.someRows(chosen.length)}</h3>
          {one && <p class="said" {...told}>{one.reason}</p>}
          <fieldset class="ways">
            <legend>{w.records.what}</legend>
            {(["accept", "correct", "reject"] as const).map((each) => <label><input type="radio" name="what" checked={what === each} onChange={() => (setWhat(each), each === "correct" && setValue(valueNow(one, field)))} /> {w.records[each]}</label>)}
          </fieldset>
          {what === "correct" && <FieldView look={{ name: "field", kind: "text", label: w.records.field, choices: fields.map((each) => ({ value: each, label: capital(named(each)) })), required: true }} value={field} onValue={pickField} />}
          {what === "correct" && <FieldView look={{ name: "value", kind: "text", label: w.records.value }} value={value} onValue={setValue} />}
          <FieldView look={{ name: "reason", kind: "text", label: w.records.reason, required: what !== "correct" }} value={reason} onValue={setReason} error={wrong} />
          <div class="acts"><button type="submit" class="main" disabled={r.busy}>{w.records.decide(chosen.length)}</button><Busy run={r} /></div>
          <FailureView failure={r.failure} />
          {r.note && <Said status text={r.note.answer}><Undo run={r} /></Said>}
          {r.message && <p role="status">{r.message}</p>}
        </form>
      </div>
    </section>
  );
}

function Settled() {
  const [state, setState] = useState("accepted");
  const held = useNote("held", { state });
  return (
    <Do title={w.records.settled}>
      <div class="tabs" role="group" aria-label={w.records.settled}>{["accepted", "corrected", "rejected"].map((one) => <button type="button" aria-pressed={state === one} onClick={() => setState(one)}>{plain(one)}</button>)}</div>
      {held.note && <><Said text={held.note.answer} /><NoteBody note={held.note} level={3} /></>}
    </Do>
  );
}
