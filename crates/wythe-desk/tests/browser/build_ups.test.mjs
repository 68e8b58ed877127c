// Build-ups: data sheets, order by keyboard, versions, unknowns, and what a slider saves.

import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { SHOTS, atEveryWidth, begin } from "./harness.mjs";

let desk, page;
before(async () => {
  desk = await begin();
  page = desk.page;
});
after(() => desk?.end());

test("what a slider shows is what is saved", async () => {
  await desk.open("/build-ups?id=hung-ceiling");
  const levels = () => page.locator("#figures").innerText();
  const before = await levels();
  const moved = await page.evaluate(() => new Promise((done) => {
    const slider = document.getElementById("layer-1-cavity-slide");
    document.addEventListener("wythe-fresh", () => done(document.getElementById("figures").innerText), { once: true });
    slider.value = "300";
    slider.dispatchEvent(new InputEvent("input", { bubbles: true }));
  }));
  assert.notEqual(moved, before);
  assert.match(desk.project(), /cavity = "260 mm"/, "a try is not saved");
  await page.evaluate(() => document.getElementById("layer-1-cavity-slide").dispatchEvent(new Event("change", { bubbles: true })));
  await desk.saved();
  assert.match(desk.project(), /cavity = "300 mm"/);
  assert.equal(await levels(), moved, "the full calculation says the same");
});

test("a layer keeps the focus while it is put in order by keyboard", async () => {
  await desk.open("/build-ups?id=heavy-door");
  await page.locator("#layer-2-thickness").focus();
  await page.keyboard.press("Alt+ArrowUp");
  await desk.saved();
  await page.waitForFunction(() => document.activeElement?.id === "layer-1-thickness");
  assert.equal(await page.locator("#layer-1-thickness").inputValue(), "44 mm");
  await page.keyboard.press("Alt+ArrowDown");
  await desk.saved();
  await page.waitForFunction(() => document.activeElement?.id === "layer-2-thickness");
  assert.equal(await page.locator("#layer-2-thickness").inputValue(), "44 mm");
});

test("a data sheet is pasted from a spreadsheet with decimal commas, mended by the cell, saved and taken out", async () => {
  await desk.open("/build-ups?id=stud-wall");
  await page.locator("#sheet summary").first().click();
  await page.locator("#r-125").focus();
  const paste = (text) => page.evaluate((text) => {
    const data = new DataTransfer();
    data.setData("text/plain", text);
    document.activeElement.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
  }, text);
  await paste("Frequenz\tR\r\n100\t28,5\r\n125\t31,0\r\n160\tviel\r\n200\t37,5\r\n250\t41\r\n315\t44\r\n400\t47\r\n500\t49\r\n630\t51\r\n800\t53\r\n1k\t54\r\n1,25 kHz\t55\r\n1600\t55\r\n2000\t53\r\n2500\t50\r\n3150\t51\r\n");
  await page.locator("#r-160-error", { hasText: "viel" }).waitFor();
  assert.equal(await page.locator("#r-1250").inputValue(), "55");
  assert.equal(await page.locator("#r-160").getAttribute("aria-invalid"), "true");
  await page.screenshot({ path: join(SHOTS, "sheet-1440-light.png"), fullPage: true });
  await page.locator("#r-160").fill("3,5,5");
  await page.getByRole("button", { name: "Save the table" }).click();
  await page.locator("#r-160-error", { hasText: "figures" }).waitFor();
  assert.doesNotMatch(desk.project(), /table =/);
  await page.locator("#r-160").fill("34,5");
  await page.getByRole("button", { name: "Save the table" }).click();
  await desk.saved();
  assert.match(desk.project(), /table = \{ unit = "dB", "100" = 28.5, "125" = 31, "160" = 34.5,/);
  // By hand from the reference curve of ISO 717-1: 25.5 dB unfavourable at 50, 37.5 at 51.
  await page.locator("#title", { hasText: "Rw 50 dB" }).waitFor();
  await page.locator("#sheet-remove").click();
  await desk.saved();
  assert.doesNotMatch(desk.project(), /table =/);
  desk.complaints.length = 0; // A refused form is told to the console by the browser.
});

test("a build-up is made from a data sheet alone", async () => {
  await desk.open("/build-ups?id=stud-wall");
  await page.locator("#new-from-sheet summary").click();
  await page.locator("#new-from-sheet input[name=name]").fill("Bought door");
  await page.locator("#new-pasted").fill("125;24,5\n250;28\n500;33\n1000;36\n2000;38\n4000;40\n1000;36");
  await page.getByRole("button", { name: "Add it" }).last().click();
  await page.locator("#new-from-sheet .error", { hasText: "Line 7" }).waitFor();
  await page.locator("#new-pasted").fill("125;24,5\n250;28\n500;33\n1000;36\n2000;38\n4000;40");
  await page.getByRole("button", { name: "Add it" }).last().click();
  await desk.saved();
  assert.match(desk.project(), /id = "bought-door"/);
  await desk.open("/build-ups?id=bought-door");
  assert.equal(await page.locator("#r-125").inputValue(), "24.5");
  assert.match(await page.locator("#title").innerText(), /Rw \d+ dB/);
  desk.complaints.length = 0;
});

test("unknowns are ranked, for the build-up and for the building", async () => {
  await desk.open("/build-ups?id=hung-ceiling");
  const moves = async () => (await page.locator("#unknowns tbody tr td:nth-last-child(2)").allInnerTexts()).map((t) => parseFloat(t));
  const own = await moves();
  assert.ok(own.length > 1 && own.every((m, i) => i === 0 || m <= own[i - 1]), `${own}`);
  await page.getByRole("link", { name: "For the whole building" }).click();
  await page.waitForURL(/unknowns=all/);
  const all = await moves();
  assert.ok(all.length > own.length - 1 && all.every((m, i) => i === 0 || m <= all[i - 1]), `${all}`);
});

test("two versions stand side by side with their difference", async () => {
  await desk.open("/build-ups?id=hung-ceiling&with=hung-ceiling-second");
  assert.match(await page.locator("#curve").innerHTML(), /This one minus the other/);
  assert.match(await page.locator("#figures").innerText(), /beside/);
});

atEveryWidth(() => desk, [
  ["sheet", "/build-ups?id=bought-door"],
  ["versions", "/build-ups?id=hung-ceiling&with=hung-ceiling-second&unknowns=all"],
]);

test("nothing was complained about in the console", () => {
  assert.deepEqual(desk.complaints, []);
});
