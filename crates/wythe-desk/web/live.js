// The page follows the project: whatever changed is fetched again and put in place.

/**
 * Says something to those who listen and those who look.
 * @param {string} text
 */
export function say(text) {
  const place = document.getElementById("said");
  if (place) place.textContent = text;
}

/** @param {Element} field whether it holds something else than what the desk sent */
function isAltered(field) {
  if (field instanceof HTMLTextAreaElement) return field.value !== field.defaultValue;
  if (field instanceof HTMLSelectElement) {
    const sent = [...field.options].findIndex((o) => o.defaultSelected);
    return field.selectedIndex !== Math.max(sent, 0);
  }
  if (!(field instanceof HTMLInputElement) || field.type === "hidden" || field.type === "range") return false;
  if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
  return field.value !== field.defaultValue;
}

/** @param {HTMLFormElement} form whether somebody put something into it that is not sent yet */
const isFilledIn = (form) => [...form.elements].some(isAltered);

/**
 * Takes what stands in a form as what the desk has, for it was saved.
 * @param {HTMLFormElement} form
 */
export function settle(form) {
  for (const field of form.elements) {
    if (field instanceof HTMLSelectElement) for (const o of field.options) o.defaultSelected = o.selected;
    else if (field instanceof HTMLTextAreaElement) field.defaultValue = field.value;
    else if (field instanceof HTMLInputElement) {
      field.defaultChecked = field.checked;
      field.defaultValue = field.value;
    }
    if (field instanceof HTMLInputElement || field instanceof HTMLSelectElement) {
      if (field.dataset.value !== undefined) field.dataset.value = field.value;
    }
  }
}

/**
 * Whether what a hand holds, typed or tries would be lost by replacing this part.
 * @param {Element} part
 */
function isInHand(part) {
  // What a hand holds on a plan is not pulled from under it.
  if (part.querySelector(".held")) return true;
  const forms = [part.closest("form"), ...part.querySelectorAll("form[data-edit], form[data-sheet]")];
  // A moved slider shows what would follow until it is let go.
  if (part.matches("[data-try]")) forms.push(...document.querySelectorAll("form:has([data-slide])"));
  return forms.some((f) => f instanceof HTMLFormElement && isFilledIn(f));
}

/**
 * Puts the parts of a fetched page in place of those that differ.
 * @param {string} html
 * @param {string} [selector] which parts
 */
export function putInPlace(html, selector = "[data-live]") {
  const fetched = new DOMParser().parseFromString(html, "text/html");
  const parts = (/** @type {Document} */ d) => [...d.querySelectorAll("main [data-live]")].map((p) => p.id).join();
  const [old, fresh] = [document.getElementById("middle"), fetched.getElementById("middle")];
  if (selector === "[data-live]" && old && fresh && parts(document) !== parts(fetched) && !isInHand(old)) {
    // Parts came or went: the subject is put in place as a whole.
    const focused = document.activeElement?.id;
    old.replaceWith(document.importNode(fresh, true));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  for (const old of document.querySelectorAll(selector)) {
    const fresh = old.id ? fetched.getElementById(old.id) : null;
    if (!fresh || (selector === "[data-live]" && isInHand(old))) continue;
    if (fresh.outerHTML === old.outerHTML) continue;
    const focused = old.contains(document.activeElement) ? document.activeElement?.id : "";
    const opened = [...old.querySelectorAll("details")].map((d) => d.open);
    const shown = document.importNode(fresh, true);
    shown.querySelectorAll("details").forEach((d, i) => {
      if (opened[i]) d.open = true;
    });
    old.replaceWith(shown);
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  if (fetched.title) document.title = fetched.title;
  if (fetched.body.dataset.mark) document.body.dataset.mark = fetched.body.dataset.mark;
  document.dispatchEvent(new CustomEvent("wythe-fresh"));
}

/** @type {Promise<void> | null} */
let fetching = null;
let wanted = 0;
let shown = 0;

/** Fetches this page once. */
async function fetchOnce() {
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (answer.ok) putInPlace(await answer.text());
  } catch {
    say("The desk does not answer. Is it still running?");
  }
}

/** Fetches this page again; one request at a time. Ends when one that began later than this is shown. */
export async function refresh() {
  const mine = ++wanted;
  while (shown < mine) {
    if (!fetching) {
      const upTo = wanted;
      fetching = fetchOnce().then(() => {
        shown = upTo;
        fetching = null;
      });
    }
    await fetching;
  }
}

/** Listens to what the desk tells. */
export function follow() {
  if (!document.body.dataset.mark) return;
  const told = new EventSource("/events");
  told.addEventListener("changed", () => void refresh());
  told.addEventListener("worked", () => void refresh());
  told.addEventListener("progress", (event) => {
    const { doing, share } = JSON.parse(/** @type {MessageEvent<string>} */ (event).data);
    const words = document.getElementById("doing");
    const bar = document.getElementById("share");
    if (words) words.textContent = `${doing}…`;
    else void refresh();
    if (bar instanceof HTMLProgressElement) bar.value = share;
  });
  addEventListener("pagehide", () => told.close());
}
