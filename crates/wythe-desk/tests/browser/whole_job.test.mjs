// The whole job on the demonstration, in a real browser, as a person does it.
//
// WYTHE names the program to test; CHROMIUM the browser. Screenshots go to SHOTS; they are looked
// at by people and not compared.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { chromium } from "playwright-core";

const WYTHE = process.env.WYTHE;
const CHROMIUM = process.env.CHROMIUM;
const SHOTS = process.env.SHOTS ?? join(tmpdir(), "wythe-shots");
const AXE = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const PAGES = ["house", "build-ups", "paths", "recordings", "findings", "remedies", "report", "file", "keys"];

let folder, desk, address, browser, context, page;
const complaints = [];

function run(args) {
  return new Promise((done, failed) => {
    const child = spawn(WYTHE, args, { stdio: "inherit" });
    child.on("exit", (code) => (code === 0 ? done() : failed(new Error(`${args} ended with ${code}`))));
  });
}

function startDesk() {
  return new Promise((done, failed) => {
    desk = spawn(WYTHE, ["desk", folder, "--no-browser", "--json"], {
      env: { ...process.env, XDG_CONFIG_HOME: join(folder, "..", "config") },
    });
    let out = "";
    desk.stdout.on("data", (data) => {
      out += data;
      const found = out.match(/"address": "([^"]+)"/);
      if (found) done(found[1]);
    });
    desk.on("exit", (code) => failed(new Error(`the desk ended with ${code}: ${out}`)));
  });
}

/** The program's own project file. */
const project = () => readFileSync(join(folder, "wythe.toml"), "utf8");

/** Waits until the page says it saved, and takes the word away for the next time. */
async function saved() {
  await page.locator("#said", { hasText: "Saved" }).waitFor();
  await page.evaluate(() => (document.getElementById("said").textContent = ""));
}

async function open(path) {
  await page.goto(new URL(path, address).href);
}

before(async () => {
  assert.ok(WYTHE && CHROMIUM, "WYTHE and CHROMIUM have to be named; see test.sh");
  mkdirSync(SHOTS, { recursive: true });
  const base = mkdtempSync(join(tmpdir(), "wythe-desk-"));
  folder = join(base, "ropewalk");
  if (process.env.DEMO) cpSync(process.env.DEMO, folder, { recursive: true });
  else await run(["demo", folder]);
  address = await startDesk();
  browser = await chromium.launch({
    executablePath: CHROMIUM,
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  page = await context.newPage();
  page.on("console", (m) => m.type() === "error" && complaints.push(`${page.url()}: ${m.text()}`));
  page.on("pageerror", (e) => complaints.push(`${page.url()}: ${e}`));
  await page.goto(address);
});

after(async () => {
  await browser?.close();
  desk?.removeAllListeners("exit");
  desk?.kill();
});

test("the first page is the house, and the key is gone from the address", async () => {
  assert.match(page.url(), /\/house$/);
  assert.ok(await page.getByText("Drum hall").count());
});

test("the background work ends, and the pages that show it fill themselves", { timeout: 540_000 }, async () => {
  await open("/findings");
  await page.locator("#found table").first().waitFor({ timeout: 500_000 });
  assert.match(await page.locator("#found").innerText(), /hall door sill/);
});

for (const scheme of ["light", "dark"]) {
  for (const width of [390, 1440]) {
    test(`every page at ${width} px, ${scheme}: no rule of access broken, no sideways scrolling`, { timeout: 240_000 }, async () => {
      await page.setViewportSize({ width, height: 900 });
      await page.emulateMedia({ colorScheme: scheme });
      const wrong = [];
      for (const name of PAGES) {
        await open(`/${name}${name === "paths" ? "?from=percussion&to=bedroom" : name === "recordings" ? "?n=0" : name === "house" ? "?room=drum-hall" : ""}`);
        await page.screenshot({ path: join(SHOTS, `${name}-${width}-${scheme}.png`), fullPage: true });
        const sideways = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (sideways > 0) wrong.push(`${name}: ${sideways} px too wide`);
        // The page allows no script but its own; the rules are put in from outside of it.
        await page.evaluate(readFileSync(AXE, "utf8"));
        const found = await page.evaluate(() => globalThis.axe.run(document, { iframes: false }));
        for (const v of found.violations) wrong.push(`${name}: ${v.id} ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(" | ")}`);
      }
      assert.deepEqual(wrong, []);
    });
  }
}

test("a size is typed, saved, followed by the levels, taken back and done again", async () => {
  await page.setViewportSize({ width: 1440, height: 900 });
  await open("/house?room=bedroom");
  const before = await page.locator("#levels-part").innerText();
  await page.locator("#room-height").fill("3.1");
  await page.locator("#room-height").press("Enter");
  await saved();
  assert.match(project(), /height = "3.1 m"/);
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText !== b, before);
  await page.locator("h1").click();
  await page.keyboard.press("u");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText === b, before);
  assert.doesNotMatch(project(), /3\.1 m/);
  await page.keyboard.press("U");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText !== b, before);
  await page.keyboard.press("u");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText === b, before);
});

