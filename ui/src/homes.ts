// SPDX-License-Identifier: GPL-3.0-or-later
// Where each job is at home: the page a person would look on. A job that is not named here is started from the index.
import type { w } from "./words";

export type PageKey = keyof typeof w.pages;
export const homes: Record<string, PageKey> = {
  new: "programme", look: "programme", backup: "programme", verify: "programme",
  map: "sites", backdrop: "sites", site: "sites", constraint: "sites", distances: "sites", register: "sites", stage: "sites", screen: "sites", cautions: "sites", rule: "sites",
  package: "programme",
  ground: "ground", prepare: "ground", preparations: "ground",
  plot: "plots", split: "plots", compare: "plots", design: "plots", sample: "plots", power: "plots", protocol: "plots",
  communities: "mix", releves: "mix", species: "mix", library: "mix", mix: "mix", mixes: "mix",
  layout: "layout", substitute: "layout", mend: "layout", sheet: "layout", cards: "layout", forms: "layout", move: "layout",
  order: "order", budget: "order",
  planted: "planting",
  tended: "care", tasks: "care", water: "care", balance: "care", care: "care", losses: "care", replant: "care", weather: "care", rain: "care",
  landmark: "sites", phenology: "findings", benefits: "findings",
  import: "records", held: "records", decide: "records",
  survival: "findings", lives: "findings", growth: "findings", wildlife: "findings", cost: "findings", carbon: "findings", findings: "findings", claim: "findings", conclude: "findings", league: "findings", sites: "findings",
  ahead: "ahead", spacing: "ahead", skill: "ahead",
  report: "report",
  rows: "rows", add: "rows", change: "rows", remove: "rows", history: "rows",
  log: "log", undo: "log",
  calc: "calculators", check: "calculators",
};
/** Jobs that stand as plain forms at the end of a page. */
export const further: Partial<Record<PageKey, string[]>> = {
  programme: ["merge", "settle", "features"],
  sites: ["landmark"],
  findings: ["quality", "phenology", "squares"],
};
for (const [page, jobs] of Object.entries(further)) for (const job of jobs) homes[job] ??= page as PageKey;
export const pathOf = (key: PageKey) => (key === "programme" ? "/" : `/${key}`);
