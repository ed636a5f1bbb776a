// SPDX-License-Identifier: GPL-3.0-or-later
// The workbench starts here: the list of steps, the sheet of the step, the block that names the sheet.
import { render } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { type Refusal, authorGet, authorSet } from "./api";
import { type PageKey, pathOf } from "./homes";
import { FailureView } from "./note";
import { Ahead } from "./pages/ahead";
import { Care } from "./pages/care";
import { Index, Rows } from "./pages/all";
import { Go } from "./pages/common";
import { Calculators, Findings, Log, Planting, Report } from "./pages/field";
import { First } from "./pages/first";
import { Ground, Programme, Sites } from "./pages/ground";
import { Layout } from "./pages/layout";
import { Mix } from "./pages/mix";
import { Order, Plots } from "./pages/plan";
import { Records } from "./pages/records";
import { begin, useNote, useShared } from "./state";
import { language, languages, languageSet, locale, w } from "./words";

type Key = PageKey;
const walk: Key[] = ["programme", "sites", "ground", "plots", "mix", "layout", "order", "planting", "care", "records", "ahead", "findings", "report"];
const beside: Key[] = ["first", "log", "rows", "index", "calculators"];
const views: Record<Key, () => preact.JSX.Element> = {
  programme: Programme, sites: Sites, ground: Ground, plots: Plots, mix: Mix, layout: Layout, order: Order, planting: Planting, care: Care, records: Records, ahead: Ahead, findings: Findings, report: Report, log: Log, calculators: Calculators, first: First, rows: Rows, index: Index,
};

function keyOf(path: string): Key {
  const name = path.split("/")[1] ?? "";
  return name in views ? (name as Key) : "programme";
}

/* What each step holds so far, in a word or two. */
function held(key: Key, counts: Record<string, number> | undefined): string {
  const n = (noun: string) => counts?.[noun] ?? 0;
  const say = (count: number, words: (n: number) => string) => (count > 0 ? words(count) : "");
  switch (key) {
    case "sites": return say(n("site"), w.counts.sites);
    case "ground": return say(n("soil_sample"), w.counts.samples);
    case "plots": return say(n("plot"), w.counts.plots);
    case "mix": return say(n("plan"), w.counts.plans);
    case "layout": return say(n("position"), w.counts.places);
    case "order": return say(n("order_line"), w.counts.lines);
    case "planting": return say(n("plant"), w.counts.plants);
    case "records": return say(n("plant_record"), w.counts.records);
    default: return "";
  }
}

function Steps({ now, counts }: { now: Key; counts: Record<string, number> | undefined }) {
  const [open, setOpen] = useState(false);
  useEffect(() => setOpen(false), [now]);
  const at = walk.indexOf(now);
  return (
    <nav aria-label={w.steps} class={open ? "steps open" : "steps"}>
      <button type="button" class="here" aria-expanded={open} aria-controls="walk" onClick={() => setOpen(!open)}>
        {at < 0 ? w.apart(w.pages[now].name) : w.stepOf(at + 1, walk.length, w.pages[now].name)}
      </button>
      <div id="walk" class="walk">
        <ol>
          {walk.map((key) => (
            <li class={key === now ? "now" : undefined}>
              <Go to={pathOf(key)} current={key === now}>
                <span>{w.pages[key].name}</span> <span class="held">{held(key, counts)}</span>
              </Go>
            </li>
          ))}
        </ol>
        <ul>
          {beside.map((key) => (
            <li class={key === now ? "now" : undefined}>
              <Go to={pathOf(key)} current={key === now}>{w.pages[key].name}</Go>
            </li>
          ))}
        </ul>
        {languages.length > 1 && (
          <label class="language">{w.language}{" "}
            <select value={language} onChange={(e) => languageSet((e.target as HTMLSelectElement).value)}>
              {languages.map(([code, name]) => <option value={code} lang={code}>{name}</option>)}
            </select>
          </label>
        )}
      </div>
    </nav>
  );
}

function Author() {
  const [name, setName] = useState(authorGet());
  return (
    <label class="author" title={w.authorHelp}>
      {w.author}{" "}
      <input type="text" value={name} placeholder={w.noAuthor} maxLength={30} autoComplete="off" onInput={(e) => {
        const text = (e.target as HTMLInputElement).value;
        setName(text);
        authorSet(text.trim());
      }} />
    </label>
  );
}

/* The block in the corner of the sheet. */
function Block({ now, about }: { now: Key; about: { name?: string; crs?: number } | undefined }) {
  const { offer } = useShared();
  const at = walk.indexOf(now);
  const lines: [string, string][] = [
    [w.sheetBlock.sheet, at < 0 ? w.pages[now].name : `${at + 1}/${walk.length} ${w.pages[now].name}`],
    [w.sheetBlock.programme, about?.name ?? "–"],
    [w.sheetBlock.crs, about?.crs ? `EPSG:${about.crs}` : "–"],
    [w.sheetBlock.file, offer?.file ?? ""],
    [w.sheetBlock.by, authorGet() || w.noAuthor],
    [w.sheetBlock.day, new Date().toLocaleDateString(locale, { year: "numeric", month: "long", day: "numeric" })],
  ];
  return (
    <dl class="block">
      {lines.map(([name, value]) => <div><dt>{name}</dt><dd>{value}</dd></div>)}
    </dl>
  );
}

function App() {
  const { offer, path } = useShared();
  const [failure, setFailure] = useState<Refusal | null>(null);
  useEffect(() => void begin().catch(setFailure), []);
  const now = keyOf(path);
  const look = useNote(offer?.exists ? "look" : null);
  const about = look.note?.data as { name?: string; crs?: number; counts?: Record<string, number> } | undefined;
  const first = useRef(true);
  useEffect(() => {
    document.title = `${w.pages[now].name} – ${about?.name ?? w.name}`;
    if (first.current) {
      first.current = false;
      return;
    }
    scrollTo(0, 0);
    document.querySelector<HTMLElement>("main h1")?.focus();
  }, [now]);
  useEffect(() => {
    document.title = `${w.pages[now].name} – ${about?.name ?? w.name}`;
  }, [about?.name]);
  const View = views[offer?.exists || now === "calculators" || now === "first" ? now : "programme"];
  const next = walk[walk.indexOf(now) + 1];
  return (
    <>
      <a class="skip" href="#page">{w.skip}</a>
      <header class="top">
        <Go to="/" class="mark">{w.name}</Go>
        <span class="programme">{about?.name ?? w.tagline}</span>
        <Author />
      </header>
      <div class="field-sheet">
        <Steps now={now} counts={about?.counts} />
        <main id="page" tabIndex={-1}>
          {failure && <FailureView failure={failure} />}
          {offer && <View key={now} />}
          {offer?.exists && walk.includes(now) && next && (
            <p class="onward"><Go to={pathOf(next)}>{w.next}: {w.pages[next].name} →</Go></p>
          )}
          <Block now={now} about={about} />
        </main>
      </div>
    </>
  );
}

// On paper nothing that is not known stays folded away.
let unfolded: HTMLDetailsElement[] = [];
addEventListener("beforeprint", () => {
  unfolded = [...document.querySelectorAll<HTMLDetailsElement>("details.more:not([open])")];
  for (const one of unfolded) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of unfolded) one.open = false;
});

render(<App />, document.getElementById("app")!);
