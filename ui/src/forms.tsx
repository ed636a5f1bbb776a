// SPDX-License-Identifier: GPL-3.0-or-later
// Forms made from what a job or a noun says of itself: fields, help, refusal beside the field, progress, calling off, undo.
import type { ComponentChildren } from "preact";
import { useEffect, useId, useRef, useState } from "preact/hooks";
import { type Note, type Option, Refusal, type Values, run } from "./api";
import { FailureView, NoteBody } from "./note";
import { nounFields } from "./nouns";
import { type Drawn, ShapeField, drawnEmpty } from "./shape";
import { jobOf, stored } from "./state";
import { capital, named, numberRead, plain, told, unitShown, w, worded } from "./words";

export interface Choice {
  value: string;
  label: string;
}
export function choicesOf(words: readonly string[]): Choice[] {
  return words.map((value) => ({ value, label: plain(value) }));
}

export interface FieldLook {
  name: string;
  kind: Option["kind"];
  label?: string;
  unit?: string;
  help?: string;
  required?: boolean;
  choices?: Choice[];
  /** The help is the workbench's own text, not the program's. */
  own?: boolean;
  /** Suggestions for free text. */
  offers?: string[];
}
export type Filled = Record<string, string>;

export function FieldView({ look, value, onValue, error, onFile }: {
  look: FieldLook;
  value: string;
  onValue: (text: string) => void;
  error?: string;
  onFile?: (file: File | null) => void;
}) {
  const id = useId();
  const label = capital(look.label ?? named(look.name));
  const about = [look.help ? `${id}-help` : "", error ? `${id}-error` : ""].filter(Boolean).join(" ") || undefined;
  const common = { id, name: look.name, "aria-describedby": about, "aria-invalid": error ? true : undefined, "aria-required": look.required || undefined };
  const typed = (event: Event) => onValue((event.target as HTMLInputElement).value);
  const head = (
    <>
      {label}
      {look.unit && <span class="unit"> {look.unit}</span>}
      {look.required && <span class="soft"> · {w.form.required}</span>}
    </>
  );
  const tail = (
    <>
      {look.help && <p class="help" id={`${id}-help`} {...(look.own ? {} : told)}>{look.help}</p>}
      {error && <p class="wrong" id={`${id}-error`}>{error}</p>}
    </>
  );
  if (look.kind === "flag" || look.kind === "file_out")
    return (
      <div class="field flag">
        <label for={id}>
          <input type="checkbox" {...common} checked={value !== ""} onChange={(e) => onValue((e.target as HTMLInputElement).checked ? "yes" : "")} />
          <span>{look.kind === "file_out" ? w.form.alsoAs(look.name.toUpperCase()) : label}</span>
        </label>
        {look.kind === "flag" && tail}
      </div>
    );
  let control: ComponentChildren;
  if (look.choices)
    control = (
      <select {...common} value={value} onChange={typed}>
        {!look.required && <option value="">{w.form.notSaid}</option>}
        {look.required && value === "" && <option value="">…</option>}
        {look.choices.map((one) => <option value={one.value}>{one.label}</option>)}
      </select>
    );
  else if (look.kind === "file_in")
    control = <input type="file" {...common} onChange={(e) => {
      const file = (e.target as HTMLInputElement).files?.[0] ?? null;
      onFile?.(file);
      onValue(file?.name ?? "");
    }} />;
  else if (look.kind === "date") control = <input type="date" {...common} value={value} onInput={typed} />;
  else
    control = (
      <>
        <input
          type="text"
          {...common}
          inputMode={look.kind === "number" ? "decimal" : look.kind === "integer" ? "numeric" : undefined}
          class={look.kind === "text" ? undefined : "short"}
          list={look.offers ? `${id}-list` : undefined}
          autoComplete="off"
          value={value}
          onInput={typed}
        />
        {look.offers && <datalist id={`${id}-list`}>{look.offers.map((one) => <option value={one} />)}</datalist>}
      </>
    );
  return (
    <div class="field">
      <label for={id}>{head}</label>
      {control}
      {tail}
    </div>
  );
}

