// SPDX-License-Identifier: GPL-3.0-or-later
// The one way to ask the program for a job: its note, its refusal, its progress, and calling it off.

export type Cell = string | number | null;
export interface Column {
  name: string;
  title: string;
  unit: string;
  digits?: number;
}
export interface Table {
  columns: Column[];
  rows: Cell[][];
  /** Beside rows: the set of rows behind each cell. */
  behind?: (number | null)[][];
}
/** Rows a number was computed from: by a selection, or several sets together. */
export interface RowsSet {
  set: number;
  noun?: string;
  where?: string;
  of?: number[];
  count: number | null;
}
export interface Section {
  title: string;
  text?: string;
  text_behind?: (number | null)[];
  table?: Table;
  figure?: { title: string; svg: string; alt: string; behind?: number };
}
export interface Note {
  answer?: string;
  sections?: Section[];
  cautions?: { code: string; words: string; defer?: string | null }[];
  unknown?: string[];
  sources?: string[];
  written?: { kind: string; path: string }[];
  rows?: RowsSet[];
  answer_behind?: number;
  // eslint-disable-next-line @typescript-eslint/no-explicit-any
  data?: Record<string, any>;
  step?: number;
}
export interface Option {
  name: string;
  kind: "text" | "number" | "integer" | "date" | "flag" | "file_in" | "file_out";
  required: boolean;
  value: string | null;
  about: string;
}
export interface Job {
  name: string;
  summary: string;
  about: string;
  example: string;
  access: "free" | "looks" | "writes";
  options: Option[];
}
export interface Offer {
  jobs: Job[];
  file: string;
  exists: boolean;
}
export type Values = Record<string, string | number | boolean | null>;

/** A job that did not go through: what is wrong, where, and what to do. */
export class Refusal extends Error {
  constructor(
    readonly sentence: string,
    readonly remedy = "",
    readonly column = "",
    readonly row = 0,
    readonly file = "",
    readonly status = 0,
  ) {
    super(sentence);
  }
}

export interface Watch {
  signal?: AbortSignal;
  onProgress?: (done: number, what: string) => void;
}

const authorKey = "spinney.author";
export function authorGet(): string {
  return localStorage.getItem(authorKey) ?? "";
}
export function authorSet(name: string): void {
  localStorage.setItem(authorKey, name);
}

function ticketNew(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
}

async function follow(ticket: string, watch: Watch, over: { yes: boolean }): Promise<void> {
  let wait = 350;
  while (!over.yes) {
    await new Promise((done) => setTimeout(done, wait));
    if (over.yes || !watch.onProgress) return;
    wait = 500;
    const answer = await fetch(`/api/progress/${ticket}`).catch(() => null);
    if (over.yes || !answer?.ok) continue;
    const state = (await answer.json()) as { done: number; what: string };
    if (!over.yes) watch.onProgress(state.done, state.what);
  }
}

export async function offer(): Promise<Offer> {
  const answer = await fetch("/api/jobs");
  if (!answer.ok) throw new Refusal(await answer.text());
  return (await answer.json()) as Offer;
}

/** Run a job. With a file, the option that takes it must carry its name. */
export async function run(job: string, options: Values = {}, file?: File | null, watch: Watch = {}): Promise<Note> {
  const ticket = ticketNew();
  const headers: Record<string, string> = { "X-Spinney": "1", "X-Author": authorGet().replace(/[^\x20-\x7e]/g, ""), "X-Ticket": ticket };
  let body: BodyInit;
  if (file) {
    const form = new FormData();
    form.set("options", JSON.stringify(options));
    form.set("file", file, "upload");
    body = form;
  } else {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(options);
  }
  const over = { yes: false };
  const cancel = () => void fetch(`/api/cancel/${ticket}`, { method: "POST", headers: { "X-Spinney": "1" } }).catch(() => null);
  watch.signal?.addEventListener("abort", cancel);
  void follow(ticket, watch, over);
  let answer: Response;
  try {
    answer = await fetch(`/api/job/${job}`, { method: "POST", headers, body });
  } catch {
    throw new Refusal("", "", "", 0, "", -1);
  } finally {
    over.yes = true;
    watch.signal?.removeEventListener("abort", cancel);
  }
  const got = (await answer.json()) as Note & { error?: { status: number; sentence: string; remedy: string; file: string; row: number; column: string } };
  if (got.error) {
    const e = got.error;
    throw new Refusal(e.sentence, e.remedy ?? "", e.column ?? "", e.row ?? 0, e.file ?? "", answer.status);
  }
  if (job === "map") metres(got.data);
  return got;
}

/* A map comes as millimetres from an origin; the page reckons in the programme's metres. */
function metres(data: Record<string, unknown> | undefined): void {
  const [east = 0, north = 0] = (data?.origin as number[] | undefined) ?? [];
  for (const list of [data?.places, data?.plants] as ((number | string)[][] | undefined)[])
    for (const one of list ?? []) {
      one[0] = east + Number(one[0]) / 1000;
      one[1] = north + Number(one[1]) / 1000;
    }
  if (Array.isArray(data?.squares))
    data.squares = (data.squares as [string, number[]][]).map(([code, ring]) => {
      const corners: number[][] = [];
      for (let i = 0; i < ring.length; i += 2) corners.push([east + ring[i]! / 1000, north + ring[i + 1]! / 1000]);
      if (corners[0]) corners.push(corners[0]);
      return { code, geometry: { type: "Polygon", coordinates: [corners] } };
    });
}

/** Address of a file that a job wrote. */
export function fileAddress(path: string): string {
  return `/api/file/${encodeURIComponent(path.split("/").pop() ?? "")}`;
}
/** Its name without the number that made it unique. */
export function fileName(path: string): string {
  return (path.split("/").pop() ?? "").replace(/^\d+-/, "");
}
