// From what was found to what is done: findings, remedies, documents, recordings, the phone.
//
// One desk on one copy of the demonstration; the files are put back after each change.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { SHOTS, atEveryWidth, begin } from "./harness.mjs";

let desk, page;
before(async () => {
  desk = await begin({ share: "127.0.0.1" });
  page = desk.page;
});
after(() => desk?.end());

/** Takes the last change back and waits until the files say so. */
async function undone(project, survey) {
  await page.locator("h1").click();
  await page.keyboard.press("u");
  await page.locator("#said", { hasText: "Undone" }).waitFor();
  assert.equal(desk.project(), project);
  assert.equal(desk.survey(), survey);
}

/** Samples of a mono WAV file of 16 or 24 bit, -1 to 1. */
function samples(bytes) {
  assert.equal(bytes.toString("latin1", 0, 4) + bytes.toString("latin1", 8, 12), "RIFFWAVE");
  const format = bytes.indexOf("fmt ") + 8;
  assert.equal(bytes.readUInt16LE(format + 2), 1);
  const wide = bytes.readUInt16LE(format + 14) / 8;
  const at = bytes.indexOf("data") + 8;
  const values = Float64Array.from({ length: bytes.readUInt32LE(at - 4) / wide }, (_, i) =>
    bytes.readIntLE(at + wide * i, wide) / 2 ** (8 * wide - 1));
  return { rate: bytes.readUInt32LE(format + 4), values };
}

/** A WAV file of 16 bit mono. */
function wave(rate, values) {
  const out = Buffer.alloc(44 + 2 * values.length);
  out.write("RIFF", 0);
  out.writeUInt32LE(36 + 2 * values.length, 4);
  out.write("WAVEfmt ", 8);
  out.writeUInt32LE(16, 16);
  out.writeUInt16LE(1, 20);
  out.writeUInt16LE(1, 22);
  out.writeUInt32LE(rate, 24);
  out.writeUInt32LE(2 * rate, 28);
  out.writeUInt16LE(2, 32);
  out.writeUInt16LE(16, 34);
  out.write("data", 36);
  out.writeUInt32LE(2 * values.length, 40);
  values.forEach((x, i) => out.writeInt16LE(Math.round(32767 * Math.max(-1, Math.min(1, x))), 44 + 2 * i));
  return out;
}

/** What the player of a part plays, by a key as a hand would. */
async function played(selector) {
  const player = page.locator(`${selector} audio`);
  const source = await player.getAttribute("src");
  const bytes = Buffer.from(await page.evaluate(async (source) => {
    const answer = await fetch(source);
    if (!answer.ok) throw new Error(`${answer.status}: ${await answer.text()}`);
    return [...new Uint8Array(await answer.arrayBuffer())];
  }, source));
  await player.focus();
  await page.keyboard.press("Space");
  await page.waitForFunction((s) => document.querySelector(`${s} audio`).currentTime > 0.2, selector);
  assert.ok(await player.evaluate((a) => a.volume <= 0.25), "players begin quietly");
  await player.evaluate((a) => a.pause());
  return samples(bytes);
}

const peak = (values) => values.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
const power = (values) => values.reduce((sum, x) => sum + x * x, 0) / values.length;

test("the findings come by themselves", { timeout: 540_000 }, async () => {
  await desk.open("/findings");
  await page.locator("#found table").first().waitFor({ timeout: 500_000 });
});