test("what cannot be used is said by its field and not saved", async () => {
  await open("/house?room=bedroom");
  const before = project();
  await page.locator("#room-height").fill("tall");
  await page.locator("#room-height").press("Enter");
  await page.locator("#room-height-error", { hasText: /./ }).waitFor();
  assert.equal(project(), before);
  complaints.length = 0; // A refused form is told to the console by the browser.
});

test("a wall is dragged and snaps", async () => {
  await open("/house");
  const wall = page.locator(".wide .handle").nth(1);
  const box = await wall.boundingBox();
  const before = project();
  // Away from its middle, where a door is.
  const [x, y] = [box.x + box.width / 2, box.y + 0.85 * box.height];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x - 14, y, { steps: 4 });
  await page.locator("#said", { hasText: /wall (in|out)wards by/ }).waitFor();
  await page.mouse.up();
  await saved();
  assert.notEqual(project(), before);
  await page.locator("h1").click();
  await page.keyboard.press("u");
  await page.waitForTimeout(500);
  assert.equal(project(), before);
});

test("doors are opened with a key", async () => {
  await open("/house");
  const before = await page.locator("#plans").innerText();
  await page.keyboard.press("2");
  await page.waitForURL(/state=/);
  assert.notEqual(await page.locator("#plans").innerText(), before);
});

test("layers are added, moved and taken out, and the curve follows a slider", async () => {
  await open("/build-ups?id=stud-wall");
  const layers = () => page.locator("ol.layers > li").count();
  assert.equal(await layers(), 3);
  await page.locator("#add-board").click();
  await saved();
  assert.equal(await layers(), 4);
  await page.locator("#layer-3-thickness").fill("9 mm");
  await page.locator("#layer-3-thickness").press("Enter");
  await saved();
  await page.locator("#shift-3-2").click();
  await saved();
  assert.equal(await page.locator("#layer-2-thickness").inputValue(), "9 mm");
  await page.locator("#remove-2-0").click();
  await saved();
  assert.equal(await layers(), 3);
  const slider = page.locator("#layer-1-cavity-slide");
  const curve = () => page.locator("#curve svg").first().innerHTML();
  const before = await curve();
  await slider.focus();
  const times = [];
  for (let i = 0; i < 6; i++) {
    const took = await page.evaluate(() => new Promise((done) => {
      const slider = document.getElementById("layer-1-cavity-slide");
      const begin = performance.now();
      document.addEventListener("wythe-fresh", () => requestAnimationFrame(() => setTimeout(() => done(performance.now() - begin))), { once: true });
      slider.value = String(Number(slider.value) + 5);
      slider.dispatchEvent(new InputEvent("input", { bubbles: true }));
    }));
    times.push(Math.round(took));
  }
  console.log(`from input to painted curve, ms: ${times.join(", ")}`);
  assert.notEqual(await curve(), before);
  assert.doesNotMatch(project(), /cavity = "125 mm"/, "a try is not saved");
  await page.evaluate(() => document.getElementById("layer-1-cavity-slide").dispatchEvent(new Event("change", { bubbles: true })));
  await saved();
  assert.match(project(), /cavity = "125 mm"/);
});

test("two versions stand side by side", async () => {
  await open("/build-ups?id=stud-wall");
  await page.locator("#copy").click();
  await page.locator("#with option[value='stud-wall-2']").waitFor({ state: "attached" });
  await page.locator("#with").selectOption("stud-wall-2");
  await page.waitForURL(/with=stud-wall-2/);
  assert.match(await page.locator("#curve").innerText(), /version 2/);
});

test("a change by another program is shown, and a value changed on both sides is not lost", async () => {
  await open("/house?room=bedroom");
  const path = join(folder, "wythe.toml");
  await page.locator("#room-height").focus();
  // Another value changes: both are kept.
  writeFileSync(path, project().replace('title = "Stair"', 'title = "Back stair"'));
  await page.locator("#outline a", { hasText: "Back stair" }).waitFor();
  // The same value changes.
  const bedroom = project().indexOf('id = "bedroom"');
  const other = project().slice(0, bedroom) + project().slice(bedroom).replace('height = "2.4 m"', 'height = "2.6 m"');
  await page.locator("#room-height").fill("2.5 m");
  writeFileSync(path, other);
  await page.locator("#room-height").press("Enter");
  await page.locator("#room-height-error", { hasText: "2.6 m" }).waitFor();
  assert.equal(project(), other);
  await page.locator("#room-height").press("Enter");
  await saved();
  assert.ok(project().includes('height = "2.5 m"') && project().includes("Back stair"));
  complaints.length = 0;
});

