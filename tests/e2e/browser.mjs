// SPDX-License-Identifier: GPL-3.0-or-later
// The workbench in a real browser: the whole job walked on a fresh programme by its own forms, then every page at three
// widths, by night and on paper. Each page is held against axe's rules, must log no error and ask no other host.
// SPINNEY is the program; screenshots lie in build/screenshots.
import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "../..");
const chromiumPath = process.env.CHROMIUM ?? "/usr/bin/chromium";
const spinney = process.env.SPINNEY;
if (!spinney || !existsSync(chromiumPath) || !existsSync(join(root, "ui/node_modules/playwright-core"))) {
  console.log(`skip the browser: ${!spinney ? "SPINNEY does not name the program" : !existsSync(chromiumPath) ? "chromium is not installed" : "the packages of ui/ are not installed"}`);
  process.exit(0);
}
const require = createRequire(join(root, "ui/package.json"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const folder = mkdtempSync(join(tmpdir(), "spinney-browser-"));
const shots = join(root, "build/screenshots");
mkdirSync(shots, { recursive: true });

const types = spawnSync(process.execPath, [join(root, "ui/node_modules/typescript/bin/tsc"), "--noEmit", "-p", join(root, "ui")], { encoding: "utf8" });
let failed = 0;
function check(name, good, why = "") {
  console.log(good ? `ok ${name}` : `FAIL ${name}: ${String(why).replace(/\s+/g, " ").slice(0, 500)}`);
  if (!good) failed++;
}

check("the types of the workbench agree", types.status === 0, types.stdout + types.stderr);
const servers = [];
/** A server for a programme of that name, and its first address. */
async function serve(file) {
  const server = spawn(spinney, ["serve", join(folder, file), "--token", "walk"], { stdio: ["ignore", "pipe", "inherit"] });
  servers.push(server);
  return new Promise((resolve, reject) => {
    let text = "";
    server.stdout.on("data", (bytes) => {
      text += bytes;
      const found = /http:\S+/.exec(text)?.[0];
      if (found) resolve(found);
    });
    server.on("exit", () => reject(new Error("the server ended")));
  });
}
const address = await serve("wood.gpkg");
let origin = new URL(address).origin;
const own = new Set([origin]);
const browser = await chromium.launch({ executablePath: chromiumPath, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--no-first-run"] });
const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, acceptDownloads: true, locale: "en-GB" });
const page = await context.newPage();
page.setDefaultTimeout(15000);
const problems = [], strangers = [];
// A refused job is told to the page as 4xx, which the browser also writes to its console.
page.on("console", (message) => message.type() === "error" && !/status of 4\d\d/.test(message.text()) && problems.push(`${page.url()} ${message.text()}`));
page.on("pageerror", (error) => problems.push(`${page.url()} ${error}`));
page.on("request", (request) => !own.has(new URL(request.url()).origin) && !/^(data|blob):/.test(request.url()) && strangers.push(request.url()));

const names = ["programme", "sites", "ground", "plots", "mix", "layout", "order", "planting", "records", "ahead", "findings", "report", "first", "log", "rows", "index", "calculators"];
const pathOf = (name) => (name === "programme" ? "/" : `/${name}`);

async function settle() {
  await page.waitForLoadState("networkidle");
  await page.waitForTimeout(120);
}
async function visit(name) {
  await page.goto(origin + pathOf(name));
  await page.locator("main h1").waitFor();
  await settle();
}
async function rules(name) {
  await page.evaluate(() => document.querySelectorAll("details.do").forEach((one) => (one.open = true)));
  await page.waitForTimeout(150);
  await page.waitForLoadState("networkidle");
  const found = await page.evaluate(`${axe}; axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] })`);
  check(`${name} keeps to the rules of accessibility`, found.violations.length === 0, found.violations.map((v) => `${v.id} at ${v.nodes.map((n) => n.target).slice(0, 3).join(", ")} (${v.nodes.length})`).join("; "));
}
/** The thing to do of that title, unfolded. */
async function unfold(title) {
  const box = page.locator("details.do", { has: page.locator("summary", { hasText: title }) }).first();
  await box.waitFor();
  if (!(await box.evaluate((one) => one.open))) await box.locator("summary").first().click();
  return box;
}
async function fill(box, values) {
  for (const [name, value] of Object.entries(values)) {
    const input = box.locator(`[name="${name}"]`).first();
    if (!(await input.isVisible())) await box.locator("details.fold > summary").first().click();
    const kind = await input.evaluate((one) => (one.tagName === "SELECT" ? "select" : one.type));
    if (kind === "select") await input.selectOption(value);
    else if (kind === "checkbox") await input.setChecked(value);
    else await input.fill(String(value));
  }
}
/** Fill and send a form; what it answered. */
async function send(box, values = {}) {
  await fill(box, values);
  await box.locator("button[type=submit]").first().click();
  return answered(box);
}
async function answered(box) {
  const said = box.locator(".done .said, .failure, p.said[role=status]").first();
  await said.waitFor({ timeout: 30000 });
  const text = (await said.innerText()).trim();
  await settle();
  return text;
}
const words = async () => page.locator("main").innerText();
/** Whether the page comes to show these words. */
const shows = async (text) => page.locator("main").getByText(text).first().waitFor({ timeout: 6000 }).then(() => true, () => false);
async function job(name, options) {
  return page.evaluate(async ([name, options]) => {
    const answer = await fetch(`/api/job/${name}`, { method: "POST", headers: { "X-Spinney": "1", "Content-Type": "application/json" }, body: JSON.stringify(options) });
    return answer.json();
  }, [name, options]);
}

async function walkProgramme() {
  await page.goto(address);
  await page.locator("main h1").waitFor();
  await settle();
  check("an empty programme says how to begin", (await words()).includes("There is no programme yet"));
  await rules("the first page");
  await page.screenshot({ path: join(shots, "first.png") });
  await page.locator("button.main").first().click();
  check("what is missing is said beside its field", (await page.locator('[name="name"]').getAttribute("aria-invalid")) === "true");
  await page.locator('.author input').fill("V017");
  await fill(page.locator("main form").first(), { name: "Browser woods", longitude: "-9", latitude: "48,7" });
  await page.locator("button.main").first().click();
  await page.locator("text=has no site yet").first().waitFor();
  check("a programme is made from its name and a place", (await words()).includes("EPSG:32629"));
}

async function walkSites() {
  await page.locator("nav.steps a", { hasText: "Sites" }).click();
  await settle();
  check("going to a page puts the focus on its heading", await page.evaluate(() => document.activeElement?.tagName === "H1"));
  let box = await unfold("Add a site");
  await fill(box, { code: "LK", name: "Lockside Bank", region: "ireland" });
  await box.getByLabel("by coordinates").check();
  const corners = [[500000, 5400000], [500050, 5400000], [500050, 5400032], [500000, 5400030]];
  await box.getByRole("button", { name: "Add a corner" }).click();
  for (const [i, [x, y]] of corners.entries()) {
    await box.getByLabel(`corner ${i + 1}, east`).fill(String(x));
    await box.getByLabel(`corner ${i + 1}, north`).fill(String(y));
  }
  // shoelace by hand: 50 × (32 + 30) / 2
  check("the area of typed corners is exact", (await box.innerText()).includes("1550.0 m²"), await box.innerText());
  await box.locator("button[type=submit]").click();
  await page.locator("text=are left to plant").first().waitFor();
  check("a site comes in by coordinates", (await words()).includes("Of 1550.0 m²"), (await words()).slice(0, 300));
  await settle();

  box = await unfold("Add something to keep away from");
  await fill(box, { kind: "existing_tree", label: "oak", stem_diameter_m: "0,8" });
  await box.getByLabel("draw on the map").check();
  await box.getByLabel("Drawn as").selectOption("point");
  const canvas = page.locator(".map .canvas");
  await canvas.scrollIntoViewIfNeeded();
  const frame = await canvas.boundingBox();
  await page.mouse.click(frame.x + frame.width * 0.42, frame.y + frame.height * 0.45);
  await page.waitForTimeout(200);
  check("a tree is drawn on the map", (await box.innerText()).includes("Measured"), await box.innerText());
  check("the tree is taken in", /1 constraint/.test(await send(box)));
  check("the root protection area is netted off", await shows("12 × 0.8 m stem = 9.6 m"), (await words()).slice(0, 900));

  // Drawing: corners by click, by Enter at the cross, by length and bearing; offset and measuring against plane geometry by hand.
  await box.getByLabel("draw on the map").check();
  await box.getByLabel("Drawn as").selectOption("line");
  await canvas.focus();
  await page.keyboard.press("Enter");
  const leg = async (metres, degrees) => {
    await box.getByLabel("Next corner: metres").fill(metres);
    await box.getByLabel("bearing °").fill(degrees);
    await box.getByRole("button", { name: "Add", exact: true }).click();
  };
  await leg("3", "90");
  await leg("4,5", "0");
  check("legs by length and bearing are exact", (await box.innerText()).includes("7.50 m"), (await box.innerText()).slice(0, 600));
  await box.getByRole("button", { name: "Close it" }).click();
  await box.getByLabel("Make it a strip").fill("2");
  await box.getByRole("button", { name: "Do it" }).click();
  // outer side 4 + 5.5, inner side 2 + 3.5: the strip round one right angle holds 3 × 2 + 4.5 × 2
  check("a line becomes a strip of exact width", (await box.innerText()).includes("15.0 m²"), (await box.innerText()).slice(0, 600));
  await box.getByLabel("Move every side").fill("0.5");
  await box.getByRole("button", { name: "Do it" }).click();
  // length of the outline 4 + 5.5 + 2 + 3.5 + 2 + 2 = 19, five corners out and one in: 15 + 19 × 0.5 + 4 × 0.5²
  check("an outline is moved outwards exactly", (await box.innerText()).includes("25.5 m²"), (await box.innerText()).slice(0, 600));
  await box.getByLabel("Move every side").fill("-3");
  await box.getByRole("button", { name: "Do it" }).click();
  check("an outline that is too narrow says so", (await box.innerText()).includes("too narrow"));
  await box.getByLabel("from a map file").check();
  await page.getByRole("button", { name: "Measure", exact: true }).click();
  await canvas.focus();
  await page.keyboard.press("Enter");
  await page.locator(".measure").getByLabel("Next corner: metres").fill("12,25");
  await page.locator(".measure").getByLabel("bearing °").fill("37");
  await page.locator(".measure").getByRole("button", { name: "Add", exact: true }).click();
  check("measuring tells length and bearing", (await page.locator(".measure .legs").innerText()).includes("12.25 m at 37.0°"), await page.locator(".measure").innerText());
  await rules("measuring");
  await page.getByRole("button", { name: "Measure", exact: true }).click();

  const file = join(folder, "building.geojson");
  writeFileSync(file, JSON.stringify({ type: "FeatureCollection", crs: { type: "name", properties: { name: "EPSG:32629" } }, features: [{ type: "Feature", properties: { kind: "building", label: "ward" }, geometry: { type: "Polygon", coordinates: [[[500055, 5400000], [500065, 5400000], [500065, 5400020], [500055, 5400020], [500055, 5400000]]] } }] }));
  await box.getByLabel("from a map file").check();
  await box.locator('.shape input[type="file"]').setInputFiles(file);
  await fill(box, { kind: "building", label: "ward", stem_diameter_m: "" });
  check("a building comes in from a map file", /1 constraint/.test(await send(box)));
  const undo = box.getByRole("button", { name: "Undo" });
  await undo.click();
  await page.locator("text=Taken back.").first().waitFor();
  await settle();
  await page.waitForFunction(() => ![...document.querySelectorAll("table td")].some((one) => one.textContent.trim() === "ward"), null, { timeout: 5000 }).catch(() => null);
  const left = (await page.locator("table td").allInnerTexts()).filter((text) => text.trim() === "ward");
  check("undo takes it back", left.length === 0, left.join(" "));

  await walkBackdrop();
  box = await unfold("Record an answer");
  const said = await send(box, { topic: "services", state: "clear", asked_of: "operators A to D", asked_on: "2026-11-01", reply: "nothing within 20 m", replied_by: "operators", replied_on: "2026-11-10" });
  check("an answer goes into the register", !/did not|no check/i.test(said), said);
  box = await unfold("Move the site on");
  const gate = await send(box, { to: "ready_to_dig" });
  check("the gate holds while checks are open", gate.includes("cannot be"), gate);
}

/* A picture of one's own: by two known points against plane geometry by hand, and a GeoTIFF where GDAL says it lies. */
async function walkBackdrop() {
  const picture = join(folder, "plan.png");
  const drawn = await page.evaluate(() => {
    const canvas = document.createElement("canvas");
    canvas.width = 100;
    canvas.height = 50;
    const c = canvas.getContext("2d");
    c.fillStyle = "#7a9";
    c.fillRect(0, 0, 100, 50);
    return canvas.toDataURL("image/png").split(",")[1];
  });
  writeFileSync(picture, Buffer.from(drawn, "base64"));
  const box = await unfold("A picture of your own");
  await box.locator('input[type="file"]').setInputFiles(picture);
  await box.locator('[name="column_0"]').waitFor();
  await fill(box, { column_0: "10", row_0: "10", east_0: "500010", north_0: "5400040", column_1: "90", row_1: "10", east_1: "500026", north_1: "5400040", source: "own drawing" });
  check("two known points give the size of a pixel", (await box.innerText()).includes("0.200 m"), (await box.innerText()).slice(0, 500));
  await box.getByRole("button", { name: "Lay it beneath the map" }).click();
  await box.locator("p.said[role=status], .failure").first().waitFor();
  // 16 m over 80 columns; the upper left pixel lies ten columns west and ten rows north of the first point
  let lies = (await job("map", {})).data.backdrops[0]?.place ?? [];
  check("a picture lies where two points put it", [0.2, 0, 0, -0.2, 500008, 5400042].every((one, i) => Math.abs(lies[i] - one) < 1e-6), lies.join(" "));
  await page.locator(".key", { hasText: "picture beneath" }).waitFor();
  await rules("a picture beneath the map");
  await box.getByRole("button", { name: "Undo" }).click();
  await box.locator("text=Taken back.").waitFor();
  check("a picture is taken back", (await job("map", {})).data.backdrops.length === 0);
  const tiff = join(folder, "air.tif");
  const made = spawnSync("gdal_translate", ["-q", "-of", "GTiff", "-a_srs", "EPSG:32629", "-a_ullr", "500000", "5400040", "500050", "5400015", "-co", "COMPRESS=DEFLATE", picture, tiff]);
  if (made.status !== 0) return console.log("skip a GeoTIFF: gdal_translate is not installed");
  await box.locator('input[type="file"]').setInputFiles(tiff);
  await box.locator("text=The file says where it lies").waitFor();
  await box.getByRole("button", { name: "Lay it beneath the map" }).click();
  await box.locator("p.said[role=status], .failure").first().waitFor();
  lies = (await job("map", {})).data.backdrops[0]?.place ?? [];
  check("a GeoTIFF lies where GDAL put it", [0.5, 0, 0, -0.5, 500000.25, 5400039.75].every((one, i) => Math.abs(lies[i] - one) < 1e-6), lies.join(" "));
}

async function walkGround() {
  await visit("ground");
  check("the empty page teaches", (await words()).includes("Dig one pit"));
  const layers = [
    { composite: "P1", depth_top_cm: "0", depth_bottom_cm: "30", sand_pct: "40", silt_pct: "40", clay_pct: "20", bulk_density_g_cm3: "1,35", ph: "6.4", ph_method: "water", soc_pct: "2.1" },
    { composite: "P1", depth_top_cm: "30", depth_bottom_cm: "60", sand_pct: "35", silt_pct: "35", clay_pct: "30", bulk_density_g_cm3: "1.82", penetration_mpa: "3.4", near_field_capacity: "yes" },
  ];
  for (const layer of layers) {
    const box = await unfold("Add a layer of soil");
    check(`a layer from ${layer.depth_top_cm} cm is added`, (await send(box, layer)).includes("added"));
    await visit("ground");
  }
  check("the limiting factor is said", (await page.locator(".answer").first().innerText()).includes("compacted 30–60 cm"));
}

async function walkPlots() {
  await visit("plots");
  const box = await unfold("Split a site by lot");
  const said = await send(box, { buffer_m: "5", area_m2: "100", witness: "V002" });
  await visit("plots");
  check("a site is split by lot", (await words()).includes("LK/D1") && (await words()).includes("LK/C1"), said);
  check("the difference table says what cannot be told", (await words()).includes("Difference table"));
  await visit("ground");
  const instant = page.locator(".instant");
  await instant.locator('[name="loosened_depth_m"]').fill("0.8");
  await page.locator("text=104.0 m³ loose soil").first().waitFor(); // 100 m² × 0.8 m × 1.3
  check("quantities follow as one types", true);
  await instant.getByRole("button", { name: "Keep this recipe" }).click();
  check("the recipe is kept", (await answered(instant)).includes("stored"));
  await visit("plots");
  const protocol = await unfold("Write or lock the protocol");
  const locked = await send(protocol, { primary_outcome: "alive in the third autumn", established: "alive, over 60 cm", lock: true });
  check("the protocol is locked", /locked/i.test(locked), locked);
}

async function walkPlan() {
  await visit("mix");
  const wishes = page.locator(".wishes");
  await wishes.locator('[name="species_most"]').fill("3");
  await page.locator(".answer", { hasText: "cannot be met" }).waitFor();
  check("wishes that cannot be met are named", await page.getByRole("button", { name: "Keep this mix" }).isDisabled());
  await page.getByRole("button", { name: "Let these wishes give way" }).click();
  await page.locator(".answer", { hasText: /\d+ plants of \d+ species/ }).waitFor();
  check("wishes give way as far as they must at a press", Number(await wishes.locator('[name="species_most"]').inputValue()) > 3, await page.locator(".answer").first().innerText());
  await wishes.locator('[name="species_most"]').fill("20");
  await wishes.locator("fieldset.range", { hasText: "Pioneers" }).locator("input").first().fill("5");
  await wishes.locator("fieldset.range", { hasText: "Pioneers" }).locator("input").last().fill("60");
  await page.locator(".answer", { hasText: "300 plants of" }).first().waitFor();
  check("a mix is solved as wishes change", true);
  const out = page.getByRole("button", { name: /^leave out / }).first();
  const species = (await out.getAttribute("aria-label")).replace("leave out ", "");
  await out.click();
  await page.waitForFunction((name) => ![...document.querySelector(".body table").querySelectorAll("td:first-child")].some((td) => td.textContent === name), species);
  check("a species that is left out is gone from the mix solved again", true);
  await page.getByRole("button", { name: "Keep this mix" }).click();
  await page.locator(".wishes [role=status]").waitFor();
  check("the mix is kept as plan 1", (await page.locator(".wishes [role=status]").innerText()).includes("Plan 1"));
  await visit("layout");
  let box = await unfold("Lay it out");
  await send(box);
  await page.locator("text=stand at least").first().waitFor();
  await settle();
  check("each plant has a place", (await page.locator(".answer").first().innerText()).includes("300 plants of LK/D1"));
  await walkMoves();
  box = await unfold("Cards for each square");
  await send(box);
  const link = await box.locator(".files a").first().getAttribute("href");
  const head = await page.evaluate(async (href) => {
    const bytes = new Uint8Array(await (await fetch(href)).arrayBuffer());
    return [String.fromCharCode(...bytes.slice(0, 5)), bytes.length];
  }, link);
  check("the cards are a PDF", head[0] === "%PDF-" && head[1] > 5000, head);
  await job("mix", { plot: "LK/C1", like: "LK/D1" });
  await job("layout", { plot: "LK/C1" });
  await visit("order");
  check("the budget stands first", (await page.locator(".answer").first().innerText()).includes("to establish"));
  const list = page.locator("main form").first();
  check("the order list is made", (await send(list, { planting_on: "2027-02-10" })).length > 10);
}

/* A plant is dragged and nudged; the moves are one step that is judged and can be taken back. */
async function walkMoves() {
  const panel = page.locator(".moving");
  await panel.getByRole("button", { name: "Begin to move plants" }).click();
  const canvas = page.locator(".map .canvas");
  await panel.getByLabel("Plant", { exact: true }).fill("A01-1");
  await panel.locator("text=the nearest other plant").waitFor();
  await canvas.focus();
  for (let i = 0; i < 3; i++) await page.keyboard.press("ArrowRight");
  check("arrow keys move a plant by 5 cm", (await panel.innerText()).includes("moved by 0.15 m"), await panel.innerText());
  const frame = await canvas.boundingBox();
  await page.mouse.move(frame.x + frame.width / 2, frame.y + frame.height / 2);
  await page.mouse.down();
  await page.mouse.move(frame.x + frame.width / 2 + 6, frame.y + frame.height / 2 + 4, { steps: 4 });
  await page.mouse.up();
  check("a plant is dragged on the map", await panel.getByRole("button", { name: "Store 2 moves" }).isVisible(), await panel.innerText());
  await rules("moving plants");
  await panel.getByLabel("Why it is changed").fill("a root was there");
  await panel.getByRole("button", { name: "Store 2 moves" }).click();
  await panel.locator("p.said[role=status], .failure").first().waitFor();
  check("moves are stored as one step", (await panel.innerText()).includes("2 plants of plan 1 moved"), await panel.innerText());
  await settle();
  await panel.getByRole("button", { name: "Undo" }).click();
  await panel.locator("text=Taken back.").waitFor();
  await settle();
}

async function walkRecords() {
  await visit("planting");
  const box = await unfold("Enter a plot as planted");
  check("a plot is entered as planted", (await send(box, { on: "2024-02-10" })).includes("300 plants"));
  const plants = (await job("rows", { noun: "plant", most: 2000 })).data.rows;
  const lines = ["tag;state;height (cm);date"];
  // a slip of two places in a species with many others to hold it against
  const often = plants.map((one) => one.species).sort((a, b) => plants.filter((one) => one.species === b).length - plants.filter((one) => one.species === a).length)[0];
  const slip = plants.findIndex((one, i) => one.species === often && i % 9 !== 4);
  plants.forEach((one, i) => lines.push(`${one.tag};${i % 9 === 4 ? "dead" : "alive"};${i % 9 === 4 ? "" : i === slip ? 4100 : 40 + (i % 11)};14/09/2024`));
  writeFileSync(join(folder, "census.csv"), lines.join("\n"));
  await visit("records");
  check("the empty page of records teaches", (await words()).includes("nothing is stored until you say so"));
  const wizard = page.locator(".wizard");
  await wizard.locator('input[type="file"]').setInputFiles(join(folder, "census.csv"));
  await wizard.getByRole("button", { name: "Read it" }).click();
  await wizard.locator("text=What its columns mean").waitFor();
  check("the columns are understood and can be changed", (await wizard.locator("select[aria-label^='height']").inputValue()) === "height_cm");
  check("nothing is stored by reading", Number((await job("look", {})).data.counts.plant_record) === 0);
  await page.screenshot({ path: join(shots, "import.png"), fullPage: true });
  await wizard.getByRole("button", { name: "Take the clear rows" }).click();
  await page.locator(".waiting h2").waitFor();
  await settle();
  const held = (await job("held", {})).data.rows;
  check("the doubtful row is held", held.length >= 1 && held.some((one) => one.raw.includes("4100")), JSON.stringify(held).slice(0, 200));
  await rules("records with held rows");
  await page.getByLabel("choose all").check();
  await page.getByLabel("reject", { exact: true }).check();
  await page.locator(".decision button[type=submit]").click();
  check("a decision asks for its reason", (await page.locator(".decision .wrong").innerText()).includes("why"));
  await page.getByLabel("correct a field").check();
  await page.locator('.decision [name="field"]').selectOption("height_cm");
  await page.locator('.decision [name="value"]').fill("41");
  await page.locator('.decision [name="reason"]').fill("one place slipped, seen on the sheet");
  await page.locator(".decision button[type=submit]").click();
  await page.locator("text=corrected").first().waitFor();
  await settle();
  check("no row waits any more", (await job("held", {})).data.count === 0);
}

async function walkEvidence() {
  await visit("findings");
  const squares = await unfold("Survival square by square");
  await squares.locator(".years + .said").waitFor();
  const [, alive, of] = /(\d+) of (\d+) plants of the first planting/.exec(await squares.locator(".years + .said").innerText()) ?? [];
  const plot = await squares.locator("select").first().inputValue();
  const told = JSON.stringify(await job("survival", {}));
  check("survival by square adds up to the survival of the plot", told.includes(`${alive} of ${of}`), `${plot}: ${alive} of ${of}`);
  await rules("survival by square");
  const box = await unfold("May this sentence be written");
  const said = await send(box, { words: "The dense forest grew three times faster because of density" });
  check("a claim that says too much is refused", said.includes("more than the data carry"), said);
  await visit("report");
  const form = page.locator("main form").first();
  if (await form.count()) {
    await send(form);
    check("the report is written", (await page.locator(".files a").count()) >= 1);
  } else console.log("skip the report: this program has no such job");
  await visit("log");
  const back = page.getByRole("button", { name: /^Take back step/ }).first();
  await back.click();
  await page.locator(".done .said").first().waitFor();
  await settle();
  check("the log takes a step back and shows it", (await words()).includes("taken back by step"));
  await visit("calculators");
  await page.locator('[name="find"]').fill("wilson");
  await page.getByRole("button", { name: "Open wilson", exact: true }).click();
  const calculator = page.locator(".calculator");
  await calculator.locator('[name="x"]').fill("81");
  await calculator.locator('[name="n"]').fill("263");
  await calculator.locator("button[type=submit]").click();
  await calculator.locator(".done table").first().waitFor();
  // Newcombe 1998, Stat Med 17:857, table I: 81 of 263 by the score method, 0.2553 to 0.3662
  const figures = (await calculator.locator(".done td.number").allInnerTexts()).map((text) => Number(text).toFixed(4));
  check("a calculator agrees with its published example", figures.includes("0.2553") && figures.includes("0.3662"), figures.join(" "));
}

async function looks() {
  for (const [width, height] of [[1280, 900], [390, 844], [360, 740]]) {
    await page.setViewportSize({ width, height });
    for (const name of width === 360 ? ["programme", "sites", "mix", "layout", "records", "findings", "calculators"] : names) {
      await visit(name);
      await page.screenshot({ path: join(shots, `${name}-${width}.png`) });
      const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      check(`${name} at ${width} px does not run over`, over <= 0, `${over} px`);
      if (width !== 360) await rules(`${name} at ${width} px`);
    }
  }
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ colorScheme: "dark" });
  for (const name of names) {
    await visit(name);
    if (["sites", "mix", "findings", "layout"].includes(name)) await page.screenshot({ path: join(shots, `${name}-night.png`) });
    await rules(`${name} by night`);
  }
  await page.emulateMedia({ colorScheme: "light" });
  for (const name of ["sites", "findings"]) {
    await visit(name);
    const pdf = await page.pdf({ path: join(shots, `${name}-print.pdf`), preferCSSPageSize: true });
    check(`${name} prints`, pdf.length > 20000, pdf.length);
  }
}