/** Texts of the form as the job wants them; what is no number is said beside its field. */
export function valuesRead(looks: FieldLook[], filled: Filled): { values: Values; wrong: Record<string, string> } {
  const values: Values = {}, wrong: Record<string, string> = {};
  for (const look of looks) {
    const text = filled[look.name] ?? "";
    if (text.trim() === "") {
      if (look.required) wrong[look.name] = w.form.needed;
      continue;
    }
    if (look.kind === "number" || look.kind === "integer") {
      const number = numberRead(text);
      if (Number.isNaN(number)) wrong[look.name] = w.form.numberWrong;
      else if (look.kind === "integer" && !Number.isInteger(number)) wrong[look.name] = w.form.integerWrong;
      else values[look.name] = number;
    } else if (look.kind === "flag") values[look.name] = true;
    else values[look.name] = text.trim();
  }
  return { values, wrong };
}

const outlineOptions = ["map", "wkt", "from_crs", "layer", "feature", "swap"];

export function looksOf(options: Option[], choices: Record<string, Choice[]> = {}, offers: Record<string, string[]> = {}): FieldLook[] {
  return options.map((one) => ({
    name: one.name,
    kind: one.kind,
    unit: unitShown(one.value),
    help: one.about.charAt(0).toUpperCase() + one.about.slice(1) + ".",
    required: one.required,
    choices: choices[one.name],
    offers: offers[one.name],
  }));
}

/** Running a job: its state, and the means to start it and to call it off. */
export function useRun(job: string) {
  const [state, set] = useState<{ busy: boolean; done: number; what: string; note: Note | null; failure: Refusal | null; step: number; message: string }>({
    busy: false, done: 0, what: "", note: null, failure: null, step: 0, message: "",
  });
  const stop = useRef<AbortController | null>(null);
  const start = async (values: Values, file?: File | null, name = job): Promise<Note | null> => {
    stop.current = new AbortController();
    set({ busy: true, done: 0, what: "", note: null, failure: null, step: 0, message: "" });
    try {
      const note = await run(name, values, file, { signal: stop.current.signal, onProgress: (done, what) => set((s) => ({ ...s, done, what })) });
      const step = jobOf(name)?.access === "writes" ? await stored() : 0;
      set({ busy: false, done: 1, what: "", note, failure: null, step, message: "" });
      return note;
    } catch (e) {
      const failure = e as Refusal;
      const cancelled = failure.status === 409;
      set({ busy: false, done: 0, what: "", note: null, failure: cancelled ? null : failure, step: 0, message: cancelled ? w.form.cancelled : "" });
      return null;
    }
  };
  const undo = async () => {
    try {
      await run("undo", { step: state.step });
      await stored();
      set((s) => ({ ...s, note: null, step: 0, message: w.form.undone }));
    } catch (e) {
      set((s) => ({ ...s, failure: e as Refusal }));
    }
  };
  return { ...state, start, undo, cancel: () => stop.current?.abort() };
}

export function Busy({ run: r }: { run: ReturnType<typeof useRun> }) {
  const [slow, setSlow] = useState(false);
  useEffect(() => {
    if (!r.busy) return setSlow(false);
    const timer = setTimeout(() => setSlow(true), 300);
    return () => clearTimeout(timer);
  }, [r.busy]);
  return (
    <div class="busy-line" aria-live="polite">
      {r.busy && slow && (
        <>
          <span {...(r.what ? told : {})}>{r.what ? plain(r.what) : w.form.busy}</span>
          {r.done > 0 && <progress value={r.done} max={1} aria-label={w.form.busy} />}
          <button type="button" class="quiet" onClick={r.cancel}>{w.form.cancel}</button>
        </>
      )}
      {r.message && <span>{r.message}</span>}
    </div>
  );
}

/** What a job stored is taken back at once. */
export function Undo({ run: r }: { run: ReturnType<typeof useRun> }) {
  return r.step > 0 ? <button type="button" class="quiet" onClick={() => void r.undo()}>{w.form.undo}</button> : null;
}

export function Done({ run: r, level = 3, skip }: { run: ReturnType<typeof useRun>; level?: number; skip?: string[] }) {
  return (
    <>
      <FailureView failure={r.failure} />
      {r.note && (
        <div class="done" role="status">
          <p class="said">
            <span {...told}>{worded(r.note.answer ?? "")}</span>{" "}
            <Undo run={r} />
          </p>
          <NoteBody note={r.note} level={level} skip={skip} />
        </div>
      )}
    </>
  );
}

