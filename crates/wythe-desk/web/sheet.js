// A data sheet is pasted into its cells; whatever cannot be read is said by its cell.

import { refresh, say, settle } from "./live.js";

/**
 * @typedef {object} Wrong
 * @property {string | null} band
 * @property {number} line
 * @property {string} text
 * @property {string} why
 */

/**
 * @param {HTMLFormElement} form
 * @param {string} band
 */
function cell(form, band) {
  const field = form.elements.namedItem(`r-${band}`);
  return field instanceof HTMLInputElement ? field : null;
}

/** @param {HTMLFormElement} form */
function clear(form) {
  for (const place of form.querySelectorAll(".error")) place.textContent = "";
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

/**
 * @param {HTMLFormElement} form
 * @param {Wrong[]} wrong
 */
function tell(form, wrong) {
  clear(form);
  /** @type {string[]} */
  const rest = [];
  /** @type {HTMLInputElement | null} */
  let first = null;
  for (const one of wrong) {
    const field = one.band === null ? null : cell(form, one.band);
    const place = field && document.getElementById(`${field.id}-error`);
    const words = one.text ? `“${one.text}”: ${one.why}` : one.why;
    if (field && place) {
      place.textContent = `${words}.`;
      field.setAttribute("aria-invalid", "true");
      const hidden = field.closest("details");
      if (hidden) hidden.open = true;
      first ??= field;
    } else {
      rest.push(one.line > 0 ? `Line ${one.line}, ${words}.` : `${words}.`);
    }
  }
  const place = form.querySelector(":scope > .error");
  if (place) place.textContent = rest.join(" ");
  first?.focus();
}

/**
 * Puts what was pasted into the cells.
 * @param {HTMLFormElement} form
 * @param {string} text
 */
async function fill(form, text) {
  const answer = await fetch("/sheet/read", { method: "POST", body: new URLSearchParams({ pasted: text }) });
  if (!answer.ok) return;
  /** @type {{ values: Record<string, number>, wrong: Wrong[] }} */
  const read = await answer.json();
  let count = 0;
  for (const [band, value] of Object.entries(read.values)) {
    const field = cell(form, band);
    if (!field) continue;
    field.value = String(value);
    const hidden = field.closest("details");
    if (hidden) hidden.open = true;
    count += 1;
  }
  tell(form, read.wrong);
  say(`${count} ${count === 1 ? "value" : "values"} put into the table; save it to keep them.`);
}

/** @param {HTMLFormElement} form */
async function save(form) {
  clear(form);
  const words = new URLSearchParams();
  for (const [name, value] of new FormData(form)) words.append(name, String(value));
  const answer = await fetch(form.action, { method: "POST", headers: { accept: "application/json" }, body: words });
  const said = await answer.json().catch(() => ({}));
  const place = form.querySelector(":scope > .error");
  if (answer.ok) {
    for (const field of form.querySelectorAll("textarea")) field.value = "";
    settle(form);
    await refresh();
    say("Saved.");
  } else if (answer.status === 409) {
    if (place) place.textContent = "Not saved: the table was changed meanwhile. Save again to put yours in its place.";
    const page = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html");
    const fresh = page.querySelector('#sheet-form input[name="seen"]');
    const seen = form.elements.namedItem("seen");
    if (fresh && seen instanceof HTMLInputElement) seen.value = fresh.getAttribute("value") ?? "";
  } else if (Array.isArray(said.wrong)) {
    tell(form, said.wrong);
  } else if (place) {
    place.textContent = `${[said.why ?? "It could not be saved", said.help].filter(Boolean).join("; ")}.`;
  }
}

/** Listens to tables of data sheets, also those that come later. */
export function handleSheets() {
  const formOf = (/** @type {EventTarget | null} */ target) => {
    const form = target instanceof Element ? target.closest("form") : null;
    return form && "sheet" in form.dataset ? form : null;
  };
  document.addEventListener("paste", (event) => {
    const form = formOf(event.target);
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (!form || !form.querySelector(".cells") || !/[\t\n;]/.test(text.trim())) return;
    event.preventDefault();
    void fill(form, text);
  });
  document.addEventListener("submit", (event) => {
    const form = formOf(event.target);
    if (!form) return;
    event.preventDefault();
    void save(form);
  });
}
