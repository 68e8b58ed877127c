// A click near a point of the frontier chooses it, as its line in the table does.

/** How far from a point a click may be, px. */
const NEAR = 24;

/** Listens to all frontiers. */
export function handlePoints() {
  document.addEventListener("click", (event) => {
    const target = event.target;
    const sheet = target instanceof Element ? target.closest("[data-points]") : null;
    const picture = target instanceof Element ? target.closest("svg") : null;
    if (!sheet || !picture) return;
    // Every point is drawn as three circles, one on the other, in the order of the table.
    const circles = [...picture.querySelectorAll("circle")].filter((_, i) => i % 3 === 0);
    const far = circles.map((c) => {
      const box = c.getBoundingClientRect();
      return Math.hypot(box.left + box.width / 2 - event.clientX, box.top + box.height / 2 - event.clientY);
    });
    const nearest = far.indexOf(Math.min(...far));
    if (nearest < 0 || (far[nearest] ?? Infinity) > NEAR) return;
    const link = document.querySelectorAll("[data-point]")[nearest];
    if (link instanceof HTMLElement) link.click();
  });
}
