// A desk on a copy of the demonstration, and a browser that looks at it.
//
// WYTHE names the program; CHROMIUM the browser; DEMO a demonstration that is there already.
// Screenshots go to SHOTS; they are looked at by people and not compared.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";

import { chromium } from "playwright-core";

const { WYTHE, CHROMIUM, DEMO } = process.env;
export const SHOTS = process.env.SHOTS ?? join(tmpdir(), "wythe-shots");
const AXE = createRequire(import.meta.url).resolve("axe-core/axe.min.js");

function run(args) {
  return new Promise((done, failed) => {
    const child = spawn(WYTHE, args, { stdio: "inherit" });
    child.on("exit", (code) => (code === 0 ? done() : failed(new Error(`${args} ended with ${code}`))));
  });
}

/**
 * A desk of its own with one page; `end` takes both away.
 * `demo: false` begins with no project, `share` lets phones in at an address of this machine.
 */
export async function begin({ demo = true, share = "" } = {}) {
  assert.ok(WYTHE && CHROMIUM, "WYTHE and CHROMIUM have to be named; see run.sh");
  mkdirSync(SHOTS, { recursive: true });
  const base = mkdtempSync(join(tmpdir(), "wythe-desk-"));
  const folder = join(base, "ropewalk");
  if (demo && DEMO) cpSync(DEMO, folder, { recursive: true });
  else if (demo) await run(["demo", folder]);
  const args = ["desk", ...(demo ? [folder] : []), "--no-browser", "--json", ...(share ? [`--share=${share}`] : [])];
  const desk = spawn(WYTHE, args, { cwd: base, env: { ...process.env, XDG_CONFIG_HOME: join(base, "config") } });
  const { address, phones } = await new Promise((done, failed) => {
    let out = "";
    desk.stdout.on("data", (data) => {
      out += data;
      try {
        done(JSON.parse(out));
      } catch {
        // The rest is still to come.
      }
    });
    desk.on("exit", (code) => failed(new Error(`the desk ended with ${code}: ${out}`)));
  });
  const browser = await chromium.launch({
    executablePath: CHROMIUM,
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000);
  const complaints = [];
  const hear = (page) => {
    page.on("console", (m) => m.type() === "error" && complaints.push(`${page.url()}: ${m.text()}`));
    page.on("pageerror", (e) => complaints.push(`${page.url()}: ${e}`));
  };
  hear(page);
  await page.goto(address);
  return {
    page, base, folder, complaints, address, phones,
    /** The project file and the survey as they stand. */
    project: () => readFileSync(join(folder, "wythe.toml"), "utf8"),
    survey: () => readFileSync(join(folder, "survey.toml"), "utf8"),
    /** A browser of its own, as of another machine. */
    async another(options) {
      const other = await (await browser.newContext(options)).newPage();
      other.setDefaultTimeout(20_000);
      hear(other);
      return other;
    },
    open: (path) => page.goto(new URL(path, address).href),
    /** Waits until the page says it saved, and takes the word away for the next time. */
    async saved() {
      await page.locator("#said", { hasText: "Saved" }).waitFor();
      await page.evaluate(() => (document.getElementById("said").textContent = ""));
    },
    /** What the rules of access find wrong, and whether the page is too wide. */
    async wrong(name, page = this.page) {
      const out = [];
      const sideways = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (sideways > 0) out.push(`${name}: ${sideways} px too wide`);
      // The page allows no script but its own; the rules are put in from outside of it.
      await page.evaluate(readFileSync(AXE, "utf8"));
      const found = await page.evaluate(() => globalThis.axe.run(document, { iframes: false }));
      for (const v of found.violations) out.push(`${name}: ${v.id} ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(" | ")}`);
      return out;
    },
    async end() {
      await browser.close();
      desk.removeAllListeners("exit");
      desk.kill();
    },
  };
}

/** Tests of named pages at every width, light and dark. `begun` gives the desk, once it is there. */
export function atEveryWidth(begun, pages) {
  for (const scheme of ["light", "dark"]) {
    for (const width of [390, 1440, 2560]) {
      test(`at ${width} px, ${scheme}: no rule of access broken, no sideways scrolling`, { timeout: 120_000 }, async () => {
        const desk = begun();
        await desk.page.setViewportSize({ width, height: 900 });
        await desk.page.emulateMedia({ colorScheme: scheme });
        const wrong = [];
        for (const [name, address] of pages) {
          await desk.open(address);
          await desk.page.screenshot({ path: join(SHOTS, `${name}-${width}-${scheme}.png`), fullPage: true });
          wrong.push(...(await desk.wrong(name)));
        }
        assert.deepEqual(wrong, []);
      });
    }
  }
}
