// One key per command; none works while somebody types.

/** @param {string} id */
function press(id) {
  const form = document.getElementById(id);
  if (form instanceof HTMLFormElement && !form.querySelector("button")?.disabled) form.requestSubmit();
}

/** @param {string} selector */
function go(selector) {
  const link = document.querySelector(selector);
  if (link instanceof HTMLElement) link.click();
}

/** Listens to keys. */
export function handleKeys() {
  let afterG = false;
  document.addEventListener("keydown", (event) => {
    const at = event.target;
    const typing =
      at instanceof HTMLElement &&
      (at.isContentEditable || at.matches("input:not([type=range]):not([type=file]), textarea, select"));
    if (typing || event.altKey) return;
    if (event.ctrlKey || event.metaKey) {
      // The keys of every other program; in a field they belong to the field.
      const key = event.key.toLowerCase();
      const step = key === "y" || (key === "z" && event.shiftKey) ? "redo" : key === "z" ? "undo" : "";
      if (step) {
        event.preventDefault();
        press(step);
      }
      return;
    }
    const key = event.key;
    if (afterG) {
      afterG = false;
      go(`[data-after-g="${CSS.escape(key)}"]`);
    } else if (key === "g") {
      afterG = true;
    } else if (key === "u") {
      press("undo");
    } else if (key === "U") {
      press("redo");
    } else if (key === "/") {
      event.preventDefault();
      const first = document.querySelector("#outline a");
      if (first instanceof HTMLElement) first.focus();
    } else if (key === "?") {
      go('[data-after-g="k"]');
    } else if (/^[1-9]$/.test(key)) {
      go(`[data-key="${key}"]`);
    }
  });
}
