// The phone page: notes are sent without losing what is typed, and the page follows the desk.

/** How often the page is fetched again, ms. */
const EVERY = 10_000;

/** @param {string} text */
function say(text) {
  const place = document.getElementById("phone-said");
  if (place) place.textContent = text;
}

/** Whether a hand is at something that replacing the page would take away. */
function isBusy() {
  const at = document.activeElement;
  const text = document.querySelector("#free input");
  const typed = text instanceof HTMLInputElement && text.value !== "";
  return typed || at instanceof HTMLSelectElement || (at instanceof HTMLInputElement && at.value !== "");
}

/** @param {string} html */
function putInPlace(html) {
  const fresh = new DOMParser().parseFromString(html, "text/html").getElementById("middle");
  const old = document.getElementById("middle");
  if (fresh && old) old.replaceWith(document.importNode(fresh, true));
  startClock();
}

let shownAt = performance.now();
let secondsOfDay = 0;

/** The computer's clock, from the page on. */
function startClock() {
  const clock = document.getElementById("clock");
  const found = clock?.dataset.clock?.match(/(\d\d):(\d\d):(\d\d)/);
  if (!found) return;
  shownAt = performance.now();
  secondsOfDay = Number(found[1]) * 3600 + Number(found[2]) * 60 + Number(found[3]);
}

function tick() {
  const clock = document.getElementById("clock");
  if (!clock) return;
  const now = Math.floor(secondsOfDay + (performance.now() - shownAt) / 1000) % 86_400;
  const two = (/** @type {number} */ n) => String(Math.floor(n)).padStart(2, "0");
  clock.textContent = `${two(now / 3600)}:${two((now % 3600) / 60)}:${two(now % 60)}`;
}

async function refresh() {
  if (!document.getElementById("log") || isBusy() || document.hidden) return;
  try {
    const answer = await fetch("/");
    if (answer.ok && !isBusy()) putInPlace(await answer.text());
  } catch {
    say("The computer does not answer. Is the desk still running, and this phone in its network?");
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !("note" in form.dataset)) return;
  event.preventDefault();
  const words = new URLSearchParams();
  for (const [name, value] of new FormData(form, event.submitter)) words.append(name, String(value));
  const send = async () => {
    /** @type {Response} */
    let answer;
    try {
      answer = await fetch("/note", { method: "POST", body: words, headers: { "x-wythe-phone": "1" } });
    } catch {
      say("Not noted: the computer does not answer. Try again.");
      return;
    }
    if (answer.ok) {
      putInPlace(await answer.text());
      say("Noted.");
    } else if (answer.status === 403) {
      location.reload();
    } else if (answer.status === 429) {
      say("Not noted: too many notes in a minute.");
    } else {
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      say(page.getElementById("phone-said")?.textContent || "Not noted.");
    }
  };
  void send();
});

document.addEventListener("change", (event) => {
  const select = event.target;
  if (!(select instanceof HTMLSelectElement) || !("room" in select.dataset)) return;
  select.blur();
  void fetch("/room", { method: "POST", body: new URLSearchParams({ room: select.value }) }).then(refresh, () =>
    say("The computer does not answer."),
  );
});

startClock();
setInterval(tick, 500);
setInterval(() => void refresh(), EVERY);
