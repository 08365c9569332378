// The sketch over the braid: drawn as a tracing, and held by its frame.

import { around, middleMm } from "./chart.js";
import { glance } from "./glance.js";
import { say } from "./line.js";
import { $, bench, made, shared, view } from "./page.js";

let drag = null;
let flat = null;

// The tracing lies on the beads, half a bead outside their middles.
const reachOf = (geometry) => geometry.radius_mm + geometry.bead_mm[0] / 2;

// The sketch of what is seen is here, and lies on the braid as it was drawn.
const there = () =>
  Boolean(made.result?.width_mm && !made.result.composed && bench.now.sketch && shared.ghost?.of === bench.now.sketch.id);

export const isHeld = () => drag !== null;

// Where the motifs lie, or would lie while the hand holds one.
function placeNow() {
  const { placement, width_mm: width } = made.result;
  if (drag) return drag.place;
  return {
    x: placement.centres_mm[0][0],
    y: placement.centres_mm[0][1],
    width,
    rotate: placement.rotate_deg,
    stretch: placement.stretch,
  };
}

function motifInSight() {
  const centres = made.result.placement.centres_mm;
  let best = 0;
  centres.forEach(([, y], k) => {
    if (Math.abs(y - view.middleMm) < Math.abs(centres[best][1] - view.middleMm)) best = k;
  });
  return best;
}

// One motif, turned and stretched, as it lies on the unrolled braid.
function flatMotif(place, scale) {
  const { placement } = made.result;
  const key = [shared.ghost.src, place.width, place.rotate, place.stretch, scale, placement.part].join();
  if (flat?.key === key) return flat;
  const [left, top, right, bottom] = placement.part;
  const [w, h] = [shared.ghost.naturalWidth, shared.ghost.naturalHeight];
  const from = [left * w, top * h, (right - left) * w, (bottom - top) * h];
  const turn = (place.rotate * Math.PI) / 180;
  const [cos, sin] = [Math.abs(Math.cos(turn)), Math.abs(Math.sin(turn))];
  const [px, py] = placement.size_px;
  const mmPerPx = place.width / (px * cos + py * sin);
  const size = [place.width, (px * sin + py * cos) * mmPerPx * place.stretch];
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(size[0] * scale));
  canvas.height = Math.max(1, Math.round(size[1] * scale));
  const context = canvas.getContext("2d");
  context.translate(canvas.width / 2, canvas.height / 2);
  context.scale(1, place.stretch);
  context.rotate(turn);
  const [wide, high] = [px * mmPerPx * scale, py * mmPerPx * scale];
  context.drawImage(shared.ghost, ...from, -wide / 2, -high / 2, wide, high);
  flat = { key, canvas, size, scale };
  return flat;
}

// Draw the tracing: column by column round the braid, or flat where that is rolled out.
export function drawTracing(context, width, ratio) {
  const strength = 1 - Number($("fade").value) / 100;
  if (!strength || !there()) return;
  const { geometry, result } = made;
  const scale = view.pxPerMm;
  const place = placeNow();
  const { canvas, size } = flatMotif(place, scale * ratio);
  const radius = geometry.radius_mm;
  const middle = middleMm(geometry, view.viewDeg);
  const reach = view.rolled ? geometry.circumference_mm / 2 : reachOf(geometry);
  const face = result.placement.fit === "face";
  context.save();
  context.globalAlpha = strength;
  context.imageSmoothingQuality = "high";
  for (const [cx, cy] of centresNow(place)) {
    const top = view.rowPx(cy + size[1] / 2);
    const high = size[1] * scale;
    if (top > view.heightPx || top + high < 0) continue;
    const centre = around(geometry, cx - middle);
    const columns = Math.ceil(2 * reach * scale * ratio);
    for (let k = 0; k < columns; k += 1) {
      const x = ((k + 0.5) / columns - 0.5) * 2 * reach;
      const unrolled = view.rolled ? x : radius * Math.asin(x / reach);
      const away = around(geometry, unrolled - centre);
      if (face && Math.abs(away) > (radius * Math.PI) / 2) continue;
      const u = face ? radius * Math.sin(away / radius) : away;
      const column = (u / size[0] + 0.5) * canvas.width;
      if (column < 0 || column >= canvas.width) continue;
      const at = width / 2 + x * scale;
      context.drawImage(canvas, Math.floor(column), 0, 1, canvas.height, at, top, 1.02 / ratio, high);
    }
  }
  context.restore();
}