test("the limits follow the hand, and are saved when it lets go", async () => {
  await desk.open("/remedies");
  await page.locator("#plan tbody a").nth(1).waitFor();
  const [project, survey] = [desk.project(), desk.survey()];
  const rows = () => page.locator("#frontier tbody tr").count();
  const before = await rows();
  const move = (event) => page.evaluate((event) => {
    const slider = document.getElementById("budget-slide");
    slider.value = slider.min;
    slider.dispatchEvent(new Event(event, { bubbles: true }));
  }, event);
  await move("input");
  // Nothing but what costs nothing is within a budget of nothing.
  await page.waitForFunction((b) => document.querySelectorAll("#frontier tbody tr").length < b, before);
  assert.equal(desk.project(), project, "a try is not saved");
  await move("change");
  await desk.saved();
  assert.match(desk.project(), /budget = 0\n/);
  await undone(project, survey);
  await page.waitForFunction((b) => document.querySelectorAll("#frontier tbody tr").length === b, before);
  for (const [id, value, line] of [["added-mass", "20", /added_mass = "20 kg\/m2"/], ["thickness", "100", /thickness = "100 mm"/]]) {
    await page.evaluate(([id, value]) => {
      const slider = document.getElementById(`${id}-slide`);
      slider.value = value;
      slider.dispatchEvent(new Event("input", { bubbles: true }));
      slider.dispatchEvent(new Event("change", { bubbles: true }));
    }, [id, value]);
    await desk.saved();
    assert.match(desk.project().split("[limits]")[1] ?? "", line);
    await undone(project, survey);
  }
});

test("a point of the frontier is clicked on the picture, and its sum is shown", async () => {
  await desk.open("/remedies");
  await page.locator("#plan tbody a").nth(1).waitFor();
  const circles = page.locator("#frontier .wide svg circle");
  await circles.first().scrollIntoViewIfNeeded();
  const last = (await page.locator("#frontier [data-point]").count()) - 1;
  for (const n of [last, 0]) {
    const box = await circles.nth(3 * n).boundingBox();
    await page.mouse.click(box.x + box.width / 2 + 3, box.y + box.height / 2 - 3);
    await page.waitForURL(new RegExp(`point=${n}`));
    await page.waitForFunction((n) => [...document.querySelectorAll("#frontier tbody tr")]
      .findIndex((r) => r.getAttribute("aria-current")) === n, n);
  }
  // The first point buys nothing: there is nothing to be compared.
  await page.locator("#hearing", { hasText: "Choose a sum that buys something" }).waitFor();
});

test("before and after are heard in turns, quietly, and after is quieter", async () => {
  await desk.open("/remedies");
  await page.locator("#hearing audio").waitFor();
  const { rate, values } = await played("#hearing");
  assert.equal(values.length, 16 * rate);
  assert.ok(peak(values) < 0.11, `${peak(values)}`);
  const turn = (n) => power(values.subarray(Math.round((4 * n + 0.5) * rate), Math.round((4 * n + 3.5) * rate)));
  assert.ok(turn(1) < turn(0) && turn(3) < turn(2), `${[0, 1, 2, 3].map(turn)}`);
  await page.locator("#hearing audio").evaluate((a) => (a.currentTime = 5));
  await page.locator("#hearing-said", { hasText: "After the changes" }).waitFor();
  await page.locator("#hearing a", { hasText: "Lobby" }).click();
  await page.waitForURL(/hear=lobby/);
  await page.locator('#hearing audio[src*="hear=lobby"]').waitFor();
});

