// The wait at a slider: from the hand's movement to the painted curve with every room's level.
// Run it with a release build: WYTHE=target/release/wythe CHROMIUM=… node slider.bench.mjs

import { begin } from "./harness.mjs";

const desk = await begin();
const { page } = desk;
for (const [build, slider] of [
  ["stud-wall", "layer-1-cavity-slide"],
  ["hung-ceiling", "layer-0-thickness-slide"],
  ["split-frame", "layer-1-fill_depth-slide"],
  ["brick-wall", "layer-0-thickness-slide"],
]) {
  await desk.open(`/build-ups?id=${build}`);
  const times = await page.evaluate(async (id) => {
    const slider = document.getElementById(id);
    const out = [];
    for (let i = 0; i < 40; i++) {
      const shown = document.querySelector("#curve svg");
      const begun = performance.now();
      const painted = new Promise((done) =>
        document.addEventListener("wythe-fresh", () => requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun))), { once: true }));
      slider.value = String(Number(slider.value) + Number(slider.step) * (i % 20 < 10 ? 1 : -1));
      slider.dispatchEvent(new InputEvent("input", { bubbles: true }));
      out.push(await painted);
      if (document.querySelector("#curve svg") === shown) throw new Error("the curve was not drawn anew");
    }
    return out;
  }, slider);
  const sorted = times.toSorted((a, b) => a - b);
  const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))].toFixed(0);
  console.log(`${build}: from input to painted, ms: first ${times[0].toFixed(0)}, median ${at(0.5)}, 9 of 10 below ${at(0.9)}, worst ${at(1)}`);
}
await desk.end();
