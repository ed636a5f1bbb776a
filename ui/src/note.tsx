// SPDX-License-Identifier: GPL-3.0-or-later
// A note as a page shows it: the sentence, figures, tables, what to be careful of, what is not known, where it comes from.
import type { ComponentChildren } from "preact";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { type Cell, type Column, type Note, Refusal, type Section, type Table, type Values, fileAddress, fileName, run } from "./api";
import { Behind, SetsOf } from "./behind";
import { drawingRead } from "./drawing";
import { day, figure, language, named, plain, told, unitShown, w, worded } from "./words";

// On the screen a table begins with so many rows; on paper it is whole up to the second number.
const firstShown = 14, mostShown = 200, openShown = 8, mostLead = 260, openSections = 4;
const ungrouped = /(^id$|_id$|^seed$|^step$|^year$|_year$|^row$|^version$|^crs$)/;

function CellView({ cell, column }: { cell: Cell | undefined; column: Column }) {
  if (cell === null || cell === undefined) return <span class="unknown">{w.note.unknownCell}</span>;
  if (typeof cell === "number") return <>{figure(cell, column.digits, !ungrouped.test(column.name))}</>;
  if (/^\d{4}-\d\d-\d\dT\d\d:\d\d/.test(cell)) return <>{day(cell.slice(0, 10))} {cell.slice(11, 16)}</>;
  if (/^\d{4}-\d\d-\d\d$/.test(cell)) return <span class="day">{day(cell)}</span>;
  const words = plain(cell);
  return language === "en" || words !== cell.replace(/_/g, " ") ? <>{worded(words)}</> : <span {...told}>{worded(words)}</span>;
}

/** A table with units in its head. Extra cells are added to the right of each row. */
export function TableView({ table, title, extra, extraTitle, own, hide = [] }: {
  table: Table;
  title: string;
  extra?: (row: Cell[], index: number) => ComponentChildren;
  extraTitle?: string;
  /** Its titles are the workbench's own words. */
  own?: boolean;
  hide?: string[];
}) {
  const [all, setAll] = useState(false);
  const [word, setWord] = useState("");
  const wanted = word.trim().toLowerCase();
  const found = useMemo(() => table.rows.map((row, at) => ({ row, at })).filter(({ row }) => wanted === "" || row.some((cell) => plain(String(cell ?? "")).toLowerCase().includes(wanted))), [table, wanted]);
  const shown = all ? found : found.slice(0, mostShown);
  /* A handful more is not worth a press. */
  const first = all || found.length <= firstShown + 4 ? found.length : firstShown;
  /* How columns are set follows from the first rows: looking at tens of thousands for it would be felt. */
  const sample = table.rows.length > 400 ? table.rows.slice(0, 400) : table.rows;
  const columns = table.columns.map((column, at) => ({ column, at })).filter(({ column, at }) => !hide.includes(column.name) && (hide.length === 0 || table.rows.length === 0 || sample.some((row) => row[at] !== null && row[at] !== "")));
  const numeric = (at: number) => sample.some((row) => typeof row[at] === "number") && sample.every((row) => typeof row[at] !== "string");
  /* What is long goes below its row, so that figures stay under each other and nothing is cut. */
  const remark = (at: number) => columns.length > 3 && sample.some((row) => String(row[at] ?? "").length > 72);
  const cells = columns.filter(({ at }) => !remark(at)), remarks = columns.filter(({ at }) => remark(at));
  /* Titles of fields are in the catalogue; those that a job writes are the program's own words. */
  const title_of = (column: Column) => {
    const words = column.title === column.name ? named(column.name) : plain(column.title);
    return language === "en" || own || words !== column.title.replace(/_/g, " ") ? <>{words}</> : <span {...told}>{words}</span>;
  };
  const long = (at: number) => sample.some((row) => String(row[at] ?? "").length > 44);
  if (table.rows.length === 0) return null;
  return (
    <>
    {table.rows.length > 2 * firstShown && (
      <p class="find">
        <label>{w.note.find} <input type="text" value={word} autoComplete="off" aria-label={`${w.note.find}: ${title}`} onInput={(e) => setWord((e.target as HTMLInputElement).value)} /></label>{" "}
        <span class="soft" aria-live="polite">{wanted ? w.note.foundRows(found.length, table.rows.length) : w.note.rows(table.rows.length)}</span>
      </p>
    )}
    <div class="table" role="group" aria-label={w.note.table(title)} tabIndex={0}>
      <table>
        <thead>
          <tr>
            {cells.map(({ column, at }) => (
              <th scope="col" class={numeric(at) ? "number" : undefined}>
                {title_of(column)}
                {unitShown(column.unit) && <span class="unit"> {unitShown(column.unit)}</span>}
              </th>
            ))}
            {extra && <th scope="col" class="act">{extraTitle || w.note.act}</th>}
          </tr>
        </thead>
        <tbody>
          {shown.map(({ row, at: i }, place) => [
            <tr key={i} class={[remarks.length ? "said-of" : "", place >= first ? "later" : ""].join(" ").trim() || undefined}>
              {cells.map(({ column, at }) => (
                <td class={numeric(at) ? "number" : long(at) ? "long" : undefined}>
                  <Behind set={row[at] === null ? null : table.behind?.[i]?.[at]}><CellView cell={row[at]} column={column} /></Behind>
                </td>
              ))}
              {extra && <td class="act">{extra(row, i)}</td>}
            </tr>,
            remarks.some(({ at }) => row[at] !== null && row[at] !== "") && (
              <tr key={`${i} remark`} class={place >= first ? "remark later" : "remark"}>
                <td colSpan={cells.length + (extra ? 1 : 0)}>
                  {remarks.filter(({ at }) => row[at] !== null && row[at] !== "").map(({ column, at }) => (
                    <p><span class="soft">{title_of(column)}: </span><CellView cell={row[at]} column={column} /> <Behind mark set={table.behind?.[i]?.[at]} /></p>
                  ))}
                </td>
              </tr>
            ),
          ])}
        </tbody>
      </table>
      {first < found.length && (
        <button type="button" class="quiet all" onClick={() => setAll(true)}>
          {w.note.more(found.length)}
        </button>
      )}
    </div>
    </>
  );
}