function centresNow(place) {
  const centres = made.result.placement.centres_mm;
  const [x, y] = centres[0];
  return centres.map(([a, b]) => [a - x + place.x, b - y + place.y]);
}

// ---- the frame

const onScreen = (geometry, mm) =>
  view.rolled ? mm : reachOf(geometry) * Math.sin(Math.max(-1.5, Math.min(1.5, mm / geometry.radius_mm)));

export function placeFrame() {
  const frame = $("frame");
  const { geometry } = made;
  const colouring = shared.brush !== null;
  frame.hidden = !there() || colouring || (view.rolled > 0 && view.rolled < 1);
  if (frame.hidden) return;
  const place = placeNow();
  const { size } = flatMotif(place, view.pxPerMm * (window.devicePixelRatio || 1));
  const [cx, cy] = centresNow(place)[motifInSight()];
  const centre = around(geometry, cx - middleMm(geometry, view.viewDeg));
  const hidden = !view.rolled && Math.abs(centre) > geometry.radius_mm * 1.5;
  frame.hidden = hidden || Math.abs(cy - view.middleMm) > view.heightPx / view.pxPerMm;
  if (frame.hidden) return;
  const [left, right] = [centre - size[0] / 2, centre + size[0] / 2].map((mm) => onScreen(geometry, mm));
  const middle = $("braid").clientWidth / 2;
  frame.style.left = `${middle + left * view.pxPerMm}px`;
  frame.style.width = `${Math.max(12, (right - left) * view.pxPerMm)}px`;
  frame.style.top = `${view.rowPx(cy + size[1] / 2)}px`;
  frame.style.height = `${Math.max(12, size[1] * view.pxPerMm)}px`;
}

// What a place is in the form: found sizes are kept as they are seen once a hand has been laid on.
function texts(place, grip) {
  const { geometry, result } = made;
  const out = {};
  if (grip === "move") {
    const half = Math.floor(5 * geometry.length_mm) / 10;
    const up = Math.min(half, Math.max(-half, place.y - result.unmoved_mm));
    out.right = around(geometry, place.x).toFixed(1);
    out.up = up.toFixed(1);
  }
  out.width = Math.min(result.most_width_mm, place.width).toFixed(1);
  out.stretch = String(Number(place.stretch.toFixed(2)));
  const turned = ((((place.rotate + 180) % 360) + 360) % 360) - 180;
  if (grip === "turn" || Math.abs(place.rotate) > 0.01) out.rotate = String(Number(turned.toFixed(1)));
  return out;
}

export function holdFrame(placed) {
  const frame = $("frame");
  let stroke = 0;
  frame.addEventListener("pointerdown", (event) => {
    if (event.button || !there()) return;
    event.preventDefault();
    frame.focus({ preventScroll: true });
    frame.setPointerCapture(event.pointerId);
    const grip = event.target.dataset.grip ?? "move";
    stroke += 1;
    const mark = `place ${stroke}`;
    const box = frame.getBoundingClientRect();
    const middle = [box.left + box.width / 2, box.top + box.height / 2];
    const start = placeNow();
    const first = [event.clientX, event.clientY];
    let changed = false;
    const move = (next) => {
      const at = [next.clientX, next.clientY];
      drag = { place: moved(grip, start, first, at, middle) };
      changed = true;
      made.put({ beads: glance(made, shared.ghost, drag.place, centresNow(drag.place)) });
      placed(texts(drag.place, grip), mark, false);
      say(heldWords(grip, start, drag.place));
    };
    const end = () => {
      frame.removeEventListener("pointermove", move);
      frame.removeEventListener("pointerup", end);
      frame.removeEventListener("pointercancel", end);
      const last = drag;
      drag = null;
      if (changed) placed(texts(last.place, grip), mark, true);
      bench.settle();
    };
    frame.addEventListener("pointermove", move);
    frame.addEventListener("pointerup", end);
    frame.addEventListener("pointercancel", end);
  });
  frame.addEventListener("keydown", (event) => keys(event, placed));
}