test("what is downloaded is what it is called", { timeout: 120_000 }, async () => {
  await desk.open("/report");
  const taken = async (link) => {
    const [download] = await Promise.all([page.waitForEvent("download", { timeout: 60_000 }), link.click()]);
    return [download.suggestedFilename(), readFileSync(await download.path())];
  };
  const [html, document] = await taken(page.getByText("Download HTML"));
  assert.match(html, /\.html$/);
  assert.match(document.toString(), /^<!DOCTYPE html>[^]*The Ropewalk[^]*<\/html>\s*$/i);
  assert.doesNotMatch(document.toString(), /(src|href)="https?:/, "a document stands alone");
  const [xlsx, workbook] = await taken(page.getByText("Download XLSX"));
  assert.match(xlsx, /\.xlsx$/);
  assert.equal(workbook.toString("latin1", 0, 4), "PK\x03\x04");
  assert.ok(workbook.includes("xl/workbook.xml"));
  const [zip, tables] = await taken(page.getByText("Download CSV"));
  assert.match(zip, /\.zip$/);
  assert.equal(tables.toString("latin1", 0, 4), "PK\x03\x04");
  assert.ok(tables.includes(".csv") && tables.includes("bedroom"), "the tables are not packed and can be read");
  const [packed, results] = await taken(page.locator('a[href*="parquet"]').first());
  assert.match(packed, /\.zip$/);
  assert.ok(results.includes(".parquet") && results.includes("PAR1"), "the columns are not packed and can be read");
  const [parquet, history] = await taken(page.locator('a[href*="parquet"]').nth(1));
  assert.match(parquet, /\.parquet$/);
  assert.equal(history.toString("latin1", 0, 4) + history.toString("latin1", history.length - 4), "PAR1PAR1");
});

test("the next trial is prepared by a press, shown, and taken back", async () => {
  await desk.open("/findings");
  const [project, survey] = [desk.project(), desk.survey()];
  await page.locator("#prepare").click();
  await page.locator("section.trial", { hasText: "To be recorded" }).waitFor();
  assert.ok((await page.locator("section.trial ol li").count()) > 1);
  assert.match(desk.survey(), /planned = true/);
  await page.screenshot({ path: join(SHOTS, "trial-1440-light.png"), fullPage: true });
  await desk.open("/recordings");
  await page.locator("#trials", { hasText: "to be recorded" }).waitFor();
  await desk.open("/findings");
  await undone(project, survey);
  await page.waitForFunction(() => !document.querySelector("section.trial"));
});

test("any stretch of any channel is listened to", async () => {
  await desk.open("/recordings?n=0");
  await page.locator("#hear").selectOption("4");
  await page.locator("#hear-from").fill("0:20");
  await page.locator("#hear-to").fill("0:23");
  await page.locator("#listen button").click();
  await page.waitForURL(/hear=4/);
  const { rate, values } = await played("#listen");
  assert.equal(values.length, 3 * rate);
  assert.ok(peak(values) < 0.11 && peak(values) > 0.05, `${peak(values)}`);
  await page.locator("#hear-to").fill("0:10");
  await page.locator("#listen button").click();
  await page.locator("#listen .notice", { hasText: "ends after it begins" }).waitFor();
});

test("the calibration is stated, refused where it is no level, and taken back", async () => {
  await desk.open("/recordings?n=0");
  const [project, survey] = [desk.project(), desk.survey()];
  await page.locator("#calibration-part summary").click();
  const form = page.locator("#calibrate");
  await form.locator("select[name=like]").selectOption("tone");
  await form.locator("input[name=value]").fill("loud");
  await form.locator("button").click();
  await form.locator(".error", { hasText: "is no level" }).waitFor();
  assert.equal(desk.survey(), survey);
  await form.locator("select[name=at]").selectOption("2");
  await form.locator("select[name=like]").selectOption("full scale");
  await form.locator("input[name=value]").fill("120");
  await form.locator("button").click();
  await desk.saved();
  assert.match(desk.survey(), /position = "hall-2"[^[]*calibration = \{ full_scale = "120 dB" \}/);
  // A sine of 120 dB re 20 µPa, which is 20 Pa, has a peak of √2 times that.
  await page.locator("#calibration-part tbody tr").nth(1).getByText("full scale is 28.28 Pa").waitFor();
  await undone(project, survey);
  desk.complaints.length = 0; // A refused form is told to the console by the browser.
});

test("a microphone is put where the plan is clicked", async () => {
  await desk.open("/recordings?n=0");
  const [project, survey] = [desk.project(), desk.survey()];
  await page.locator("#places-part a.choice", { hasText: "lobby-1" }).click();
  await page.waitForURL(/place=2/);
  // 1.5 m from the left and 2.4 m from the lower wall of the drum hall, whose corner is the plan's.
  const spot = await page.evaluate(() => {
    const sheet = document.querySelector('.wide [data-places][data-storey="0"]');
    const frame = JSON.parse(sheet.dataset.places);
    const picture = sheet.querySelector("svg");
    picture.scrollIntoView({ block: "center" });
    const at = new DOMPoint(frame.margin + (1.5 - frame.x) * frame.scale, frame.margin + (frame.y - 2.4) * frame.scale)
      .matrixTransform(picture.getScreenCTM());
    return [at.x, at.y];
  });
  await page.mouse.click(...spot);
  await desk.saved();
  const channel = desk.survey().match(/position = "lobby-1"[^[]*/)[0];
  assert.match(channel, /room = "drum-hall"/);
  const [, x, y] = channel.match(/spot = \{ x = "([\d.]+) m", y = "([\d.]+) m" \}/).map(Number);
  assert.ok(Math.abs(x - 1.5) < 0.03 && Math.abs(y - 2.4) < 0.03, channel);
  assert.equal(await page.locator('.wide [data-storey="0"] .dot.chosen').count(), 1);
  await undone(project, survey);
});

test("the end of a marked stretch is dragged on the picture", async () => {
  await desk.open("/recordings?n=0");
  const [project, survey] = [desk.project(), desk.survey()];
  const end = page.locator(".time-sheet .handle.end").nth(1);
  await end.scrollIntoViewIfNeeded();
  const box = await end.boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x - 20, y, { steps: 4 });
  await page.locator("#said", { hasText: "background to" }).waitFor();
  await page.mouse.up();
  await desk.saved();
  const to = (text) => Number(text.match(/kind = "background"/) && text.match(/from = "0:06"\nto = "0:([\d.]+)"\nkind = "background"/)[1]);
  assert.ok(to(desk.survey()) < 14 && to(desk.survey()) > 6, `${to(desk.survey())}`);
  assert.equal(await page.locator("#s0-to").inputValue().then((v) => Number(v.split(":")[1])), to(desk.survey()));
  await undone(project, survey);
});

test("a decay that was brought is drawn with its line and its time", { timeout: 120_000 }, async () => {
  // A bang every three seconds in a room of T = 0.6 s: noise that falls by 60 dB in 0.6 s.
  const rate = 24_000;
  let seed = 1;
  const noise = () => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 1073741824 - 1);
  const values = Float64Array.from({ length: 12 * rate }, (_, i) => {
    const since = (i / rate) % 3 - 0.5;
    return 0.00002 * noise() + (since < 0 ? 0 : 0.6 * noise() * 10 ** (-3 * since / 0.6));
  });
  await desk.open("/recordings");
  await page.locator("#files").setInputFiles({ name: "bangs.wav", mimeType: "audio/wav", buffer: wave(rate, values) });
  await page.locator("#list", { hasText: "bangs.wav" }).waitFor({ timeout: 60_000 });
  await page.locator("#list form select").selectOption("bedroom");
  await page.locator("#list form button").click();
  await page.locator("#list a", { hasText: "bangs.wav" }).click({ timeout: 60_000 });
  await page.locator("#mark").waitFor({ state: "attached" });
  await page.locator("summary", { hasText: "Mark a stretch" }).click();
  await page.locator('#mark input[name="from"]').fill("0:00");
  await page.locator('#mark input[name="value"]').fill("0:12");
  await page.locator('#mark select[name="like"]').selectOption("decay");
  await page.locator("#mark button").click();
  const figures = page.locator("#decays tbody tr").first();
  await figures.waitFor({ timeout: 60_000 });
  const t20 = Number(await figures.locator("td").nth(1).innerText());
  assert.ok(Math.abs(t20 - 0.6) < 0.06, `T20 ${t20}`);
  assert.ok(await page.locator("#decays .wide svg").count());
  await page.locator("#decays a.choice", { hasText: /^1000$/ }).click();
  await page.waitForURL(/band=1000/);
  await page.locator("#decays caption", { hasText: "1000 Hz" }).waitFor();
});

test("a phone is paired by its code, and what it notes lands in the survey", { timeout: 120_000 }, async () => {
  const phone = await desk.another({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  assert.match(desk.phones.code, /^\d{6}$/);
  await phone.goto(desk.phones.address);
  const wrong = await desk.wrong("pairing", phone);
  await phone.locator("input[name=code]").fill(String((Number(desk.phones.code) + 1) % 1_000_000).padStart(6, "0"));
  await phone.locator("button").tap();
  await phone.locator(".notice", { hasText: "not the code" }).waitFor();
  // Two tries lie apart.
  await phone.waitForTimeout(800);
  await phone.goto(`${desk.phones.address}?code=${desk.phones.code}`);
  assert.equal(await phone.locator("input[name=code]").inputValue(), desk.phones.code);
  await phone.locator("input[name=name]").fill("phone in the flat");
  await phone.locator("button").tap();
  await phone.locator("h1", { hasText: "What to do next" }).waitFor();
  await phone.locator("#where").selectOption("bedroom");
  const tap = async (name) => {
    await phone.locator("#phone-said").evaluate((p) => (p.textContent = ""));
    await phone.getByRole("button", { name }).tap();
    await phone.locator("#phone-said", { hasText: "Noted." }).waitFor();
  };
  await tap("Talking now");
  assert.match(desk.survey(), /\[\[log\]\]\nat = "\d{4}-\d\d-\d\d \d\d:\d\d:\d\d[^"]*"[^[]*entry = "talking in [^"]*bedroom"/);
  await phone.locator("button", { hasText: "Talking since" }).waitFor();
  await tap(/Talking since/);
  assert.match(desk.survey(), /until = "/);
  await tap("Door closed");
  await tap("Recorder started");
  await phone.locator("#free input").fill("rain on the roof");
  await phone.locator("#free button").tap();
  await phone.locator("ul.log", { hasText: "rain on the roof" }).waitFor();
  assert.match(desk.survey(), /rain on the roof/);
  assert.equal((desk.survey().match(/\[\[log\]\]/g) ?? []).length, 4);
  for (const scheme of ["light", "dark"]) {
    await phone.emulateMedia({ colorScheme: scheme });
    await phone.screenshot({ path: join(SHOTS, `handset-390-${scheme}.png`), fullPage: true });
    wrong.push(...(await desk.wrong(`handset ${scheme}`, phone)));
  }
  assert.deepEqual(wrong, []);
  // At the desk: the phone and its notes, and when the recorder was started.
  await desk.open("/phone");
  await page.locator("#noted", { hasText: "rain on the roof" }).waitFor();
  await page.locator("#phones th", { hasText: "phone in the flat" }).waitFor();
  await desk.open("/recordings?n=0");
  await page.locator("#begun-0, [id^=begun-]").first().click();
  await desk.saved();
  assert.match(desk.survey(), /begun = "\d{4}-/);
  // Sent away, it sees nothing any more.
  await desk.open("/phone");
  await page.getByRole("button", { name: "Send away: phone in the flat" }).click();
  await page.locator("#phones", { hasText: "None is paired" }).waitFor();
  await phone.goto(desk.phones.address);
  await phone.locator("h1", { hasText: "Pair this phone" }).waitFor();
  await phone.context().close();
  desk.complaints.length = 0; // A refused code is told to the console by the browser.
});

atEveryWidth(() => desk, [
  ["survey", "/recordings?n=0&place=3&hear=4&from=0:20&to=0:23"],
  ["decays", "/recordings?n=2&band=500"],
  ["results", "/findings"],
  ["remedy", "/remedies"],
  ["documents", "/report"],
  ["phone", "/phone"],
]);

test("nothing was complained about in the console", () => {
  assert.deepEqual(desk.complaints, []);
});