/** A drawing of the program, taken in element by element. */
export function Drawing({ svg, alt }: { svg: string; alt: string }) {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const at = box.current;
    if (!at) return;
    const drawing = drawingRead(svg);
    at.replaceChildren(...(drawing ? [drawing] : []));
    if (!drawing) at.textContent = alt;
  }, [svg]);
  return <div class="drawn" {...told} ref={box} tabIndex={0} role="group" aria-label={w.note.figure} />;
}

function SectionView({ section, level, untitled }: { section: Section; level: number; untitled?: boolean }) {
  const Title = `h${level}` as "h2";
  return (
    <section class="part">
      {!untitled && <Title {...told}>{section.title}</Title>}
      {section.text && (section.text_behind ? (
        section.text.split("\n").map((line, i) => <p {...told}>{worded(line)} <Behind mark set={section.text_behind?.[i]} /></p>)
      ) : <p {...told}>{worded(section.text)}</p>)}
      {section.figure && (
        <figure>
          <Drawing svg={section.figure.svg} alt={section.figure.alt} />
          {section.figure.behind && <figcaption><Behind set={section.figure.behind}>{w.note.figureRows}</Behind></figcaption>}
        </figure>
      )}
      {section.table && <TableView table={section.table} title={section.title} />}
    </section>
  );
}

/* An answer of many sentences: as many as are read at a glance, and the rest. */
function parted(text: string): [string, string] {
  if (text.length <= mostLead) return [text, ""];
  const ends = [...text.matchAll(/[.?!]\s+(?=[A-ZÀ-Þ0-9])/g)].map((one) => one.index + 1);
  const at = ends.filter((end) => end <= mostLead).pop() ?? ends[0] ?? text.length;
  return [text.slice(0, at), text.slice(at).trim()];
}

export function Answer({ note, busy, own }: { note: Note | null; busy?: boolean; own?: boolean }) {
  const [lead, rest] = parted(note?.answer ? worded(note.answer) : "\u00a0");
  return (
    <>
      <p class={busy ? "answer busy" : "answer"} aria-live="polite" {...(own ? {} : told)}>{lead}</p>
      {!rest && note?.answer_behind && <p class="answer-rows"><SetsOf.Provider value={note.rows ?? []}><Behind mark set={note.answer_behind} /></SetsOf.Provider></p>}
      {rest && (
        <details class="more">
          <summary>{w.note.readOn}</summary>
          <p {...told}>{rest}</p>
        </details>
      )}
    </>
  );
}

/** A sentence of the program on a page, with what belongs behind it. */
export function Said({ text, status, live, children }: { text: string | undefined; status?: boolean; live?: boolean; children?: ComponentChildren }) {
  return (
    <p class="said" role={status ? "status" : undefined} aria-live={status || live ? "polite" : undefined}>
      <span {...told}>{worded(text ?? "")}</span> {children}
    </p>
  );
}

