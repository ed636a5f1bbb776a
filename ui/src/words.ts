// SPDX-License-Identifier: GPL-3.0-or-later
// The language of the workbench, and how it writes words, numbers and days. The texts are in words/, a catalogue for each language.
import { type Words, en } from "./words/en";
import { fr } from "./words/fr";

const catalogues: Record<string, Words> = { en, fr };
const languageKey = "spinney.language";

/** Languages there are, each by its own name. */
export const languages: [string, string][] = [["en", "English"], ["fr", "Français"]].filter(([code]) => catalogues[code!]) as [string, string][];
const asked = [localStorage.getItem(languageKey) ?? "", ...navigator.languages.map((one) => one.slice(0, 2))];
export const language = asked.find((one) => catalogues[one]) ?? "en";
/* A text that a catalogue does not have yet is shown in English; a test names it (tests/e2e/words.mjs). */
function filled<T>(from: T, catalogue: T): T {
  if (typeof from !== "object" || from === null) return catalogue ?? from;
  return Object.fromEntries(Object.entries(from).map(([key, text]) => [key, filled(text, (catalogue as Record<string, unknown> | undefined)?.[key])]).concat(Object.entries(catalogue ?? {}).filter(([key]) => !(key in from)))) as T;
}
export const w: Words = language === "en" ? en : filled(en, catalogues[language]!);
document.documentElement.lang = language;

/** The forms of numbers and days: those of the browser where it speaks this language, else those usual for it. */
export const locale = navigator.languages.find((one) => one.slice(0, 2) === language) ?? (language === "en" ? "en-GB" : language);

/** Another language from now on, in this browser. */
export function languageSet(code: string): void {
  localStorage.setItem(languageKey, code);
  location.reload();
}

/** What the program answers is English; screen readers are told where the page is not. */
export const told: { lang?: string } = language === "en" ? {} : { lang: "en" };

const units = /_(m2|m3|m|cm|mm|pct|g_cm3|mg_kg|mg_l|mpa|mm_h|t_m3|kg_t|l_m2|deg|c|m_s|mj_m2|t|kg)$/;

/** The key of an option or field as words: "depth_top_cm" is "depth from". */
export function named(key: string): string {
  return w.fields[key] ?? key.replace(units, "").replace(/_/g, " ");
}

/** With a capital first, as a label begins; "pH" stays as it is. */
export function capital(text: string): string {
  return /^[a-zà-ÿ][A-Z]/.test(text) ? text : text.charAt(0).toUpperCase() + text.slice(1);
}

/** What a job says to the command line, in the words of the forms: "--from-crs" is the field of that name. */
export function worded(text: string): string {
  return text.replace(/(^|[\s(])--([a-z][a-z-]*)/g, (_, before: string, option: string) => `${before}“${named(option.replace(/-/g, "_"))}”`);
}

/** A word of a list as people read it: "existing_tree" is "existing tree". */
export function plain(word: string): string {
  if (w.lists[word] !== undefined) return w.lists[word];
  return /^[a-z0-9]+(_[a-z0-9]+)+$/.test(word) ? word.replace(/_/g, " ") : word;
}

const unitWords: Record<string, string> = { m2: "m²", m3: "m³", degC: "°C", "1/m2": "per m²", "L/m2": "L/m²", "g/cm3": "g/cm³", "t/m3": "t/m³", "MJ/m2": "MJ/m²", deg: "°", M: "m", M2: "m²", PER_M2: "per m²", DEG: "°", "L/M2": "L/m²", "MG/KG": "mg/kg", H: "h", S: "s", POINTS: "points" };
const notUnits = new Set(["CODE", "TEXT", "WORD", "NAME", "N", "DAY", "WKT", "FILE", "WHO", "ID", "X", "A,B", "YEAR", "PRICE", "WEIGHT", "MIN-MAX", "PLOT", "NOUN"]);

/** A unit as shown. The placeholders of the command line are none. */
export function unitShown(unit: string | null | undefined): string {
  if (!unit || notUnits.has(unit) || (unit.length > 5 && !unitWords[unit]) || /[=;]/.test(unit)) return "";
  return unitWords[unit] ?? unit;
}

/** A number with as many digits as it was given, in the form of the place. Numbers that name something (steps, codes) are not grouped. */
export function figure(value: number, digits?: number, group = true): string {
  const grouped = group && Math.abs(value) >= 10000;
  if (digits === undefined || digits < 0) return value.toLocaleString(locale, { maximumSignificantDigits: Number.isInteger(value) ? 21 : 6, useGrouping: grouped });
  return value.toLocaleString(locale, { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: grouped });
}

/** A day as people write it here: "2026-09-14" is "14 Sept 2026". Anything else stays as it is. */
export function day(text: string): string {
  const found = /^(\d{4})-(\d\d)-(\d\d)$/.exec(text);
  if (!found) return text;
  const when = new Date(Number(found[1]), Number(found[2]) - 1, Number(found[3]));
  return Number.isNaN(when.getTime()) ? text : when.toLocaleDateString(locale, { year: "numeric", month: "short", day: "numeric" });
}

/**
 * A number as people type it, with a decimal point or comma and gaps between thousands. NaN where it is none, and where the page is
 * English and "1,234" could as well be a thousand and more as one and a bit.
 */
export function numberRead(text: string): number {
  const bare = text.trim().replace(/\s/g, "").replace("−", "-");
  if (language === "en" && /^-?[1-9]\d{0,2},\d{3}$/.test(bare)) return NaN;
  const point = bare.replace(/^(-?\d+),(\d+)$/, "$1.$2");
  return point === "" || !/^-?(\d+\.?\d*|\.\d+)(e-?\d+)?$/i.test(point) ? NaN : Number(point);
}
