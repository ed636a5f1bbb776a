// SPDX-License-Identifier: GPL-3.0-or-later
// What every page is made of: a sheet with its question, its sentence, the map or the wishes beside it, and what follows.
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import type { Note, Refusal } from "../api";
import { Answer, FailureView } from "../note";
import { type MapData, choose, go, plotOf, siteOf } from "../state";
import { capital, w } from "../words";

export function Sheet({ page, note, busy, failure, side, choice, own, children }: {
  page: keyof typeof w.pages;
  note?: Note | null;
  busy?: boolean;
  failure?: Refusal | null;
  side?: ComponentChildren;
  choice?: ComponentChildren;
  /** The sentence is the workbench's own, not the program's. */
  own?: boolean;
  children?: ComponentChildren;
}) {
  const { name, question } = w.pages[page];
  return (
    <article class={side ? "sheet beside" : "sheet"}>
      <header>
        <h1 tabIndex={-1}>{name}</h1>
        <p class="question">{question}</p>
        {choice && <div class="choice">{choice}</div>}
        {note !== undefined && <Answer note={note} busy={busy} own={own} />}
        {failure && <FailureView failure={failure} />}
      </header>
      {side && <aside class="side" aria-label={w.map.title}>{side}</aside>}
      <div class="body">{children}</div>
    </article>
  );
}

/** Something to do on a page, folded until it is wanted. */
export function Do({ title, open, children }: { title: string; open?: boolean; children: ComponentChildren }) {
  // Opened once where a page has nothing yet; never closed under the reader, who looks at what was answered.
  const [unfolded, setUnfolded] = useState(open === true);
  // What nobody has opened is not made.
  const [made, setMade] = useState(open === true);
  useEffect(() => {
    if (open) setUnfolded(true);
  }, [open]);
  useEffect(() => {
    if (unfolded) setMade(true);
  }, [unfolded]);
  return (
    <details class="do" open={unfolded} onToggle={(e) => setUnfolded((e.currentTarget as HTMLDetailsElement).open)}>
      <summary><h2>{title}</h2></summary>
      <div class="inner">{made && children}</div>
    </details>
  );
}

export function Empty({ text, to, label }: { text: string; to?: string; label?: string }) {
  return (
    <div class="empty">
      <p>{text}</p>
      {to && <p><Go to={to}>{label}</Go></p>}
    </div>
  );
}

export function Go({ to, children, current, class: look, label }: { to: string; children: ComponentChildren; current?: boolean; class?: string; label?: string }) {
  return (
    <a href={to} class={look} aria-label={label} aria-current={current ? "page" : undefined} onClick={(e) => {
      if (e.metaKey || e.ctrlKey || e.shiftKey || e.button !== 0) return;
      e.preventDefault();
      go(to);
    }}>{children}</a>
  );
}

export function SiteChoice({ map }: { map: MapData | null }) {
  if (!map || map.sites.length < 2) return null;
  return (
    <label>{w.sites.choose}{" "}
      <select value={siteOf(map)?.code} onChange={(e) => choose("site", (e.target as HTMLSelectElement).value)}>
        {map.sites.map((one) => <option value={one.code}>{one.code} · {one.name}</option>)}
      </select>
    </label>
  );
}

export function PlotChoice({ map }: { map: MapData | null }) {
  if (!map || map.plots.length === 0) return null;
  return (
    <label>{capital(w.map.plot)}{" "}
      <select value={plotOf(map)?.name} onChange={(e) => choose("plot", (e.target as HTMLSelectElement).value)}>
        {map.plots.map((one) => <option value={one.name}>{one.name}</option>)}
      </select>
    </label>
  );
}