/* One page leads from nothing to a plan: only the fields it shows first are filled. */
async function walkFirst() {
  const before = origin, begun = Date.now();
  const first = await serve("first.gpkg");
  origin = new URL(first).origin;
  own.add(origin);
  await page.goto(first);
  await page.getByRole("link", { name: "Walk to a first plan" }).click();
  const part = (key) => page.locator(`[data-part="${key}"]`);
  /* Fill a step when it is its turn; it closes when it is done, or says why it is not. */
  const step = async (key, values) => {
    await part(key).locator("details[open]").waitFor();
    if (!values) return part(key);
    await fill(part(key), values);
    await part(key).locator("button[type=submit]").first().click();
    const said = part(key).locator(".done .said, .failure").first();
    await page.waitForFunction((name) => {
      const one = document.querySelector(`[data-part="${name}"]`);
      return one.classList.contains("done") || one.querySelector(".done .said, .failure");
    }, key, { timeout: 30000 });
    await settle();
    return (await said.count()) ? said.textContent() : "";
  };
  await fill(await step("programme"), { name: "First woods", longitude: "-9", latitude: "48.7" });
  await page.locator('[data-part="programme"] button[type=submit]').click();
  const site = await step("site");
  await fill(site, { code: "AB", name: "Abbey Field", region: "ireland" });
  await site.getByLabel("pasted text").check();
  await site.locator("textarea").fill("POLYGON((500000 5400000, 500060 5400000, 500060 5400040, 500000 5400040, 500000 5400000))");
  await site.locator("button[type=submit]").click();
  await (await step("keep")).getByRole("button", { name: "Leave this for later" }).click();
  await step("ask", { asked_of: "operators A to D", asked_on: "2026-11-01" });
  await rules("the first plan half way");
  await step("ground", { texture: "loam", ph: "6.5" });
  await step("plots", { area_m2: "100", buffer_m: "8", witness: "V001" });
  let said = await step("mix", {});
  if (!(await part("mix").evaluate((one) => one.classList.contains("done")))) said = await step("mix", { ask_too: true, widen: true });
  check("the first plan has a mix", await part("mix").evaluate((one) => one.classList.contains("done")), said);
  await step("layout", {});
  await page.locator(".answer", { hasText: "The plan is there" }).waitFor();
  const print = await step("print");
  await print.locator("button[type=submit]").first().click();
  await print.locator(".files a").first().waitFor({ timeout: 30000 });
  check("one page leads from nothing to a printed plan", true);
  if (process.env.TIMES) console.error(`first plan ${Math.round((Date.now() - begun) / 1000)} s`);
  await page.screenshot({ path: join(shots, "first-plan.png") });
  origin = before;
}