// While it is held nothing is judged: how far it has come.
function heldWords(grip, start, place) {
  const mm = (value) => `${value.toFixed(1)} mm`;
  if (grip === "turn") return `Turned ${Math.round(place.rotate)} degrees.`;
  if (grip !== "move") return `${mm(place.width)} wide, ${mm(flatMotif(place, view.pxPerMm).size[1])} tall.`;
  const [right, up] = [place.x - start.x, place.y - start.y];
  const away = [
    `${mm(Math.abs(right))} to the ${right < 0 ? "left" : "right"}`, `${mm(Math.abs(up))} ${up < 0 ? "down" : "up"}`,
  ];
  return `${away.join(", ")}.`;
}

function moved(grip, start, first, at, middle) {
  const { result } = made;
  const scale = view.pxPerMm;
  const right = (at[0] - first[0]) / scale;
  if (grip === "move") {
    return { ...start, x: start.x + right, y: start.y - (at[1] - first[1]) / scale };
  }
  if (grip === "size") {
    const far = (point) => Math.hypot(point[0] - middle[0], point[1] - middle[1]);
    const times = Math.max(0.15, far(at) / Math.max(8, far(first)));
    return { ...start, width: Math.min(result.most_width_mm, Math.max(2, start.width * times)) };
  }
  if (grip === "tall") {
    const times = Math.abs(at[1] - middle[1]) / Math.max(8, Math.abs(first[1] - middle[1]));
    return { ...start, stretch: Math.min(4, Math.max(0.25, start.stretch * times)) };
  }
  const angle = (point) => Math.atan2(point[1] - middle[1], point[0] - middle[0]);
  let rotate = start.rotate + ((angle(at) - angle(first)) * 180) / Math.PI;
  const upright = Math.round(rotate / 45) * 45;
  if (Math.abs(rotate - upright) < 3) rotate = upright;
  return turnedTo(start, rotate);
}

// Turned as it is, neither larger nor smaller, as far as it goes round.
function turnedTo(start, rotate) {
  const { placement, most_width_mm: most } = made.result;
  const [px, py] = placement.size_px;
  const wide = (deg) => {
    const turn = (deg * Math.PI) / 180;
    return px * Math.abs(Math.cos(turn)) + py * Math.abs(Math.sin(turn));
  };
  return { ...start, rotate, width: Math.min(most, (start.width * wide(rotate)) / wide(start.rotate)) };
}

function keys(event, placed) {
  if (event.ctrlKey || event.metaKey || event.altKey || !there()) return;
  const far = event.shiftKey ? 4 : 1;
  const start = placeNow();
  const acts = {
    ArrowLeft: ["move", { x: start.x - 0.5 * far }],
    ArrowRight: ["move", { x: start.x + 0.5 * far }],
    ArrowUp: ["move", { y: start.y + 0.5 * far }],
    ArrowDown: ["move", { y: start.y - 0.5 * far }],
    "+": ["size", { width: start.width * 1.05 }],
    "=": ["size", { width: start.width * 1.05 }],
    "-": ["size", { width: start.width / 1.05 }],
    t: ["tall", { stretch: Math.min(4, start.stretch * 1.1) }],
    T: ["tall", { stretch: Math.max(0.25, start.stretch / 1.1) }],
    "[": ["turn", turnedTo(start, start.rotate - 5)],
    "]": ["turn", turnedTo(start, start.rotate + 5)],
    "{": ["turn", turnedTo(start, start.rotate - 15)],
    "}": ["turn", turnedTo(start, start.rotate + 15)],
  };
  const wanted = acts[event.key];
  if (!wanted) return;
  event.preventDefault();
  const [grip, change] = wanted;
  placed(texts({ ...start, ...change }, grip), `key ${grip}`, true);
}
