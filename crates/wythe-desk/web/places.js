// A click on the plan says where the microphone of the chosen channel stood.

import { send } from "./edit.js";

/** Listens to all plans with places. */
export function handlePlaces() {
  document.addEventListener("click", (event) => {
    const target = event.target;
    const sheet = target instanceof Element ? target.closest("[data-places]") : null;
    const picture = sheet?.querySelector("svg");
    const form = document.getElementById("place");
    if (!(sheet instanceof HTMLElement) || !picture || !(form instanceof HTMLFormElement)) return;
    /** @type {{ x: number, y: number, scale: number, margin: number }} */
    const frame = JSON.parse(sheet.dataset.places ?? "{}");
    const box = picture.getBoundingClientRect();
    const scale = picture.viewBox.baseVal.width / box.width;
    const x = frame.x + ((event.clientX - box.left) * scale - frame.margin) / frame.scale;
    const y = frame.y - ((event.clientY - box.top) * scale - frame.margin) / frame.scale;
    const set = (/** @type {string} */ name, /** @type {string} */ value) => {
      const field = form.elements.namedItem(name);
      if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) field.value = value;
    };
    set("spot", `${x.toFixed(2)} ${y.toFixed(2)}`);
    set("storey", sheet.dataset.storey ?? "");
    void send(form);
  });
}
