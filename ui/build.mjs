// SPDX-License-Identifier: GPL-3.0-or-later
// Bundle the workbench into the folder named on the command line.
import { build } from "esbuild";
import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2];
if (!out) {
  console.error("build.mjs OUT");
  process.exit(2);
}
rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
await build({
  entryPoints: { app: join(here, "src/main.tsx"), style: join(here, "src/style.css") },
  outdir: out,
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  jsx: "automatic",
  jsxImportSource: "preact",
  external: ["/fonts/*"],
  legalComments: "linked",
  logLevel: "warning",
});
cpSync(join(here, "public"), out, { recursive: true });
writeFileSync(join(out, "index.html"), readFileSync(join(here, "index.html"), "utf8"));