export interface JobFormProps {
  job: string;
  /** Options shown at once, in this order; the rest is under "further choices". */
  show?: string[];
  hide?: string[];
  fixed?: Values;
  start?: Filled;
  choices?: Record<string, Choice[]>;
  offers?: Record<string, string[]>;
  labels?: Record<string, string>;
  required?: string[];
  shape?: "polygon" | "any";
  /** The way of giving a shape that is open at first. */
  way?: "file" | "draw";
  submit?: string;
  level?: number;
  skip?: string[];
  onDone?: (note: Note) => void;
  children?: ComponentChildren;
}

/** A form for one job. */
export function JobForm(props: JobFormProps) {
  const job = jobOf(props.job);
  const [filled, setFilled] = useState<Filled>(props.start ?? {});
  const [wrong, setWrong] = useState<Record<string, string>>({});
  const [file, setFile] = useState<File | null>(null);
  const [drawn, setDrawn] = useState<Drawn>(drawnEmpty);
  const form = useRef<HTMLFormElement>(null);
  const r = useRun(props.job);
  if (!job) return null;
  const hidden = [...(props.hide ?? []), ...Object.keys(props.fixed ?? {}), ...(props.shape ? ["map", "wkt"] : [])];
  const looks = looksOf(job.options, props.choices, props.offers)
    .filter((one) => !hidden.includes(one.name))
    .map((one) => ({ ...one, label: props.labels?.[one.name], required: one.required || props.required?.includes(one.name) }));
  const first = props.show ? props.show.flatMap((name) => looks.filter((one) => one.name === name)) : looks.filter((one) => !outlineOptions.includes(one.name) || !props.shape);
  const rest = looks.filter((one) => !first.includes(one));
  const failed = r.failure?.column ? { [r.failure.column]: worded([r.failure.sentence, r.failure.remedy].filter(Boolean).join(" ")) } : {};
  const errors = { ...failed, ...wrong };
  const submit = async (event: Event) => {
    event.preventDefault();
    const read = valuesRead(looks, filled);
    setWrong(read.wrong);
    const firstWrong = Object.keys(read.wrong)[0];
    if (firstWrong) {
      form.current?.querySelector<HTMLElement>(`[name="${firstWrong}"]`)?.focus();
      return;
    }
    const values: Values = { ...read.values, ...props.fixed };
    for (const look of looks) if (look.kind === "file_out" && values[look.name]) values[look.name] = `${props.job}.${look.name}`;
    let sent = file;
    if (props.shape && drawn.file) {
      values.map = drawn.file.name;
      sent = drawn.file;
    } else if (props.shape && drawn.wkt) values.wkt = drawn.wkt;
    const note = await r.start(values, sent);
    if (note) {
      setDrawn(drawnEmpty);
      if (job.access === "writes" && props.shape) setFilled(props.start ?? {});
      props.onDone?.(note);
    }
  };
  const view = (look: FieldLook) => (
    <FieldView
      key={look.name}
      look={look}
      value={filled[look.name] ?? ""}
      error={errors[look.name]}
      onFile={setFile}
      onValue={(text) => {
        setFilled((f) => ({ ...f, [look.name]: text }));
        setWrong(({ [look.name]: _, ...others }) => others);
      }}
    />
  );
  return (
    <form ref={form} onSubmit={(e) => void submit(e)} noValidate class="form" data-job={props.job}>
      <div class="fields">{first.map(view)}</div>
      {props.shape && <ShapeField kind={props.shape} way={props.way} drawn={drawn} onDrawn={setDrawn} />}
      {rest.length > 0 && (
        <details class="fold">
          <summary>{w.form.more}</summary>
          <div class="fields">{rest.map(view)}</div>
        </details>
      )}
      {props.children}
      <div class="acts">
        <button type="submit" class="main" disabled={r.busy}>{props.submit ?? w.form.go}</button>
        <Busy run={r} />
      </div>
      <Done run={r} level={props.level} skip={props.skip} />
    </form>
  );
}