/* Every job that the command line names can be started here, with each of its choices; most have a page of their own. */
async function everyJob() {
  const help = spawnSync(spinney, ["--help"], { encoding: "utf8" }).stdout;
  const named = [...help.matchAll(/^ {2}([a-z_]+) {2,}\S/gm)].map((found) => found[1]).filter((name) => name !== "serve");
  await visit("index");
  const listed = await page.locator("main tbody th").allInnerTexts();
  check("the index lists every job of the command line", named.length > 40 && named.every((name) => listed.includes(name)), named.filter((name) => !listed.includes(name)).join(" "));
  const offered = (await page.evaluate(async () => (await fetch("/api/jobs")).json())).jobs;
  const lost = [];
  for (const name of named) {
    await page.evaluate((to) => (history.pushState(null, "", to), dispatchEvent(new PopStateEvent("popstate"))), `/index/${name}`);
    const form = page.locator(`form[data-job="${name}"]`).first();
    if (!(await form.waitFor({ timeout: 5000 }).then(() => true, () => false))) lost.push(name);
    else {
      const has = await form.evaluate((one) => [...one.querySelectorAll("[name]")].map((field) => field.getAttribute("name")));
      const wanted = offered.find((job) => job.name === name).options.map((one) => one.name).filter((one) => !["map", "wkt"].includes(one) || !["site", "plot", "constraint"].includes(name));
      const missing = wanted.filter((one) => !has.includes(one));
      if (missing.length || !(await form.locator("button[type=submit]").count())) lost.push(`${name} without ${missing.join(", ")}`);
    }
  }
  check("every job can be started from a page, with all its choices", lost.length === 0, lost.join("; "));
  const go = await page.locator("main tbody a").evaluateAll((all) => all.map((one) => one.getAttribute("href")).filter((to) => !to.startsWith("/index")));
  const dead = [];
  for (const to of new Set(go)) {
    await page.goto(origin + to);
    if (!(await page.locator("main h1").waitFor({ timeout: 5000 }).then(() => true, () => false))) dead.push(to);
  }
  check("the pages the index names are there", dead.length === 0 && go.length > 30, dead.join(" "));
}