test("what is filled in, tried or typed stays while the project changes underneath", async () => {
  const path = join(folder, "wythe.toml");
  const changed = async (from, to) => {
    writeFileSync(path, project().replace(`title = "${from}"`, `title = "${to}"`));
    await page.locator("#outline a", { hasText: to }).waitFor();
  };
  // A form with several fields, the one filled in before has lost the focus.
  await open("/house?room=bedroom");
  const width = page.locator('#move-room input[type="text"], #move-room input:not([type])').first();
  await width.evaluate((f) => { for (let d = f.closest("details"); d; d = d.parentElement.closest("details")) d.open = true; });
  await width.fill("0.7 m");
  await page.locator("h1").click();
  await changed("Back stair", "Front stair");
  assert.equal(await width.inputValue(), "0.7 m");
  // A slider that is held.
  await open("/build-ups?id=stud-wall");
  const curve = () => page.locator("#curve svg").first().innerHTML();
  const before = await curve();
  await page.evaluate(() => new Promise((done) => {
    document.addEventListener("wythe-fresh", done, { once: true });
    const slider = document.getElementById("layer-1-cavity-slide");
    slider.value = String(Number(slider.value) + 40);
    slider.dispatchEvent(new InputEvent("input", { bubbles: true }));
  }));
  const tried = await curve();
  assert.notEqual(tried, before);
  await changed("Front stair", "Back stair");
  assert.equal(await curve(), tried);
  // Let go without a wish, all is as it was.
  await page.locator("#layer-1-cavity").press("Escape");
  await page.waitForFunction((b) => document.querySelector("#curve svg").innerHTML === b, before);
  // The text of the file: what is not touched follows, what is typed is not lost, nor what the other wrote.
  await open("/file");
  await changed("Back stair", "Front stair");
  await page.waitForFunction(() => document.getElementById("text").value.includes("Front stair"));
  const text = page.locator("#text");
  await text.fill((await text.inputValue()).replace("Front stair", "Third stair"));
  await changed("Front stair", "Back stair");
  assert.match(await text.inputValue(), /Third stair/);
  await page.locator("form.whole button").click();
  await page.locator("form.whole .error", { hasText: "Not saved" }).waitFor();
  assert.match(project(), /Back stair/);
  complaints.length = 0;
});

test("a recording is brought, described, and its stretch typed", { timeout: 120_000 }, async () => {
  await open("/recordings");
  const wave = join(folder, "..", "second visit.wav");
  cpSync(join(folder, "recordings/first-survey.wav"), wave);
  await page.locator("#files").setInputFiles(wave);
  await page.locator("#list", { hasText: "second visit.wav" }).waitFor({ timeout: 60_000 });
  await page.locator("#list form button").click();
  await page.locator("#list a", { hasText: "second visit.wav" }).click({ timeout: 60_000 });
  await page.locator("#mark").evaluate((f) => (f.closest("details").open = true));
  await page.locator('#mark input[name="from"]').fill("0:20");
  await page.locator('#mark input[name="value"]').fill("0:30");
  await page.locator("#mark button").click();
  await page.locator("#s0-from").waitFor();
  const survey = readFileSync(join(folder, "survey.toml"), "utf8");
  assert.match(survey, /second visit\.wav/);
  assert.match(survey, /from = "0:20"/);
});

test("a sum on the frontier is chosen and says what it is spent on", { timeout: 300_000 }, async () => {
  await open("/remedies");
  await page.locator("#plan tbody a").first().waitFor({ timeout: 240_000 });
  await page.locator("#plan tbody a").nth(1).click();
  await page.waitForURL(/point=1/);
  assert.match(await page.locator("tr[aria-current]").innerText(), /\w/);
});

test("the three documents are shown and can be taken along", { timeout: 300_000 }, async () => {
  await open("/report");
  for (const reader of ["Owner", "Builder", "File"]) {
    await page.locator("#choice a", { hasText: reader }).click();
    const inside = page.frameLocator("iframe.document");
    await inside.locator("h1").waitFor({ timeout: 240_000 });
  }
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByText("Download HTML").click()]);
  assert.match(readFileSync(await download.path(), "utf8"), /<!DOCTYPE html>/i);
});

test("by keyboard alone: to a page, to a field, saved, back", async () => {
  await open("/house");
  await page.keyboard.press("g");
  await page.keyboard.press("b");
  await page.waitForURL(/build-ups/);
  await page.keyboard.press("/");
  assert.ok(await page.evaluate(() => document.activeElement.closest("#outline") !== null));
  await page.locator("#layer-0-thickness").focus();
  await page.keyboard.press("Control+a");
  await page.keyboard.type("18 mm");
  await page.keyboard.press("Enter");
  await saved();
  assert.match(project(), /18 mm/);
});

test("a kill while saving loses nothing, and the history is still there", { timeout: 60_000 }, async () => {
  await open("/house?room=bedroom");
  await page.locator("#room-title").fill("Quiet room");
  const sent = page.locator("#room-title").press("Enter").catch(() => {});
  desk.removeAllListeners("exit");
  desk.kill("SIGKILL");
  await sent;
  page.removeAllListeners("console");
  // The file is whole: the program reads it.
  await run(["check", folder]);
  complaints.length = 0;
  await page.goto((address = await startDesk()));
  assert.ok(await page.locator("#undo button:enabled").count());
});

test("nothing was complained about in the console", () => {
  assert.deepEqual(complaints, []);
});
