// SPDX-License-Identifier: GPL-3.0-or-later
// The pictures of the README, taken in a real browser from a programme: SPINNEY=… node tests/e2e/pictures.mjs FILE.gpkg
// The demonstration is meant (demo/run SPINNEY OUT); look at what comes out before it is kept.
import { spawn } from "node:child_process";
import { copyFileSync, mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "../.."), out = join(root, "docs/pictures");
const { chromium } = createRequire(join(root, "ui/package.json"))("playwright-core");
const folder = mkdtempSync(join(tmpdir(), "spinney-pictures-")), file = join(folder, "programme.gpkg");
copyFileSync(process.argv[2], file);
const server = spawn(process.env.SPINNEY, ["serve", file, "--token", "look"], { stdio: ["ignore", "pipe", "inherit"] });
const address = await new Promise((resolve) => server.stdout.on("data", (bytes) => resolve(/http:\S+/.exec(String(bytes))?.[0])));
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
const page = await (await browser.newContext({ viewport: { width: 1280, height: 800 }, locale: "en-GB" })).newPage();
await page.goto(address);
const at = async (name) => {
  await page.goto(new URL(address).origin + name);
  await page.waitForLoadState("networkidle");
  await page.waitForTimeout(400);
};
await at("/sites");
await page.screenshot({ path: join(out, "sites.png") });
await at("/layout");
await page.screenshot({ path: join(out, "layout.png") });
await at("/findings");
await page.locator("summary", { hasText: "Survival square by square" }).click();
await page.locator(".one-map .canvas").waitFor();
await page.waitForLoadState("networkidle");
await page.waitForTimeout(500);
await page.locator(".years").evaluate((one) => scrollTo(0, one.getBoundingClientRect().top + scrollY - 70));
await page.screenshot({ path: join(out, "squares.png") });
await browser.close();
server.kill("SIGTERM");
rmSync(folder, { recursive: true, force: true });
