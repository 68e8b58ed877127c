// The house: walls chosen, doors and windows placed, rooms stacked, plans traced, units.

import assert from "node:assert/strict";
import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { SHOTS, atEveryWidth, begin } from "./harness.mjs";

let desk, page;
before(async () => {
  desk = await begin();
  page = desk.page;
});
after(() => desk?.end());

/** Where a point of the ground floor's plan lies on the screen. */
const onScreen = (x, y) => page.evaluate(([x, y]) => {
  const sheet = document.querySelector('[data-storey-plan="0"]');
  const frame = JSON.parse(sheet.dataset.frame);
  const picture = sheet.querySelector("svg");
  picture.scrollIntoView({ block: "center" });
  const at = new DOMPoint(frame.margin + (x - frame.x) * frame.scale, frame.margin + (frame.y - y) * frame.scale)
    .matrixTransform(picture.getScreenCTM());
  return [at.x, at.y];
}, [x, y]);

async function click(x, y) {
  await page.mouse.click(...(await onScreen(x, y)));
}

test("a wall is clicked, made of something else, and the levels follow", async () => {
  await desk.open("/house");
  // Between drum hall and mixing room.
  await click(7.2, 4.4);
  await page.waitForURL(/wall=hall-mixing-wall/);
  const levels = await page.locator("#levels-part").innerText();
  await page.locator("#wall-build-up").selectOption("stud-wall");
  await desk.saved();
  assert.match(desk.project(), /id = "hall-mixing-wall"[^]{0,150}build_up = "stud-wall"/);
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText !== b, levels);
  await page.locator("h1").click();
  await page.keyboard.press("Control+z");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText === b, levels);
  assert.match(desk.project(), /id = "hall-mixing-wall"[^]{0,150}build_up = "split-frame"/);
  await page.keyboard.press("Control+Shift+z");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText !== b, levels);
  await page.keyboard.press("Control+z");
  await page.waitForFunction((b) => document.getElementById("levels-part").innerText === b, levels);
});

test("a window is added, sized, placed by typing and by hand, and taken out", async () => {
  await desk.open("/house?wall=hall-mixing-wall");
  await page.locator("#new-opening select[name=like]").selectOption("window, double glazing");
  await page.locator("#new-opening input[name=value]").fill("Look-through");
  await page.locator("#new-opening input[name=height]").fill("0,8");
  await page.locator("#new-opening button").click();
  await page.locator("#new-opening .error", { hasText: /./ }).waitFor();
  await page.locator("#new-opening input[name=height]").fill("0.8");
  await page.locator("#new-opening button").click();
  await desk.saved();
  assert.match(desk.project(), /title = "Look-through"\nkind = "window"\nleaf = "double glazing 4\/16\/4 mm"\nwidth = "1.2 m"\nheight = "0.8 m"\nsill_height = "0.9 m"/);
  await page.locator("#opening-0-along").fill("0.9");
  await page.locator("#opening-0-along").press("Enter");
  await desk.saved();
  assert.match(desk.project(), /along = "0.9 m"/);
  // From the drum hall the left end is up the sheet: the wall runs from 5.4 down to 2.2 m.
  await page.mouse.move(...(await onScreen(7.35, 4.5)));
  await page.mouse.down();
  await page.mouse.move(...(await onScreen(7.35, 3.5)), { steps: 5 });
  await page.locator("#said", { hasText: "Look-through: 1.90 m from the left end" }).waitFor();
  await page.mouse.up();
  await desk.saved();
  assert.match(desk.project(), /along = "1.9 m"/);
  await page.screenshot({ path: join(SHOTS, "wall-1440-light.png"), fullPage: true });
  await page.locator("#opening-0-remove").click();
  await desk.saved();
  assert.doesNotMatch(desk.project(), /Look-through/);
  desk.complaints.length = 0; // A refused form is told to the console by the browser.
});

