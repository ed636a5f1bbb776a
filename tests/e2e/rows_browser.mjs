// SPDX-License-Identifier: GPL-3.0-or-later
// From a number to its rows in a real browser, by keyboard: in the workbench and in the written report. SPINNEY is the program;
// arguments: a programme file with censuses, and its report as HTML.
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "../..");
const chromiumPath = process.env.CHROMIUM ?? "/usr/bin/chromium", spinney = process.env.SPINNEY, [file, report] = process.argv.slice(2);
if (!spinney || !existsSync(chromiumPath) || !existsSync(join(root, "ui/node_modules/playwright-core"))) {
  console.log("skip rows in the browser: the program, chromium or the packages of ui/ are not here");
  process.exit(0);
}
const require = createRequire(join(root, "ui/package.json"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const shots = join(root, "build/screenshots");
mkdirSync(shots, { recursive: true });
let failed = 0;
function check(name, good, why = "") {
  console.log(good ? `ok ${name}` : `FAIL ${name}: ${String(why).replace(/\s+/g, " ").slice(0, 400)}`);
  if (!good) failed++;
}
const server = spawn(spinney, ["serve", file, "--token", "walk"], { stdio: ["ignore", "pipe", "inherit"] });
const address = await new Promise((found) => server.stdout.on("data", (bytes) => /http:\S+/.exec(String(bytes)) && found(/http:\S+/.exec(String(bytes))[0])));
const browser = await chromium.launch({ executablePath: chromiumPath, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking", "--no-first-run"] });
const page = await (await browser.newContext({ viewport: { width: 1280, height: 900 }, locale: "en-GB" })).newPage();
const problems = [];
page.on("pageerror", (error) => problems.push(String(error)));
page.setDefaultTimeout(30000);

await page.goto(address);
await page.locator("main h1").waitFor();
await page.goto(`${new URL(address).origin}/findings`);
const links = page.locator("a.behind");
await links.first().waitFor();
await page.locator("details").evaluateAll((all) => all.forEach((one) => (one.open = true)));
check("the findings have links from numbers to rows", (await links.count()) > 100, await links.count());
check("every such link tells a screen reader what it leads to", (await links.evaluateAll((all) => all.filter((one) => !/row/.test(one.title)).length)) === 0);
/* parts of the page come one after the other, and some begin folded */
const seen = await page
  .waitForFunction(
    () => {
      document.querySelectorAll("details").forEach((one) => (one.open = true));
      return [...document.querySelectorAll('td a.behind[title^="The "][title*=" rows "]:not([title^="The rows"])')].some((one) => / of /.test(one.textContent) && one.getClientRects().length > 0);
    },
    null,
    { timeout: 25000 },
  )
  .catch(() => null);
if (!seen) {
  const why = await page.evaluate(() => { const one = [...document.querySelectorAll('td a.behind[title^="The "][title*=" rows "]:not([title^="The rows"])')].find((e) => / of /.test(e.textContent)); const up = []; for (let e = one; e; e = e.parentElement) up.push(`${e.tagName}.${e.className}${e.hidden ? "[hidden]" : ""}${e.open === false ? "[closed]" : ""}:${getComputedStyle(e).display}`); return up.slice(0, 14).join(" < "); });
  check("a share stands where it can be seen", false, why);
}
const cell = page.locator('td a.behind[title^="The "][title*=" rows "]:not([title^="The rows"])', { hasText: / of / }).filter({ visible: true }).first();
const words = await cell.innerText(), rows = Number(/(\d+) rows/.exec(await cell.getAttribute("title"))?.[1]);
check("a share leads to as many rows as it says", Number(/of (\d+)/.exec(words)?.[1]) === rows, `${words}: ${rows}`);
await page.screenshot({ path: join(shots, "findings-rows.png") });
await cell.focus();
await page.keyboard.press("Enter");
await page.locator("main .selected").waitFor();
await page.waitForFunction(() => /\d+ plant record rows/.test(document.querySelector("main .answer")?.textContent ?? ""));
check("the address names the rows", /^\/rows\/plant_record\?where=/.test(page.url().slice(new URL(page.url()).origin.length)), page.url());
const first = Number(/(\d+) plant record rows/.exec(await page.locator("main .answer").first().innerText())?.[1]);
check("the page shows the first of its sets", first > 0 && first < rows, first);
const other = page.locator("main .selected li a").first();
await other.focus();
await page.keyboard.press("Enter");
await page.waitForFunction((before) => !document.querySelector("main .answer")?.textContent?.startsWith(`${before} `), first);
await page.waitForFunction(() => /\d+ plant record rows/.test(document.querySelector("main .answer")?.textContent ?? ""));
const second = Number(/(\d+) plant record rows/.exec(await page.locator("main .answer").first().innerText())?.[1]);
check("its two sets together are its rows", first + second === rows, `${first} + ${second} of ${rows}`);
const found = await page.evaluate(`${axe}; axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] })`);
check("the page of rows keeps to the rules of accessibility", found.violations.length === 0, found.violations.map((v) => `${v.id} at ${v.nodes.map((n) => n.target).slice(0, 3)}`).join("; "));
await page.screenshot({ path: join(shots, "rows-selected.png") });
await page.setViewportSize({ width: 390, height: 844 });
check("the page of rows fits a phone", await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
await page.screenshot({ path: join(shots, "rows-selected-390.png") });
await page.goBack();
await page.goBack();
await links.first().waitFor();
check("back leads to the findings", new URL(page.url()).pathname === "/findings");

for (const width of [1280, 390]) {
  await page.setViewportSize({ width, height: 900 });
  await page.goto(`file://${resolve(report)}`);
  check(`the report fits ${width} pixels`, await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
}
const number = page.locator("td a.n").first();
const id = await number.getAttribute("id"), set = (await number.getAttribute("href")).slice(1);
await number.focus();
await page.keyboard.press("Enter");
check("a number of the report jumps to its set", await page.evaluate((to) => document.querySelector(":target")?.id === to, set));
await page.locator(`#${set} a[href="#${id}"]`).focus();
await page.keyboard.press("Enter");
check("and its set leads back to it", await page.evaluate((to) => document.querySelector(":target")?.id === to, id));
check("no anchor of the report leads nowhere", (await page.evaluate(() => [...document.querySelectorAll('a[href^="#"]')].filter((one) => !document.getElementById(one.getAttribute("href").slice(1))).length)) === 0);
await page.evaluate(() => document.querySelectorAll("details").forEach((one) => one.remove())); /* the rules would read every row */
const inside = await page.evaluate(`${axe}; axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"] })`);
check("the report keeps to the rules of accessibility", inside.violations.length === 0, inside.violations.map((v) => `${v.id} at ${v.nodes.map((n) => n.target).slice(0, 3)}`).join("; "));
check("nothing went wrong on the way", problems.length === 0, problems.join("; "));
console.log(`# the report is ${(statSync(report).size / 1e6).toFixed(1)} MB`);
await browser.close();
server.kill();
process.exit(failed ? 1 : 0);
