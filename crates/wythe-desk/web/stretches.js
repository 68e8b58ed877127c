// The ends of marked stretches are dragged on the picture of level against time.

import { send } from "./edit.js";
import { say } from "./live.js";

const SVG = "http://www.w3.org/2000/svg";

/** @param {number} s */
function clock(s) {
  const tenths = Math.round(s * 10);
  const rest = (tenths % 600) / 10;
  return `${Math.floor(tenths / 600)}:${rest < 10 ? "0" : ""}${rest.toFixed(1)}`;
}

/** @param {HTMLElement} sheet */
function prepare(sheet) {
  const picture = sheet.querySelector("svg");
  if (!picture || sheet.dataset.ready) return;
  sheet.dataset.ready = "1";
  const length = Number(sheet.dataset.length);
  const left = Number(sheet.dataset.left);
  const wide = Number(sheet.dataset.width);
  const tall = picture.viewBox.baseVal.height;
  /** @type {{ i: number, from: number, to: number, kind: string }[]} */
  const all = JSON.parse(sheet.dataset.stretches ?? "[]");
  for (const stretch of all) {
    for (const end of /** @type {const} */ (["from", "to"])) {
      const line = document.createElementNS(SVG, "line");
      const x = left + (stretch[end] / length) * wide;
      for (const [name, value] of Object.entries({ x1: x, x2: x, y1: 20, y2: tall * 0.7 })) {
        line.setAttribute(name, String(value));
      }
      line.setAttribute("class", "handle end");
      picture.append(line);
      let held = false;
      let now = stretch[end];
      line.addEventListener("pointerdown", (event) => {
        held = true;
        line.setPointerCapture(event.pointerId);
        line.classList.add("held");
      });
      line.addEventListener("pointermove", (event) => {
        if (!held) return;
        const box = picture.getBoundingClientRect();
        const px = ((event.clientX - box.left) / box.width) * picture.viewBox.baseVal.width;
        const least = end === "to" ? stretch.from + 0.1 : 0;
        const most = end === "from" ? stretch.to - 0.1 : length;
        now = Math.min(most, Math.max(least, ((px - left) / wide) * length));
        line.setAttribute("transform", `translate(${left + (now / length) * wide - x} 0)`);
        say(`${stretch.kind} ${end} ${clock(now)}`);
      });
      const drop = (/** @type {boolean} */ keep) => {
        held = false;
        line.classList.remove("held");
        line.removeAttribute("transform");
        const field = document.getElementById(`s${stretch.i}-${end}`);
        if (!keep || now === stretch[end] || !(field instanceof HTMLInputElement) || !field.form) return;
        field.value = clock(now);
        void send(field.form);
      };
      line.addEventListener("pointerup", () => drop(true));
      line.addEventListener("pointercancel", () => drop(false));
    }
  }
}

/** Prepares every picture, now and when it is drawn again. */
export function handleStretches() {
  const all = () => document.querySelectorAll("[data-stretches]").forEach((s) => s instanceof HTMLElement && prepare(s));
  all();
  document.addEventListener("wythe-fresh", all);
}
