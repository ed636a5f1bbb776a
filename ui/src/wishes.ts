// SPDX-License-Identifier: GPL-3.0-or-later
// Wishes of a mix as a form holds them: taken from a plan that is there, and giving way where the program says what would do.
import type { Note } from "./api";
import type { Filled } from "./forms";

export const ranges = ["canopy", "subcanopy", "shrub", "pioneer"];
const layers: Record<string, string> = { canopy: "canopy", "canopy trees": "canopy", subcanopy: "subcanopy", "small trees": "subcanopy", shrubs: "shrub", shrub: "shrub", pioneers: "pioneer", pioneer: "pioneer" };
const caps: Record<string, string> = { "no species over": "species_most", "no genus over": "genus_most", "no family over": "family_most", "hosts of one pest at most": "pest_most", "tall trees at most": "tall_most" };

/** Settings of a plan as the texts of the form, and what was left out. */
export function wishesOf(settings: Record<string, unknown>): { filled: Filled; out: string[] } {
  const filled: Filled = {}, out: string[] = [];
  for (const [key, value] of Object.entries(settings)) {
    if (value === null || value === undefined || typeof value === "object" || key === "plot" || key === "try") continue;
    if (key === "without") out.push(...String(value).split(";").map((one) => one.trim()).filter(Boolean));
    else if (ranges.includes(key)) {
      const [low = "", high = ""] = String(value).split("-");
      filled[`${key}_low`] = low;
      filled[`${key}_high`] = high;
    } else if (typeof value === "boolean") {
      if (value) filled[key] = "yes";
    } else filled[key] = String(value);
  }
  return { filled, out };
}

/**
 * What would have to give way, from the sentence that names the conflict ("It can be met with: no species over 81 plants (15 % of 540) →
 * raise it to 95 plants (17.6 % of 540)."): the texts that the form would then hold. Null where nothing is offered or not all of it is understood.
 */
export function giveWay(note: Note | null): Filled | null {
  const said = /It can be met with: (.*)\.$/.exec(note?.answer ?? "")?.[1];
  if (!said) return null;
  const filled: Filled = {};
  for (const one of said.split("; ")) {
    const [wish = "", change = ""] = one.split(" → ");
    const share = /\((\d+(?:\.\d+)?) % of \d+\)/.exec(change)?.[1], count = /(\d+)(?: plants?| species)?$/.exec(change)?.[1];
    const layer = /^([a-z ]+?) at (least|most) \d+ plants?/.exec(wish), cap = Object.keys(caps).find((words) => wish.startsWith(words));
    // A share is written with three figures: the next whole tenth upwards (or downwards) is enough for sure.
    const wider = (up: boolean) => String((up ? Math.ceil(Number(share) * 10 + 0.5) : Math.floor(Number(share) * 10 - 0.5)) / 10);
    if (cap && share) filled[caps[cap]!] = wider(true);
    else if (layer && layers[layer[1]!] && share) filled[`${layers[layer[1]!]}_${layer[2] === "least" ? "low" : "high"}`] = wider(layer[2] === "most");
    else if (/^at least \d+ species/.test(wish) && count) filled.count_least = count;
    else if (/^at most \d+ species/.test(wish) && count) filled.count_most = count;
    else if (/^at least \d+ plants of every species/.test(wish) && count) filled.least_each = count;
    else return null;
  }
  return filled;
}
