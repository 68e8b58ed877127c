// Layers are put in order by keyboard: the layer with the focus goes up or down, and keeps it.

import { send } from "./edit.js";

/** Listens to Alt with an arrow inside a layer. */
export function handleLayers() {
  document.addEventListener("keydown", (event) => {
    if (!event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
    const here = document.activeElement;
    const layer = here?.closest("ol.layers > li");
    const list = layer?.parentElement;
    if (!here || !layer || !list) return;
    event.preventDefault();
    const from = [...list.children].indexOf(layer);
    const to = event.key === "ArrowUp" ? from - 1 : from + 1;
    const button = document.getElementById(`shift-${from}-${to}`);
    const form = button?.closest("form");
    if (!form) return;
    const same = here.id.replace(/^layer-\d+-/, `layer-${to}-`);
    void send(form).then(() => {
      const field = document.getElementById(same) ?? document.querySelector(`ol.layers > li:nth-child(${to + 1}) input, ol.layers > li:nth-child(${to + 1}) select`);
      if (field instanceof HTMLElement) field.focus();
    });
  });
}
