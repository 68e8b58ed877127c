// Scans of plans are brought, two points of them shown, and rooms drawn over them.

import { onPlan } from "./openings.js";
import { refresh, say } from "./live.js";
import { length } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";

/** @param {File} file @param {string} storey */
async function bring(file, storey) {
  const said = document.getElementById("tracing-said");
  if (said) said.textContent = "";
  const answer = await fetch(`/tracing/${encodeURIComponent(file.name)}?storey=${storey}`, {
    method: "PUT",
    headers: { accept: "application/json" },
    body: file,
  }).catch(() => null);
  if (answer?.ok) {
    await refresh();
    say("Saved.");
  } else if (said) {
    const words = await answer?.json().catch(() => null);
    said.textContent = `Not taken: ${words?.why ?? "the file is larger than 12 MB, or the desk does not answer"}.`;
  }
}

/** The plan of a storey that a hand works on. @param {string} storey */
function sheetOf(storey) {
  const sheet = document.querySelector(`[data-storey-plan="${storey}"]`);
  const picture = sheet?.querySelector("svg");
  if (!(sheet instanceof HTMLElement) || !picture) return null;
  return { sheet, picture, frame: JSON.parse(sheet.dataset.frame ?? "{}") };
}

/** @param {HTMLFormElement} form @param {string} name @param {string} value */
function put(form, name, value) {
  const field = form.elements.namedItem(name);
  if (field instanceof HTMLInputElement) field.value = value;
}

/**
 * Waits for a hand on a plan; the page may be drawn anew meanwhile. Escape ends the wait.
 * @param {string} storey of the plan that counts; any where it is empty
 * @param {(plan: NonNullable<ReturnType<typeof sheetOf>>, event: PointerEvent) => boolean} down whether that was all
 * @param {() => void} given what to do where it is given up
 */
function aim(storey, down, given) {
  document.body.classList.add("aiming");
  const end = () => {
    document.removeEventListener("pointerdown", press, true);
    document.removeEventListener("keydown", stop);
    // The click that ends it chooses no wall.
    setTimeout(() => document.body.classList.remove("aiming"), 300);
  };
  const press = (/** @type {PointerEvent} */ event) => {
    const sheet = event.target instanceof Element ? event.target.closest("[data-storey-plan]") : null;
    if (!(sheet instanceof HTMLElement)) return;
    const there = sheet.dataset.storeyPlan ?? "";
    const plan = storey && there !== storey ? null : sheetOf(there);
    if (!plan) return;
    event.preventDefault();
    event.stopPropagation();
    if (down(plan, event)) end();
  };
  const stop = (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== "Escape") return;
    end();
    given();
    say("");
  };
  document.addEventListener("pointerdown", press, true);
  document.addEventListener("keydown", stop);
}

/** @param {{ x: number, y: number, scale: number, margin: number }} frame @param {number[]} spot */
function drawnAt(frame, [x = 0, y = 0]) {
  return [frame.margin + (x - frame.x) * frame.scale, frame.margin + (frame.y - y) * frame.scale];
}

/** Two clicks on the plan become the points of the form. @param {HTMLFormElement} form */
function points(form) {
  const storey = form.dataset.storey ?? "";
  sheetOf(storey)?.picture.scrollIntoView({ block: "center" });
  say("Click one end of a length you know.");
  /** @type {SVGElement[]} */
  const marks = [];
  aim(storey, ({ picture, frame }, event) => {
    const spot = onPlan(picture, frame, event);
    const mark = document.createElementNS(SVG, "circle");
    const [cx, cy] = drawnAt(frame, spot);
    for (const [name, value] of Object.entries({ cx, cy, r: 6, class: "aimed" })) mark.setAttribute(name, String(value));
    picture.append(mark);
    marks.push(mark);
    put(form, marks.length === 1 ? "from" : "like", spot.map((c) => c.toFixed(4)).join(" "));
    if (marks.length < 2) {
      say("Click its other end.");
      return false;
    }
    say("Type the length between the two points.");
    const field = form.elements.namedItem("value");
    if (field instanceof HTMLElement) field.focus();
    return true;
  }, () => marks.forEach((m) => m.remove()));
}

/** A rectangle drawn on a plan becomes the sizes of the new room. @param {HTMLFormElement} form */
function rectangle(form) {
  say("Draw the room on a plan, from corner to corner.");
  document.getElementById("plans")?.scrollIntoView({ block: "start" });
  aim("", ({ sheet, picture, frame }, event) => {
    const snap = (/** @type {number} */ v) => Math.round(v * 20) / 20;
    const [x0 = 0, y0 = 0] = onPlan(picture, frame, event).map(snap);
    let [x1, y1] = [x0, y0];
    const box = document.createElementNS(SVG, "rect");
    box.setAttribute("class", "aimed held");
    picture.append(box);
    const size = () => [Math.abs(x1 - x0), Math.abs(y1 - y0)];
    const move = (/** @type {PointerEvent} */ event) => {
      [x1 = 0, y1 = 0] = onPlan(picture, frame, event).map(snap);
      const [x, y] = drawnAt(frame, [Math.min(x0, x1), Math.max(y0, y1)]);
      const [w = 0, d = 0] = size();
      const shape = { x, y, width: w * frame.scale, height: d * frame.scale };
      for (const [name, value] of Object.entries(shape)) box.setAttribute(name, String(value));
      say(`${length(w)} × ${length(d)}`);
    };
    const drop = () => {
      document.removeEventListener("pointermove", move);
      box.remove();
      const [w = 0, d = 0] = size();
      if (w < 0.1 || d < 0.1) return;
      const typed = { width: w, depth: d, x: Math.min(x0, x1), y: Math.min(y0, y1) };
      for (const [name, value] of Object.entries(typed)) put(form, name, `${value.toFixed(2)} m`);
      put(form, "storey", sheet.dataset.storeyPlan ?? "0");
      const name = form.elements.namedItem("value");
      if (name instanceof HTMLElement) name.focus();
      say("Give the room a name and add it.");
    };
    document.addEventListener("pointermove", move);
    document.addEventListener("pointerup", drop, { once: true });
    return true;
  }, () => {});
}

/** Listens to pictures brought and to the buttons of the house page. */
export function handleTracing() {
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.id !== "tracing-file") return;
    const file = input.files?.[0];
    const place = input.closest("[data-tracing]");
    if (file && place instanceof HTMLElement) void bring(file, place.dataset.tracing ?? "0");
  });
  document.addEventListener("dragover", (event) => {
    if (event.target instanceof Element && event.target.closest("[data-tracing], [data-storey-plan]")) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    const place = event.target instanceof Element ? event.target.closest("[data-tracing], [data-storey-plan]") : null;
    const file = event.dataTransfer?.files[0];
    if (!(place instanceof HTMLElement) || !file) return;
    event.preventDefault();
    void bring(file, place.dataset.tracing ?? place.dataset.storeyPlan ?? "0");
  });
  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("button") : null;
    if (!button?.form) return;
    if ("points" in button.dataset) points(button.form);
    if ("rectangle" in button.dataset) rectangle(button.form);
  });
}
