// SPDX-License-Identifier: GPL-3.0-or-later
// Bundle the workbench into the folder named on the command line.
import { build } from "esbuild";
import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2];
if (!out) {
  console.error("build.mjs OUT");
  process.exit(2);
}
rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
const made = await build({
  entryPoints: { app: join(here, "src/main.tsx"), style: join(here, "src/style.css") },
  outdir: out,
  bundle: true,
  minify: true,
  format: "esm",
  // What few pages need comes in a file of its own.
  splitting: true,
  chunkNames: "[name]-[hash]",
  target: "es2022",
  jsx: "automatic",
  jsxImportSource: "preact",
  // Names change with their content, so that a browser may keep them for good.
  entryNames: "[name]-[hash]",
  assetNames: "[name]-[hash]",
  loader: { ".woff2": "file" },
  legalComments: "linked",
  metafile: true,
  logLevel: "warning",
});
cpSync(join(here, "public"), out, { recursive: true });
const nameOf = (end) => Object.keys(made.metafile.outputs).map((path) => basename(path)).find((name) => new RegExp(`^${end.replace(".", "-[A-Z0-9]{8}\\.")}$`).test(name));
let page = readFileSync(join(here, "index.html"), "utf8");
for (const one of ["style.css", "app.js"]) page = page.replace(`/${one}"`, `/${nameOf(one)}"`);
writeFileSync(join(out, "index.html"), page);
