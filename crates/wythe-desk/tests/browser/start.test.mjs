// The first page: five questions lead to a first answer; the demonstration is made and stopped.

import assert from "node:assert/strict";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { SHOTS, atEveryWidth, begin } from "./harness.mjs";

let desk, page;
before(async () => {
  desk = await begin({ demo: false });
  page = desk.page;
});
after(() => desk?.end());

atEveryWidth(() => desk, [["start", "/start"]]);

test("without a project every page leads to the beginning", async () => {
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.emulateMedia({ colorScheme: "light" });
  await desk.open("/");
  await page.locator("h1", { hasText: "Which building?" }).waitFor();
});

test("an answer that cannot be used is named, and the others stay", async () => {
  const folder = join(desk.base, "mine");
  await page.locator("#five input[name=quiet]").fill("Nursery");
  await page.locator("#five input[name=width]").fill("wide");
  await page.locator("#five input[name=folder]").fill(folder);
  await page.locator("#five button").click();
  await page.locator(".notice", { hasText: "the width of the loud room" }).waitFor();
  assert.equal(await page.locator("#five input[name=quiet]").inputValue(), "Nursery");
  assert.equal(existsSync(folder), false);
  desk.complaints.length = 0; // A refused form is told to the console by the browser.
});

test("five answers lead to a first answer", async () => {
  const folder = join(desk.base, "mine");
  await desk.open("/start");
  await page.locator("#five select[name=spectrum]").selectOption({ index: 0 });
  await page.locator("#five input[name=level]").fill("100");
  await page.locator("#five input[name=width]").fill("6");
  await page.locator("#five input[name=quiet]").fill("Nursery");
  await page.locator("#five select[name=place]").selectOption("above");
  await page.locator("#five select[name=criterion]").selectOption("NR 25");
  await page.locator("#five input[name=folder]").fill(folder);
  await page.locator("#five button").click();
  await page.waitForURL(/\/house\?room=loud&to=quiet/);
  const text = readFileSync(join(folder, "wythe.toml"), "utf8");
  assert.match(text, /"100 dB Leq"/);
  assert.match(text, /"NR 25"/);
  // A level in the quiet room, and whether it is quiet enough.
  assert.match(await page.locator("h1").innerText(), /^While it is played: [A-Z]/);
  assert.match(await page.locator("#levels-part").innerText(), /Nursery[^]*\d/);
  assert.match(await page.locator("main, aside").allInnerTexts().then((t) => t.join("\n")), /NR 25/);
  await page.screenshot({ path: join(SHOTS, "first-answer-1440-light.png"), fullPage: true });
  assert.deepEqual(await desk.wrong("first answer"), []);
});

test("the demonstration is made with its progress, and a stop leaves nothing behind", { timeout: 120_000 }, async () => {
  const folder = join(desk.base, "shown");
  await desk.open("/start");
  const form = page.locator("form[action='/start/demo']");
  await form.locator("input[name=folder]").fill(folder);
  await form.locator("button").click();
  await page.locator("#making-doing").waitFor();
  await page.waitForFunction(() => document.getElementById("making-share")?.value > 0);
  await page.screenshot({ path: join(SHOTS, "making-1440-light.png"), fullPage: true });
  assert.deepEqual(await desk.wrong("making"), []);
  await page.locator("#making button", { hasText: "Stop" }).click();
  await page.locator(".notice", { hasText: "The demonstration was not made" }).waitFor({ timeout: 60_000 });
  assert.equal(existsSync(folder), false);
  assert.deepEqual(readdirSync(desk.base).filter((n) => n.includes("shown")), []);
  // What was open before is still open.
  await desk.open("/house");
  assert.ok(await page.getByText("Nursery").count());
  await desk.open("/start");
  await page.locator("ul.files button", { hasText: "mine" }).click();
  await page.waitForURL(/\/house$/);
});

test("nothing was complained about in the console", () => {
  assert.deepEqual(desk.complaints, []);
});