/* Any row can be changed with a reason, seen with all it has been, and put back. */
async function walkRows() {
  await page.goto(`${origin}/rows/site`);
  await page.getByRole("button", { name: "Change 1", exact: true }).click();
  const form = page.locator('form[data-job="change"]');
  const said = await send(form, { owner: "the parish", why: "the deed was seen" });
  check("a row is changed with its reason", /owner/.test(said) || /changed/.test(said), said);
  await page.getByRole("button", { name: "History 1", exact: true }).click();
  check("its history names the reason", await shows("the deed was seen"));
  await form.getByRole("button", { name: "Undo" }).click();
  await page.locator("text=Taken back.").first().waitFor();
  check("the change is taken back", (await job("rows", { noun: "site" })).data.rows[0].owner === null);
}

/* What the program sends is packed where the browser takes that, kept where its name changes with its content, and not sent twice. */
async function sending() {
  const answers = await page.evaluate(async () => {
    const script = document.querySelector("script[src]").getAttribute("src");
    const first = await fetch(script, { cache: "no-store" }), home = await fetch("/", { cache: "no-store" });
    const again = await fetch("/", { cache: "no-store", headers: { "If-None-Match": home.headers.get("etag") } });
    return { coding: first.headers.get("content-encoding"), keep: first.headers.get("cache-control"), text: (await first.text()).length, home: home.headers.get("cache-control"), again: again.status };
  });
  check("the workbench is sent packed", answers.coding === "gzip" && answers.text > 100000, JSON.stringify(answers));
  check("what is named by its content is kept for good", /immutable/.test(answers.keep) && /no-cache/.test(answers.home), JSON.stringify(answers));
  check("what has not changed is not sent again", answers.again === 304, JSON.stringify(answers));
}