export function Written({ note }: { note: Note }) {
  if (!note.written?.length) return null;
  return (
    <ul class="files" aria-label={w.note.written}>
      {note.written.map((one) => (
        <li>
          <a href={fileAddress(one.path)} target="_blank" rel="noopener">
            {fileName(one.path)}
          </a>{" "}
          <span class="soft">{one.kind}</span>
        </li>
      ))}
    </ul>
  );
}

/** All of a note but its sentence. `skip` leaves out sections a page shows in its own way; `only` shows no others. */
export function NoteBody({ note, skip = [], only, level = 2, quiet = false, children }: {
  note: Note;
  skip?: string[];
  only?: string[];
  level?: number;
  quiet?: boolean;
  children?: ComponentChildren;
}) {
  const Title = `h${level}` as "h2";
  const sections = (note.sections ?? []).filter((one) => !skip.includes(one.title) && (!only || only.includes(one.title)));
  return (
    <SetsOf.Provider value={note.rows ?? []}>
      <Written note={note} />
      {sections.map((one, i) =>
        sections.length > openSections + 2 && i >= openSections ? (
          <details class="more folded" key={one.title}>
            <summary><Title {...told}>{one.title}</Title></summary>
            <SectionView section={one} level={level} untitled />
          </details>
        ) : (
          <SectionView key={one.title} section={one} level={level} />
        ),
      )}
      {children}
      {!quiet && !!note.cautions?.length && (
        <section class="part care">
          <Title>{w.note.cautions}</Title>
          <ul>
            {note.cautions.map((one) => (
              <li>
                <span {...told}>{one.words}</span> {one.defer && <span class="soft">{w.note.decides} <span {...told}>{one.defer}.</span></span>} <span class="code">{one.code}</span>
              </li>
            ))}
          </ul>
        </section>
      )}
      {!quiet && !!note.unknown?.length && (
        <section class="part open">
          <Title>{w.note.unknown}</Title>
          <ul>{note.unknown.slice(0, openShown).map((one) => <li {...told}>{worded(one)}</li>)}</ul>
          {note.unknown.length > openShown && (
            <details class="more">
              <summary>{w.note.openMore(note.unknown.length - openShown)}</summary>
              <ul>{note.unknown.slice(openShown).map((one) => <li {...told}>{worded(one)}</li>)}</ul>
            </details>
          )}
        </section>
      )}
      {!quiet && !!note.sources?.length && (
        <section class="part from">
          <Title>{w.note.sources}</Title>
          <ul>
            {note.sources.map((one) => (
              <li {...told}>{one}</li>
            ))}
          </ul>
        </section>
      )}
    </SetsOf.Provider>
  );
}

export function NoteView({ note, level = 2, skip }: { note: Note; level?: number; skip?: string[] }) {
  return (
    <>
      <Answer note={note} />
      <NoteBody note={note} level={level} skip={skip} />
    </>
  );
}

/** What is wrong, where, and what to do, in the words of the job. */
export function FailureView({ failure }: { failure: Refusal | null }) {
  if (!failure) return null;
  const sentence = failure.status === -1 ? w.failed.system : failure.sentence;
  return (
    <div class="failure" role="alert">
      <p>
        <strong {...(failure.status === -1 ? {} : told)}>{worded(sentence)}</strong> {failure.row > 0 && <span>({w.failed.row(failure.row)}{failure.column ? `, ${plain(failure.column)}` : ""})</span>}
      </p>
      {failure.remedy && <p {...told}>{worded(failure.remedy)}</p>}
    </div>
  );
}

/** The same answer as a file: PDF, page or workbook. */
export function Takeaway({ job, options = {} }: { job: string; options?: Values }) {
  const [note, setNote] = useState<Note | null>(null);
  const [failure, setFailure] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  const key = JSON.stringify(options);
  useEffect(() => setNote(null), [key]);
  const write = async (kind: "pdf" | "html" | "xlsx") => {
    setBusy(true);
    setFailure(null);
    try {
      setNote(await run(job, { ...options, [`to_${kind}`]: `${job}.${kind}` }));
    } catch (e) {
      setFailure(e as Refusal);
    }
    setBusy(false);
  };
  return (
    <section class="takeaway" aria-label={w.note.takeaway}>
      <span class="soft">{w.note.takeaway}</span>
      {(["pdf", "html", "xlsx"] as const).map((kind) => (
        <button type="button" class="quiet" disabled={busy} onClick={() => void write(kind)}>
          {w.note[kind]}
        </button>
      ))}
      <span aria-live="polite">{busy && w.note.making}{note && <Written note={note} />}</span>
      <FailureView failure={failure} />
    </section>
  );
}