/* A row as the texts of its form. */
function filledOf(noun: string, row: Record<string, unknown>): Filled {
  const out: Filled = {};
  for (const one of nounFields[noun] ?? []) {
    const value = row[one.name];
    if (value === null || value === undefined) continue;
    out[one.name] = typeof value === "boolean" ? (value ? "yes" : "no") : String(value);
  }
  return out;
}

/** A form for one new row of a noun, or for changing one that is there. */
export function NounForm({ noun, show, fixed = {}, choices = {}, submit, start, row }: {
  noun: string;
  show: string[];
  fixed?: Values;
  choices?: Record<string, Choice[]>;
  submit: string;
  start?: Filled;
  row?: Record<string, unknown>;
}) {
  const before = row ? filledOf(noun, row) : {};
  const [filled, setFilled] = useState<Filled>(row ? before : (start ?? {}));
  const [why, setWhy] = useState("");
  const [wrong, setWrong] = useState<Record<string, string>>({});
  const form = useRef<HTMLFormElement>(null);
  const r = useRun(row ? "change" : "add");
  const yesNo = [{ value: "yes", label: w.form.yes }, { value: "no", label: w.form.no }];
  const looks: FieldLook[] = (nounFields[noun] ?? [])
    .filter((one) => !(one.name in fixed) && one.kind !== "json" && one.kind !== "bytes" && (one.kind !== "ref" || choices[one.name]))
    .map((one) => ({
      name: one.name,
      kind: one.kind === "int" ? "integer" : one.kind === "real" ? "number" : one.kind === "date" ? "date" : "text",
      unit: unitShown(one.unit),
      help: one.about + ".",
      required: one.required,
      choices: choices[one.name] ?? (one.words ? choicesOf(one.words) : one.kind === "truth" ? yesNo : undefined),
    }));
  const first = show.flatMap((name) => looks.filter((one) => one.name === name));
  const rest = looks.filter((one) => !first.includes(one));
  const errors = { ...(r.failure?.column ? { [r.failure.column]: r.failure.sentence } : {}), ...wrong };
  const submitted = async (event: Event) => {
    event.preventDefault();
    const read = valuesRead(looks, filled);
    setWrong(read.wrong);
    const firstWrong = Object.keys(read.wrong)[0];
    if (firstWrong) return form.current?.querySelector<HTMLElement>(`[name="${firstWrong}"]`)?.focus();
    const set: Record<string, unknown> = { ...read.values, ...fixed };
    for (const one of nounFields[noun] ?? []) {
      const value = set[one.name];
      if (one.kind === "truth" && typeof value === "string") set[one.name] = value === "yes";
      if (one.kind === "ref" && typeof value === "string") set[one.name] = Number(value);
    }
    if (!row) return void (await r.start({ noun, set: JSON.stringify(set) }));
    // Only what was changed is sent; what was emptied becomes unknown.
    const changed = looks.filter((look) => (filled[look.name] ?? "") !== (before[look.name] ?? "")).map((look) => [look.name, set[look.name] ?? null]);
    await r.start({ noun, id: Number(row.id), set: JSON.stringify(Object.fromEntries(changed)), ...(why.trim() ? { why: why.trim() } : {}) });
  };
  const view = (look: FieldLook) => (
    <FieldView key={look.name} look={look} value={filled[look.name] ?? ""} error={errors[look.name]} onValue={(text) => {
      setFilled((f) => ({ ...f, [look.name]: text }));
      setWrong(({ [look.name]: _, ...others }) => others);
    }} />
  );
  return (
    <form ref={form} onSubmit={(e) => void submitted(e)} noValidate class="form" data-job={row ? "change" : "add"}>
      <div class="fields">{first.map(view)}</div>
      {rest.length > 0 && (
        <details class="fold">
          <summary>{w.form.more}</summary>
          <div class="fields">{rest.map(view)}</div>
        </details>
      )}
      {row && <div class="fields"><FieldView look={{ name: "why", kind: "text", label: w.rows.why, help: w.rows.whyHelp, own: true }} value={why} onValue={setWhy} /></div>}
      <div class="acts">
        <button type="submit" class="main" disabled={r.busy}>{submit}</button>
        <Busy run={r} />
      </div>
      <Done run={r} />
    </form>
  );
}