/* Every page in French, by day and by night: nothing of the workbench's own is left in English, and what the program says is marked as English. */
async function inFrench() {
  const out = join(folder, "words.mjs");
  require("esbuild").buildSync({ stdin: { contents: 'export { en } from "./en"; export { fr } from "./fr";', resolveDir: join(root, "ui/src/words"), loader: "ts" }, outfile: out, bundle: true, format: "esm", logLevel: "error" });
  const { en, fr } = await import(pathToFileURL(out));
  const only = new Set();
  const gather = (a, b) => Object.entries(a).forEach(([key, text]) => (typeof text === "string" ? text !== b[key] && text.length > 3 && only.add(text) : typeof text === "object" && gather(text, b[key] ?? {})));
  gather(en, fr);
  await page.evaluate(() => localStorage.setItem("spinney.language", "fr"));
  for (const scheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: scheme });
    for (const name of names) {
      await visit(name);
      await rules(`${name} in French${scheme === "dark" ? " by night" : ""}`);
      if (scheme === "dark") continue;
      if (["programme", "mix", "findings"].includes(name)) await page.screenshot({ path: join(shots, `${name}-fr.png`) });
      const left = await page.evaluate((words) => {
        const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        for (let one = walk.nextNode(); one; one = walk.nextNode()) if (words.includes(one.textContent.trim()) && one.parentElement.closest("[lang]").lang === "fr") found.push(one.textContent.trim());
        return found;
      }, [...only]);
      check(`${name} in French has no English of its own`, left.length === 0, left.join(" | "));
    }
  }
  await page.emulateMedia({ colorScheme: "light" });
  await visit("layout");
  check("the program's answers are marked as English", (await page.locator("p.answer").getAttribute("lang")) === "en");
  check("numbers have the French form", /\d,\d/.test((await page.locator(".body table td.number").allInnerTexts()).join(" ")));
  await page.evaluate(() => localStorage.removeItem("spinney.language"));
}