test("a room is stacked on another, given a floor, moved and taken out with all that hangs on it", async () => {
  await desk.open("/house?room=teaching-room");
  await page.locator("#new-room summary").click();
  await page.locator("#new-room input[name=value]").fill("Loft");
  await page.locator("#new-room input[name=storey]").fill("1");
  await page.locator("#new-room select[name=like]").selectOption("teaching-room");
  await page.locator("#new-room button:not([type=button])").click();
  await desk.saved();
  await desk.open("/house?room=loft");
  await page.locator("#floor-0").selectOption("plain-floor");
  await page.locator("#room form", { has: page.locator("#floor-0") }).locator("button").click();
  await desk.saved();
  assert.match(desk.project(), /between = \["teaching-room", "loft"\]\nbuild_up = "plain-floor"/);
  assert.match(await page.locator("#levels-part, #plans").first().innerText(), /Loft/);
  await page.locator("#move-room input[name=x]").fill("-0.5");
  await page.locator("#move-room button").click();
  await desk.saved();
  assert.match(desk.project(), /id = "loft"[^]*outline = \[\["-0.5 m", "5.7 m"\]/);
  const text = desk.project();
  // Where recordings were made, the room stays.
  await desk.open("/house?room=lobby");
  await page.locator("summary", { hasText: "Take this room out" }).click();
  await page.locator("#room-remove").click();
  await page.locator("#room .press .error", { hasText: /./ }).waitFor();
  assert.equal(desk.project(), text);
  desk.complaints.length = 0; // A refused form is told to the console by the browser.
  await desk.open("/house?room=stair");
  await page.locator("summary", { hasText: "Take this room out" }).click();
  await page.locator("#room-remove").click();
  await desk.saved();
  assert.doesNotMatch(desk.project(), /"stair"|stair-door/);
  await page.locator("h1").click();
  await page.keyboard.press("u");
  await page.waitForFunction(() => document.querySelector("#said")?.textContent?.startsWith("Undone"));
  assert.equal(desk.project(), text);
});

test("a scan is laid under the plan, scaled by two points, and a room is drawn over it", async () => {
  await desk.open("/house");
  // A picture made on the spot: a frame of 400 by 300 px.
  const bytes = await page.evaluate(() => new Promise((done) => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 400, height: 300 });
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, 400, 300);
    pen.lineWidth = 6;
    pen.strokeRect(50, 50, 300, 200);
    canvas.toBlob(async (blob) => done([...new Uint8Array(await blob.arrayBuffer())]), "image/png");
  }));
  await page.locator("#tracing summary").click();
  await page.locator("#tracing-file").setInputFiles({ name: "ground floor.png", mimeType: "image/png", buffer: Buffer.from(bytes) });
  await desk.saved();
  assert.deepEqual(readdirSync(join(desk.folder, "drawings")), ["ground-floor.png"]);
  const wide = () => Number(desk.project().match(/\[\[tracing\]\][^]*?width = "([\d.]+) m"/)[1]);
  assert.ok(Math.abs(wide() - 12) < 1e-9);
  const shown = await page.evaluate(() => fetch(document.querySelector("#plans image").getAttribute("href")).then((a) => a.headers.get("content-type")));
  assert.equal(shown, "image/png");
  // 4 m of the plan are said to be 6 m.
  await page.locator("[data-points]").click();
  await click(2, 3);
  await click(6, 3);
  await page.locator("#scale-0 input[name=value]").fill("6 m");
  await page.keyboard.press("Enter");
  await desk.saved();
  assert.ok(Math.abs(wide() - 18) < 0.1, `${wide()}`);
  await page.locator("#tracing-0-opacity").fill("0.3");
  await page.locator("#tracing-0-opacity").press("Enter");
  await desk.saved();
  assert.equal(await page.locator("#plans image").first().getAttribute("opacity"), "0.3");
  await page.locator("#new-room summary").click();
  await page.locator("[data-rectangle]").click();
  await page.mouse.move(...(await onScreen(9, 6)));
  await page.mouse.down();
  await page.mouse.move(...(await onScreen(11.5, 9)), { steps: 4 });
  await page.mouse.up();
  assert.equal(await page.locator("#new-room input[name=width]").inputValue(), "2.50 m");
  assert.equal(await page.locator("#new-room input[name=depth]").inputValue(), "3.00 m");
  await page.locator("#new-room input[name=value]").fill("Store");
  await page.keyboard.press("Enter");
  await desk.saved();
  assert.match(desk.project(), /id = "store"[^]*outline = \[\["9 m", "6 m"\], \["11.5 m", "6 m"\]/);
  await page.screenshot({ path: join(SHOTS, "traced-1440-light.png"), fullPage: true });
  await page.locator("#tracing-0-remove").click();
  await desk.saved();
  assert.equal(await page.locator("#plans image").count(), 0);
  assert.ok(existsSync(join(desk.folder, "drawings/ground-floor.png")), "the picture is kept");
});

test("what is no picture is refused, and no picture outside the project is shown", async () => {
  await desk.open("/house");
  await page.locator("#tracing summary").click();
  await page.locator("#tracing-file").setInputFiles({ name: "x.png", mimeType: "image/png", buffer: Buffer.from("<svg onload='alert(1)'/>") });
  await page.locator("#tracing-said", { hasText: "neither a PNG nor a JPEG" }).waitFor();
  const status = (path) => page.evaluate((path) => fetch(path).then((a) => a.status), path);
  for (const bad of ["/tracing/0", "/tracing/..%2fwythe.toml", "/tracing/999999999999999999999", "/tracing/-1"]) {
    assert.equal(await status(bad), 404, bad);
  }
  desk.complaints.length = 0;
});

test("a project in feet and inches is shown and typed so", async () => {
  await desk.open("/house?room=bedroom");
  await page.locator("#units summary").click();
  await page.locator("#units-choice").selectOption("US");
  await desk.saved();
  assert.match(desk.project(), /units = "US"/);
  assert.equal(await page.locator("#room-height").inputValue(), "7' 10 1/2\"");
  assert.match(await page.locator("#room table.edit").innerText(), /13' 9 3\/8"/);
  await page.locator("#room-height").fill("8' 6\"");
  await page.locator("#room-height").press("Enter");
  await desk.saved();
  assert.match(desk.project(), /height = "8' 6\\""/);
  await page.locator("#room-height").fill("9");
  await page.locator("#room-height").press("Enter");
  await desk.saved();
  assert.match(desk.project(), /height = "9 ft"/);
  await desk.open("/build-ups?id=split-frame");
  assert.equal(await page.locator("#layer-0-thickness").inputValue(), "5/8 in");
  assert.match(await page.locator("#figures").innerText(), /lb\/ft²/);
  await page.screenshot({ path: join(SHOTS, "feet-1440-light.png"), fullPage: true });
});

test("each state has its key", async () => {
  await desk.open("/house");
  for (const [key, state] of [["2", "both%20lobby%20doors%20open"], ["3", "hall%20door%20taped"]]) {
    await page.keyboard.press(key);
    await page.waitForURL((url) => url.search.includes(state) || url.search.includes(state.replaceAll("%20", "+")));
  }
  await page.keyboard.press("1");
  await page.waitForURL((url) => !url.search.includes("state="));
});

atEveryWidth(() => desk, [
  ["house-wall", "/house?room=drum-hall&wall=hall-lobby-wall"],
  ["house-bare-wall", "/house?wall=mixing-room~"],
  ["paths", "/paths?from=percussion&to=bedroom"],
  ["file", "/file"],
  ["keys", "/keys"],
]);

test("nothing was complained about in the console", () => {
  assert.deepEqual(desk.complaints, []);
});
