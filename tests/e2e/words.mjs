// SPDX-License-Identifier: GPL-3.0-or-later
// The catalogues of the workbench: every text, name and word of a list in each language, and no text outside of them.
// SPINNEY is the program; it says which options and fields there are.
import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "../..");
const spinney = process.env.SPINNEY;
if (!spinney || !existsSync(join(root, "ui/node_modules/esbuild"))) {
  console.log(`skip the catalogues: ${spinney ? "the packages of ui/ are not installed" : "SPINNEY does not name the program"}`);
  process.exit(0);
}
let failed = 0;
function check(name, good, why = "") {
  console.log(good ? `ok ${name}` : `FAIL ${name}: ${String(why).slice(0, 700)}`);
  if (!good) failed++;
}
const require = createRequire(join(root, "ui/package.json"));
const folder = mkdtempSync(join(tmpdir(), "spinney-words-"));
async function bundled(file) {
  const out = join(folder, `${file.replace(/\W/g, "_")}.mjs`);
  require("esbuild").buildSync({ entryPoints: [join(root, "ui/src", file)], outfile: out, bundle: true, format: "esm", logLevel: "error" });
  return import(pathToFileURL(out));
}
const { en } = await bundled("words/en.ts"), { fr } = await bundled("words/fr.ts"), nouns = await bundled("nouns.ts");

/** Every text of a catalogue by its path; a function by what it says of some numbers and words. */
function texts(from, at = "", out = new Map()) {
  for (const [key, value] of Object.entries(from)) {
    const path = at ? `${at}.${key}` : key;
    if (path === "fields" || path === "lists") continue;
    if (typeof value === "string") out.set(path, value);
    else if (typeof value === "function") {
      out.set(path, value(...Array.from({ length: value.length }, (_, i) => i + 3)));
      if (value.length > 0) out.set(`${path} of one`, value(...Array.from({ length: value.length }, () => 1)));
    } else texts(value, path, out);
  }
  return out;
}
const english = texts(en), french = texts(fr);
const missing = [...english.keys()].filter((key) => french.get(key) === undefined || /undefined|\[object/.test(french.get(key)));
const extra = [...french.keys()].filter((key) => !english.has(key));
check(`every text of the catalogue has a French text (${english.size})`, english.size > 300 && missing.length === 0 && extra.length === 0, [...missing, ...extra].join(", "));
// Words that are the same in both languages, seen one by one.
const alike = new Set(["name", "tagline", "counts.none", "pages.programme.name", "pages.sites.name", "pages.index.name", "note.figure", "sites.choose", "sites.distances", "layout.plan", "move.plant", "map.site", "map.length", "map.leg", "shape.line", "index.page", "order.budget", "sheetBlock.programme", "counts.sites", "counts.sites of one", "counts.plans", "counts.plans of one", "counts.places", "counts.places of one", "counts.plants", "map.ofSpecies"]);
const same = [...english].filter(([key, text]) => french.get(key) === text && /[a-z]{3}/.test(text) && !alike.has(key) && !alike.has(key.replace(" of one", ""))).map(([key]) => key);
check("no French text is left in English", same.length === 0, same.join(", "));

const jobs = [...spawnSync(spinney, ["--help"], { encoding: "utf8" }).stdout.matchAll(/^ {2}([a-z_]+) {2,}\S/gm)].map((found) => found[1]).filter((name) => name !== "serve");
const options = new Set();
for (const job of jobs) {
  const help = spawnSync(spinney, [job, "--help"], { encoding: "utf8" }).stdout;
  for (const [, name] of help.matchAll(/^ {2}--([a-z][a-z0-9-]*)/gm)) if (!/^(to-pdf|to-html|to-xlsx|json|quiet|author)$/.test(name)) options.add(name.replace(/-/g, "_"));
}
const fields = new Set([...options, ...Object.values(nouns.nounFields).flatMap((all) => all.map((one) => one.name))]);
const unnamed = [...fields].filter((name) => !fr.fields[name]);
check(`every field and option has a French name (${fields.size})`, fields.size > 300 && unnamed.length === 0, unnamed.join(" "));
const words = new Set([...Object.entries(nouns).filter(([name]) => name.endsWith("Words")).flatMap(([, all]) => all), ...Object.keys(nouns.nounFields)]);
const unsaid = [...words].filter((word) => !fr.lists[word]);
check(`every word of a list has a French word (${words.size})`, words.size > 150 && unsaid.length === 0, unsaid.join(" "));

// Text in the sources: between tags, in attributes that are read out, and in labels and helps of fields.
const own = [];
for (const file of readdirSync(join(root, "ui/src"), { recursive: true }).filter((name) => /\.tsx?$/.test(name) && !/words|nouns/.test(name))) {
  const source = readFileSync(join(root, "ui/src", file), "utf8").replace(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, "");
  const found = [
    ...(file.endsWith(".tsx") ? [...source.matchAll(/(?:<[a-z][a-z0-9]*|[">}])>[ \t]*([^<>{}=;()\n]*[A-Za-zÀ-ÿ]{2}[^<>{}=;()\n]*)[ \t]*<\//g)].map((one) => one[1]) : []),
    ...[...source.matchAll(/\b(?:aria-label|title|placeholder|alt|label|help)(?:=|: )"([^"\n]*[A-Za-z]{2}[^"\n]*)"/g)].map((one) => one[1]),
    ...[...source.matchAll(/"([A-Z][a-z]+(?: [a-z]+)+[.!?…]?)"/g)].map((one) => one[1]),
  ];
  for (const text of found) own.push(`${file}: ${text.trim()}`);
}
// Titles by which a page finds a section of a note, and the mark of the map.
const known = /: (N|kind|label|plot|regime|density|What the columns mean|Questions only a person can answer|Checks register|Species and numbers|Open Sans)$/;
const outside = own.filter((one) => !known.test(one));
check("no text of the workbench stands outside of its catalogue", outside.length === 0, outside.join(" | "));
rmSync(folder, { recursive: true, force: true });
process.exit(failed ? 1 : 0);
