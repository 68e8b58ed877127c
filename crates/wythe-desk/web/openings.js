// Walls are chosen on the plan; doors and windows are dragged along them.

import { sendTyped } from "./edit.js";
import { say } from "./live.js";
import { length } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";
/** Steps an opening moves in, m. */
const STEP_M = 0.05;

/**
 * @typedef {object} Piece
 * @property {[number, number]} left
 * @property {[number, number]} right
 */

/**
 * @typedef {object} Wall
 * @property {string} name
 * @property {Piece[]} pieces
 * @property {{ index: number, name: string, along: number, width: number, ends: [[number, number], [number, number]], through: [number, number] }[]} openings
 */

/**
 * Distance of a point from a piece, and how far along it lies, m.
 * @param {[number, number]} p
 * @param {Piece} piece
 */
function onto(p, { left, right }) {
  const [dx, dy] = [right[0] - left[0], right[1] - left[1]];
  const long = Math.hypot(dx, dy) || 1e-9;
  const along = Math.min(long, Math.max(0, ((p[0] - left[0]) * dx + (p[1] - left[1]) * dy) / long));
  const away = Math.hypot(p[0] - left[0] - (along * dx) / long, p[1] - left[1] - (along * dy) / long);
  return { away, along, long };
}

/**
 * A point of the screen on the plan, m.
 * @param {SVGSVGElement} picture
 * @param {{ x: number, y: number, scale: number, margin: number }} frame
 * @param {{ clientX: number, clientY: number }} event
 * @returns {[number, number]}
 */
export function onPlan(picture, frame, event) {
  const turn = picture.getScreenCTM()?.inverse();
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(turn);
  return [frame.x + (at.x - frame.margin) / frame.scale, frame.y - (at.y - frame.margin) / frame.scale];
}

/** @param {HTMLElement} sheet */
function prepare(sheet) {
  const picture = sheet.querySelector("svg");
  if (!picture || sheet.dataset.openings) return;
  sheet.dataset.openings = "1";
  /** @type {Wall[]} */
  const walls = JSON.parse(sheet.dataset.sides ?? "[]");
  const frame = JSON.parse(sheet.dataset.frame ?? "{}");
  const at = (/** @type {[number, number]} */ c) => [
    frame.margin + (c[0] - frame.x) * frame.scale,
    frame.margin + (frame.y - c[1]) * frame.scale,
  ];
  // A click that moves nothing chooses the wall; the same hand drags it.
  let pressed = { x: 0, y: 0 };
  picture.addEventListener("pointerdown", (event) => (pressed = { x: event.clientX, y: event.clientY }));
  picture.addEventListener("pointerup", (event) => {
    if (document.body.classList.contains("aiming") || Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) > 3) return;
    const here = onPlan(picture, frame, event);
    let best = { away: 14 / frame.scale, name: "" };
    for (const wall of walls) {
      for (const piece of wall.pieces) {
        const { away } = onto(here, piece);
        if (away < best.away) best = { away, name: wall.name };
      }
    }
    if (best.name) choose(best.name);
  });
  for (const wall of walls) {
    for (const opening of wall.openings) {
      const [a, b] = opening.ends;
      const [tx, ty] = opening.through;
      const middle = (/** @type {[number, number]} */ p) => at([p[0] + tx / 2, p[1] + ty / 2]);
      const [x1, y1] = middle(a);
      const [x2, y2] = middle(b);
      const line = document.createElementNS(SVG, "line");
      for (const [name, value] of Object.entries({ x1, y1, x2, y2 })) line.setAttribute(name, String(value));
      line.setAttribute("class", "handle opening");
      picture.append(line);
      drag(line, picture, frame, wall, opening);
    }
  }
}

/** @param {string} name */
function choose(name) {
  const there = new URL(location.href);
  there.searchParams.set("wall", name);
  there.hash = "wall";
  location.href = there.href;
}

/**
 * @param {SVGLineElement} line
 * @param {SVGSVGElement} picture
 * @param {{ x: number, y: number, scale: number, margin: number }} frame
 * @param {Wall} wall
 * @param {Wall["openings"][number]} opening
 */
function drag(line, picture, frame, wall, opening) {
  let held = false;
  let along = opening.along;
  line.addEventListener("pointerdown", (event) => {
    held = true;
    along = opening.along;
    line.setPointerCapture(event.pointerId);
    line.classList.add("held");
  });
  line.addEventListener("pointermove", (event) => {
    if (!held) return;
    const here = onPlan(picture, frame, event);
    let before = 0;
    let best = { away: Infinity, along: opening.along, x: 0, y: 0 };
    for (const piece of wall.pieces) {
      const found = onto(here, piece);
      const half = Math.min(opening.width, found.long) / 2;
      const on = Math.min(found.long - half, Math.max(half, Math.round(found.along / STEP_M) * STEP_M));
      if (found.away < best.away) {
        const share = on / found.long;
        best = {
          away: found.away,
          along: before + on,
          x: piece.left[0] + (piece.right[0] - piece.left[0]) * share,
          y: piece.left[1] + (piece.right[1] - piece.left[1]) * share,
        };
      }
      before += found.long;
    }
    along = Math.round(best.along * 1000) / 1000;
    const [a, b] = opening.ends;
    const from = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    line.setAttribute("transform", `translate(${(best.x - (from[0] ?? 0)) * frame.scale} ${-(best.y - (from[1] ?? 0)) * frame.scale})`);
    say(`${opening.name}: ${length(along)} from the left end`);
  });
  const drop = (/** @type {boolean} */ keep) => {
    held = false;
    line.classList.remove("held");
    line.removeAttribute("transform");
    if (keep && Math.abs(along - opening.along) > 1e-6) void put(wall, opening.index, along);
  };
  line.addEventListener("pointerup", () => drop(true));
  line.addEventListener("pointercancel", () => drop(false));
}

/**
 * Sends the place through the form it could be typed into.
 * @param {Wall} wall
 * @param {number} index
 * @param {number} along metres
 */
async function put(wall, index, along) {
  const answer = await fetch(`/house?wall=${encodeURIComponent(wall.name)}`);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const typed = page.querySelector(`form[data-along="${index}"]`);
  if (!typed) {
    say("This opening is described in an included file; change it there.");
    return;
  }
  await sendTyped(typed, `${along} m`);
}

/** Prepares every plan, now and when it is drawn again. */
export function handleOpenings() {
  const all = () => document.querySelectorAll("[data-sides]").forEach((s) => s instanceof HTMLElement && prepare(s));
  all();
  document.addEventListener("wythe-fresh", all);
}
