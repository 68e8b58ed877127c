// Forms are sent as they stand; what is wrong is said beside the field.

import { putInPlace, refresh, say, settle } from "./live.js";

/**
 * Says beside a form what is wrong with it.
 * @param {HTMLFormElement} form
 * @param {string} text
 */
function tell(form, text) {
  const place = form.querySelector(".error");
  if (place) place.textContent = text;
  const field = form.elements.namedItem("value");
  if (field instanceof HTMLElement) {
    if (text) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
}

/** @param {HTMLFormElement} form */
function body(form) {
  const words = new URLSearchParams();
  for (const [name, value] of new FormData(form)) words.append(name, String(value));
  return words;
}

/** What is on its way: Enter in a changed field asks twice for the same.
 * @type {Map<HTMLFormElement, string>} */
const underWay = new Map();

/**
 * Sends a form and shows what follows.
 * @param {HTMLFormElement} form
 */
export async function send(form) {
  const asked = body(form).toString();
  if (underWay.get(form) === asked) return;
  underWay.set(form, asked);
  try {
    await sendOnce(form);
  } finally {
    underWay.delete(form);
  }
}

/**
 * Sends what a hand did as the form would in which the same is typed, so that both save alike.
 * @param {Element} typed the form of the page
 * @param {string} value
 */
export async function sendTyped(typed, value) {
  const form = document.createElement("form");
  form.action = "/edit";
  for (const field of typed.querySelectorAll("input")) {
    const copy = document.createElement("input");
    copy.name = field.name;
    copy.value = field.name === "value" ? value : field.value;
    form.append(copy);
  }
  const error = document.createElement("p");
  error.className = "error";
  form.append(error);
  await send(form);
  if (error.textContent) say(error.textContent);
}

/** @param {HTMLFormElement} form */
async function sendOnce(form) {
  tell(form, "");
  say("");
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(form.action, {
      method: "POST",
      headers: { accept: "application/json" },
      body: body(form),
    });
  } catch {
    tell(form, "Not saved: the desk does not answer.");
    return;
  }
  const said = await answer.json().catch(() => ({}));
  if (answer.ok) {
    settle(form);
    await refresh();
    say(said.said ?? "Saved.");
  } else if (answer.status === 409) {
    const theirs = said.theirs || "nothing";
    tell(form, `Not saved: this was changed meanwhile and is now ${theirs}. Save again to put yours in its place.`);
    await refreshSeen(form);
  } else {
    tell(form, [said.why ?? "It could not be saved", said.help].filter(Boolean).join("; ") + ".");
  }
}

/**
 * Lets a form know what stands there now, so that saving again is a choice made knowingly.
 * @param {HTMLFormElement} form
 */
async function refreshSeen(form) {
  const answer = await fetch(location.href);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const path = form.querySelector('input[name="path"]');
  const what = form.querySelector('input[name="do"]');
  for (const other of page.querySelectorAll("form[data-edit]")) {
    const same = (/** @type {string} */ n, /** @type {Element | null} */ mine) =>
      other.querySelector(`input[name="${n}"]`)?.getAttribute("value") === mine?.getAttribute("value");
    const seen = form.querySelector('input[name="seen"]');
    const fresh = other.querySelector('input[name="seen"]');
    if (same("path", path) && same("do", what) && seen instanceof HTMLInputElement && fresh) {
      seen.value = fresh.getAttribute("value") ?? "";
    }
  }
}

let trying = false;
/** @type {HTMLFormElement | null} */
let waiting = null;

/**
 * Shows what would follow, without saving; the last of several wishes wins.
 * @param {HTMLFormElement} form
 */
async function attempt(form) {
  if (trying) {
    waiting = form;
    return;
  }
  trying = true;
  try {
    const answer = await fetch("/try", { method: "POST", body: body(form) });
    if (answer.ok) {
      tell(form, "");
      putInPlace(await answer.text(), "[data-try]");
    } else {
      const said = await answer.text();
      tell(form, said);
    }
  } finally {
    trying = false;
    const next = waiting;
    waiting = null;
    if (next) await attempt(next);
  }
}

/** @param {EventTarget | null} target */
function formOf(target) {
  return target instanceof Element ? target.closest("form") : null;
}

/** Listens to all forms of the page, also those that come later. */
export function handleEdits() {
  document.addEventListener("submit", (event) => {
    const form = formOf(event.target);
    if (!form || !("edit" in form.dataset || "step" in form.dataset)) return;
    event.preventDefault();
    void send(form);
  });
  document.addEventListener("change", (event) => {
    const form = formOf(event.target);
    const field = event.target;
    if (!form) return;
    if ("go" in form.dataset) form.requestSubmit();
    if (!form.classList.contains("field")) return;
    if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) {
      const value = form.elements.namedItem("value");
      const changed =
        (value instanceof HTMLInputElement || value instanceof HTMLSelectElement) &&
        value.value !== value.dataset.value;
      if (changed) void send(form);
    }
  });
  document.addEventListener("input", (event) => {
    const slider = event.target;
    if (!(slider instanceof HTMLInputElement) || !slider.dataset.slide) return;
    const form = slider.form;
    const field = form?.elements.namedItem("value");
    if (!form || !(field instanceof HTMLInputElement)) return;
    const kind = form.querySelector('input[name="kind"]')?.getAttribute("value") ?? "";
    field.value = kind === "number" ? slider.value : `${slider.value} ${kind}`;
    void attempt(form);
  });
  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Escape" || !(field instanceof HTMLInputElement)) return;
    if (field.dataset.value !== undefined) field.value = field.dataset.value;
    if (!field.form) return;
    tell(field.form, "");
    const slider = field.form.querySelector("[data-slide]");
    if (slider instanceof HTMLInputElement) {
      slider.value = slider.defaultValue;
      void refresh();
    }
  });
}
