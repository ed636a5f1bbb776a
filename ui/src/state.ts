// SPDX-License-Identifier: GPL-3.0-or-later
// What pages share: what the program offers, the version of the data, the chosen site and plot, the way from page to page.
import type { Backdrop } from "./backdrop";
import { useEffect, useRef, useState } from "preact/hooks";
import { type Job, type Note, type Offer, Refusal, type Values, offer, run } from "./api";

interface Shared {
  offer: Offer | null;
  /** Grows with every step that was stored, so that pages ask again. */
  version: number;
  /** Newest step of the log, to know whether a job stored something. */
  step: number;
  site: string;
  plot: string;
  path: string;
  /** What stands behind "?" of the address. */
  search: string;
}
export const shared: Shared = {
  offer: null,
  version: 0,
  step: 0,
  site: sessionStorage.getItem("site") ?? "",
  plot: sessionStorage.getItem("plot") ?? "",
  path: location.pathname,
  search: location.search,
};
const listeners = new Set<() => void>();

export function tell(): void {
  for (const one of [...listeners]) one();
}

export function useShared(): Shared {
  const [, again] = useState(0);
  useEffect(() => {
    const one = () => again((n) => n + 1);
    listeners.add(one);
    return () => void listeners.delete(one);
  }, []);
  return shared;
}

export async function begin(): Promise<void> {
  shared.offer = await offer();
  if (shared.offer.exists) shared.step = await newest();
  tell();
}

export async function newest(): Promise<number> {
  const note = await run("log", { most: 1 });
  const first = note.sections?.[0]?.table?.rows[0]?.[0];
  return typeof first === "number" ? first : 0;
}

/** After a job that may have stored something: the step it stored, or 0. */
export async function stored(): Promise<number> {
  const step = await newest().catch(() => shared.step);
  const fresh = step > shared.step ? step : 0;
  shared.step = step;
  if (fresh) {
    shared.version++;
    tell();
  }
  return fresh;
}

export function jobOf(name: string): Job | undefined {
  return shared.offer?.jobs.find((job) => job.name === name);
}

export function choose(what: "site" | "plot", code: string): void {
  shared[what] = code;
  sessionStorage.setItem(what, code);
  tell();
}

export function go(path: string): void {
  if (path === shared.path + shared.search) return;
  history.pushState(null, "", path);
  shared.path = location.pathname;
  shared.search = location.search;
  tell();
}
addEventListener("popstate", () => {
  shared.path = location.pathname;
  shared.search = location.search;
  tell();
});

export interface Asked {
  note: Note | null;
  failure: Refusal | null;
  busy: boolean;
}

/** A job's note, asked again when the options or the data change. The note before stays until the new one is there. */
export function useNote(job: string | null, options: Values = {}, wait = 0): Asked {
  const { version, offer: known } = useShared();
  const [asked, set] = useState<Asked>({ note: null, failure: null, busy: job !== null });
  const key = job === null ? "" : `${job} ${JSON.stringify(options)} ${version}`;
  const last = useRef("");
  useEffect(() => {
    if (job === null || !known?.exists) return;
    last.current = key;
    const stop = new AbortController();
    set((before) => ({ ...before, busy: true }));
    const timer = setTimeout(() => {
      run(job, options, null, { signal: stop.signal }).then(
        (note) => last.current === key && set({ note, failure: null, busy: false }),
        (failure: Refusal) => last.current === key && set((before) => ({ note: wait ? before.note : null, failure, busy: false })),
      );
    }, wait);
    return () => {
      clearTimeout(timer);
      stop.abort();
    };
  }, [key, known?.exists]);
  return job === null ? { note: null, failure: null, busy: false } : asked;
}

export interface Place {
  id: number;
  code: string;
  name: string;
  geometry: unknown;
  area_m2: number | null;
}
export interface SitePlace extends Place {
  stage: string;
  plantable: unknown;
}
export interface PlotPlace extends Place {
  site: string;
  regime: string;
  density_m2: number | null;
}
export interface Thing {
  id: number;
  site: string;
  kind: string;
  label: string | null;
  geometry: unknown;
  zone: unknown;
  standoff_m: number | null;
  figure_known: boolean;
  checked: boolean;
}
export interface MapData {
  sites: SitePlace[];
  plots: PlotPlace[];
  constraints: Thing[];
  backdrops?: Backdrop[];
  crs: string;
  crs_name: string | null;
  species: string[];
  plan?: number;
  squares?: { code: string; geometry: unknown }[];
  /** east, north, layer, species, square, number, row of position */
  places?: [number, number, number, number, number, number, number][];
  /** east, north, layer, species, state, plot id, tag */
  plants?: [number, number, number, number, number, number, string][];
  states?: string[];
  /** visits of the site in order, and whether plants of this plot were looked at */
  visits?: { day: string; seen: boolean }[];
  /** square, species, layer, origin, [visit, state, visit, state …] */
  seen?: [string, number, number, number, number[]][];
}

/** Everything with a place; with a plot also its squares and places. */
export function useMap(options: Values = {}): { map: MapData | null; busy: boolean } {
  const asked = useNote("map", options);
  return { map: (asked.note?.data as MapData | undefined) ?? null, busy: asked.busy };
}

/** The chosen site, or the first one. */
export function siteOf(map: MapData | null): SitePlace | undefined {
  return map?.sites.find((one) => one.code === shared.site) ?? map?.sites[0];
}
export function plotOf(map: MapData | null): PlotPlace | undefined {
  return map?.plots.find((one) => one.name === shared.plot) ?? map?.plots.find((one) => one.regime === "dense_prepared") ?? map?.plots[0];
}
