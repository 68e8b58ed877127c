// The page follows the project: whatever changed is fetched again and put in place.

/**
 * Says something to those who listen and those who look.
 * @param {string} text
 */
export function say(text) {
  const place = document.getElementById("said");
  if (place) place.textContent = text;
}

/**
 * Whether what is being typed into or dragged would be lost by replacing this part.
 * @param {Element} part
 */
function isTypedInto(part) {
  // What a hand holds on a plan is not pulled from under it.
  if (part.querySelector(".held")) return true;
  const here = document.activeElement;
  return (
    (here instanceof HTMLInputElement || here instanceof HTMLTextAreaElement) &&
    here.type !== "range" &&
    part.contains(here) &&
    here.dataset.value !== undefined &&
    here.value !== here.dataset.value
  );
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
  if (selector === "[data-live]" && old && fresh && parts(document) !== parts(fetched) && !isTypedInto(old)) {
    // Parts came or went: the subject is put in place as a whole.
    const focused = document.activeElement?.id;
    old.replaceWith(document.importNode(fresh, true));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  for (const old of document.querySelectorAll(selector)) {
    const fresh = old.id ? fetched.getElementById(old.id) : null;
    if (!fresh || isTypedInto(old)) continue;
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
