// SPDX-License-Identifier: GPL-3.0-or-later
// How quickly the workbench answers a hand: first useful screen, and each kind of input on a map with 5,000 and 50,000 plants, in a real browser.
// SPINNEY=build/src/cli/spinney node bench/bench_map.mjs [OUT.json]. An input is timed from the event until the frame that shows its effect.
import { spawn, spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { cpus, tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), ".."), spinney = process.env.SPINNEY ?? join(root, "build/src/cli/spinney");
const { chromium } = createRequire(join(root, "ui/package.json"))("playwright-core");
const folder = mkdtempSync(join(tmpdir(), "spinney-bench-"));
const run = (...words) => {
  const done = spawnSync(spinney, words, { encoding: "utf8" });
  if (done.status !== 0) throw new Error(`${words.join(" ")}: ${done.stderr}`);
};
/** A square site with one plot of so many metres along a side, 3 plants on each square metre. */
function programme(name, side) {
  const file = join(folder, `${name}.gpkg`), ring = (from, to) => `POLYGON((${500000 + from} ${5400000 + from},${500000 + to} ${5400000 + from},${500000 + to} ${5400000 + to},${500000 + from} ${5400000 + to},${500000 + from} ${5400000 + from}))`;
  run("new", file, "--name", "Bench woods", "--crs", "EPSG:32629");
  run("site", file, "LK", "--name", "Long Field", "--region", "ireland", "--wkt", ring(0, side + 2));
  run("plot", file, "--code", "D1", "--regime", "dense_prepared", "--density", "3", "--wkt", ring(1, side + 1));
  run("mix", file, "D1", "--ask-too", "--widen");
  run("layout", file, "D1");
  return file;
}
async function serve(file) {
  const server = spawn(spinney, ["serve", file, "--token", "bench"], { stdio: ["ignore", "pipe", "inherit"] });
  return new Promise((resolve) => {
    let text = "";
    server.stdout.on("data", (bytes) => {
      text += bytes;
      const found = /http:\S+/.exec(text)?.[0];
      if (found) resolve({ server, address: found });
    });
  });
}
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)] ?? NaN;
const out = [];
function tell(what, plants, list, unit = "ms") {
  const one = { what, plants, median: Math.round(middle(list)), worst: Math.round(Math.max(...list)), times: list.length, unit };
  out.push(one);
  console.log(`${what.padEnd(52)} ${String(plants).padStart(6)} plants  median ${String(one.median).padStart(5)} ${unit}  worst ${String(one.worst).padStart(5)} ${unit}  (${one.times})`);
}
/** Time from now until two frames were drawn after the act. */
const timed = (page, act) => page.evaluate(async (body) => {
  const begun = performance.now();
  await eval(`(async () => { ${body} })()`);
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - begun;
}, act);

for (const [name, side] of [["five", 41], ["fifty", 129]]) {
  const { server, address } = await serve(programme(name, side)), origin = new URL(address).origin;
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, bypassCSP: true });
  const page = await context.newPage();
  await page.goto(address);
  const plants = await page.evaluate(async () => (await (await fetch("/api/job/map", { method: "POST", headers: { "X-Spinney": "1", "Content-Type": "application/json" }, body: '{"plot":"LK/D1"}' })).json()).data.places.length);
  const first = [], map = [];
  for (let i = 0; i < 5; i++) {
    const begun = Date.now();
    await page.goto(`${origin}/`);
    await page.locator(".answer", { hasText: "Bench woods" }).waitFor();
    first.push(Date.now() - begun);
    const asked = Date.now();
    await page.goto(`${origin}/layout`);
    await page.locator(".key", { hasText: "shrub" }).waitFor();
    map.push(Date.now() - asked);
    await page.waitForLoadState("networkidle");
  }
  tell("first useful screen (programme page, reloaded)", plants, first);
  tell("layout page with every plant on its map", plants, map);
  const box = await page.locator(".canvas").boundingBox(), x = box.x + box.width / 2, y = box.y + box.height / 2;
  const keys = [], toggles = [], typed = [], zooms = [], picks = [];
  for (let i = 0; i < 8; i++) keys.push(await timed(page, `document.querySelector(".canvas").dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft", keyCode: 37, bubbles: true }))`));
  for (let i = 0; i < 8; i++) toggles.push(await timed(page, `document.querySelectorAll(".key input")[5].click()`));
  for (let i = 0; i < 8; i++) picks.push(await timed(page, `{ const s = document.querySelector(".one-species select"); s.selectedIndex = ${1 + i}; s.dispatchEvent(new Event("change", { bubbles: true })); }`));
  await timed(page, `{ const s = document.querySelector(".one-species select"); s.selectedIndex = 0; s.dispatchEvent(new Event("change", { bubbles: true })); }`);
  for (let i = 0; i < 8; i++) zooms.push(await timed(page, `document.querySelectorAll(".tools button")[${i % 2}].click()`));
  // Frames while the map is dragged.
  await page.evaluate(() => {
    window.frames_ = [];
    let last = performance.now();
    const one = () => (window.frames_.push(performance.now() - last), (last = performance.now()), window.stop_ || requestAnimationFrame(one));
    requestAnimationFrame(one);
  });
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 0; i < 60; i++) await page.mouse.move(x + i * 2, y + i);
  await page.mouse.up();
  const frames = await page.evaluate(() => ((window.stop_ = true), window.frames_.slice(2)));
  await page.locator("summary", { hasText: "Lay it out" }).click();
  await page.locator('[name="edge_m"]').waitFor();
  for (let i = 0; i < 8; i++) typed.push(await timed(page, `{ const one = document.querySelector('[name="edge_m"]'); one.value = "0.${i}"; one.dispatchEvent(new Event("input", { bubbles: true })); }`));
  await page.getByRole("button", { name: "Begin to move plants" }).click();
  const nudges = [];
  await page.getByLabel("Plant", { exact: true }).fill("A01-1");
  for (let i = 0; i < 8; i++) nudges.push(await timed(page, `document.querySelector(".canvas").dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight", keyCode: 39, bubbles: true }))`));
  tell("an arrow key moves the map", plants, keys);
  tell("a layer is shown or hidden", plants, toggles);
  tell("one species is shown", plants, picks);
  tell("closer or wider", plants, zooms);
  tell("a frame while the map is dragged", plants, frames);
  tell("a letter in a form beside the map", plants, typed);
  tell("an arrow key moves a plant", plants, nudges);
  await context.close();
  server.kill("SIGTERM");
}
await browser.close();
if (process.argv[2]) writeFileSync(process.argv[2], JSON.stringify({ cpu: cpus()[0].model, cores: cpus().length, figures: out }, null, 1));
rmSync(folder, { recursive: true, force: true });
process.exit(0);