async function keyboard() {
  await visit("programme");
  await page.keyboard.press("Tab");
  check("the first stop of the keyboard leads to the page", (await page.evaluate(() => document.activeElement?.textContent)) === "Go to the page");
  for (let i = 0; i < 30 && (await page.evaluate(() => document.activeElement?.getAttribute("href"))) !== "/plots"; i++) await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await settle();
  check("pages are reached by keyboard", page.url().endsWith("/plots"));
}

const begun = Date.now();
try {
  for (const part of [walkProgramme, walkSites, walkGround, walkPlots, walkPlan, walkRecords, walkEvidence, everyJob, walkRows, walkFirst, sending, keyboard, looks, inFrench].filter((part) => !process.env.ONLY || process.env.ONLY.split(",").includes(part.name))) await part();
} catch (error) {
  await page.screenshot({ path: join(shots, "stopped.png"), fullPage: true }).catch(() => null);
  check("the walk goes to its end", false, `${error.stack}`);
}
check("nothing was logged as an error", problems.length === 0, problems.slice(0, 4).join(" | "));
check("nothing was asked of another host", strangers.length === 0, strangers.slice(0, 4).join(" | "));
if (process.env.TIMES) console.error(`${Math.round((Date.now() - begun) / 1000)} s`);
await browser.close();
for (const server of servers) {
  server.removeAllListeners("exit");
  server.kill("SIGTERM");
}
rmSync(folder, { recursive: true, force: true });
process.exit(failed ? 1 : 0);
