// Walls are dragged on the plan. The hand says how far; the desk moves the wall.

import { sendTyped } from "./edit.js";
import { say } from "./live.js";
import { length } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";
/** Steps a dragged wall moves in, m. */
const STEP_M = 0.05;
/** A wall this near to another snaps to it, m. */
const SNAP_M = 0.12;

/**
 * @typedef {object} Room
 * @property {string} id
 * @property {string} name
 * @property {[number, number][]} corners
 */

/** @param {[number, number][]} corners */
function turning(corners) {
  let twice = 0;
  corners.forEach((p, i) => {
    const q = corners[(i + 1) % corners.length] ?? p;
    twice += p[0] * q[1] - q[0] * p[1];
  });
  return Math.sign(twice);
}

/**
 * How far outwards, in steps, and onto a neighbour's wall where one is near.
 * @param {number} raw
 * @param {{ along: 0 | 1, at: number, sign: number } | null} straight
 * @param {Room[]} others
 */
function snapped(raw, straight, others) {
  if (straight) {
    const now = straight.at + straight.sign * raw;
    for (const room of others) {
      for (const c of room.corners) {
        if (Math.abs(c[straight.along] - now) < SNAP_M) {
          return Math.round((c[straight.along] - straight.at) * straight.sign * 1000) / 1000;
        }
      }
    }
  }
  return Math.round(raw / STEP_M) * STEP_M;
}

/** @param {HTMLElement} sheet */
function prepare(sheet) {
  const picture = sheet.querySelector("svg");
  if (!picture || sheet.dataset.ready) return;
  sheet.dataset.ready = "1";
  /** @type {Room[]} */
  const rooms = JSON.parse(sheet.dataset.walls ?? "[]");
  const frame = JSON.parse(sheet.dataset.frame ?? "{}");
  const at = (/** @type {[number, number]} */ c) => [
    frame.margin + (c[0] - frame.x) * frame.scale,
    frame.margin + (frame.y - c[1]) * frame.scale,
  ];
  for (const room of rooms) {
    room.corners.forEach((a, i) => {
      const b = room.corners[(i + 1) % room.corners.length];
      if (!b) return;
      const [x1, y1] = at(a);
      const [x2, y2] = at(b);
      const line = document.createElementNS(SVG, "line");
      for (const [name, value] of Object.entries({ x1, y1, x2, y2 })) line.setAttribute(name, String(value));
      line.setAttribute("class", "handle");
      picture.append(line);
      drag(line, room, i, a, b, frame.scale, rooms);
    });
  }
}

/**
 * @param {SVGLineElement} line
 * @param {Room} room
 * @param {number} wall
 * @param {[number, number]} a
 * @param {[number, number]} b
 * @param {number} scale px per metre in the picture's own units
 * @param {Room[]} rooms
 */
function drag(line, room, wall, a, b, scale, rooms) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const long = Math.hypot(dx, dy);
  const out = /** @type {const} */ ([(turning(room.corners) * dy) / long, (-turning(room.corners) * dx) / long]);
  const along = Math.abs(out[0]) > 0.999 ? 0 : Math.abs(out[1]) > 0.999 ? 1 : null;
  const straight = along === null ? null : { along: /** @type {0 | 1} */ (along), at: a[along], sign: Math.sign(out[along] ?? 1) };
  const others = rooms.filter((r) => r !== room);
  /** @type {{ x: number, y: number } | null} */
  let from = null;
  let by = 0;
  line.addEventListener("pointerdown", (event) => {
    from = { x: event.clientX, y: event.clientY };
    by = 0;
    line.setPointerCapture(event.pointerId);
    line.classList.add("held");
  });
  line.addEventListener("pointermove", (event) => {
    if (!from) return;
    const shown = line.ownerSVGElement?.getScreenCTM()?.a ?? 1;
    const moved = [(event.clientX - from.x) / shown / scale, -(event.clientY - from.y) / shown / scale];
    by = snapped((moved[0] ?? 0) * out[0] + (moved[1] ?? 0) * out[1], straight, others);
    line.setAttribute("transform", `translate(${by * out[0] * scale} ${-by * out[1] * scale})`);
    say(`${room.name}: wall ${by >= 0 ? "outwards" : "inwards"} by ${length(Math.abs(by))}`);
  });
  const drop = (/** @type {boolean} */ keep) => {
    line.classList.remove("held");
    line.removeAttribute("transform");
    from = null;
    if (keep && Math.abs(by) > 1e-6) void move(room, wall, by);
  };
  line.addEventListener("pointerup", () => drop(true));
  line.addEventListener("pointercancel", () => drop(false));
}

/**
 * Sends the move through a form like the one that is typed into.
 * @param {Room} room
 * @param {number} wall
 * @param {number} by metres outwards
 */
async function move(room, wall, by) {
  const seen = await fetch(`/house?room=${encodeURIComponent(room.id)}`);
  const page = new DOMParser().parseFromString(await seen.text(), "text/html");
  const typed = page.querySelector(`form[data-wall="${wall}"]`);
  if (!typed) return;
  await sendTyped(typed, `${by} m`);
}

/** Prepares every plan, now and when it is drawn again. */
export function handleWalls() {
  const all = () => document.querySelectorAll("[data-walls]").forEach((s) => s instanceof HTMLElement && prepare(s));
  all();
  document.addEventListener("wythe-fresh", all);
}
