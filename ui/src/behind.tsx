// SPDX-License-Identifier: GPL-3.0-or-later
// The way from a number to the rows it was computed from. The address: /rows/NOUN?where=SELECTION, and &and=NOUN:SELECTION for each further set.
import { type ComponentChildren, createContext } from "preact";
import { useContext } from "preact/hooks";
import type { RowsSet } from "./api";
import { go } from "./state";
import { w } from "./words";

/** The sets of rows of the note that is being shown. */
export const SetsOf = createContext<RowsSet[]>([]);

export function rowsAddress(sets: RowsSet[], number: number): string | null {
  const set = sets[number - 1];
  if (!set) return null;
  const parts = (set.of ?? [number]).map((one) => sets[one - 1]).filter((one): one is RowsSet => one?.noun !== undefined);
  const [first, ...more] = parts;
  if (!first) return null;
  const search = new URLSearchParams();
  if (first.where) search.set("where", first.where);
  for (const one of more) search.append("and", `${one.noun}:${one.where ?? ""}`);
  return `/rows/${first.noun}${search.size ? `?${search}` : ""}`;
}

/** What is inside as a link to its rows; as it is where it leads nowhere. */
export function Behind({ set, children, mark }: { set: number | null | undefined; children?: ComponentChildren; mark?: boolean }) {
  const sets = useContext(SetsOf);
  const to = set ? rowsAddress(sets, set) : null;
  if (!set || !to) return <>{children}</>;
  const count = sets[set - 1]?.count ?? null;
  return (
    <a href={to} class={mark ? "behind ends" : "behind"} title={w.note.behind(count)} aria-label={mark ? `${w.note.itsRows}: ${w.note.behind(count)}` : undefined} onClick={(e) => {
      if (e.metaKey || e.ctrlKey || e.shiftKey || e.button !== 0) return;
      e.preventDefault();
      go(to);
    }}>{mark ? w.note.itsRows : children}</a>
  );
}
