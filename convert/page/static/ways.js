// Ways to work the sketch, as small real braids; they come one by one as they are found.

import { drawBraid, dropsOf } from "./braid.js";
import { $, bench, hasMotif, keep, keyOf, make, made } from "./page.js";
import { askEach } from "./server.js";

const held = new Map();
let shown = { key: "", list: [] };
let coming = null;

// Ways are of the order before one of them was taken.
const baseOf = (state) => ({ ...state, order: state.base ?? state.order });

function nameOf({ way, strands }) {
  const other = {
    "as drawn": "as drawn", taller: "taller", larger: "wider", "along the braid": "along",
    strokes: "lines", mass: "filled",
  };
  return way in other ? `${strands}, ${other[way]}` : `${strands} strands`;
}

const WORDS = { reads: "reads", "a hint": "a hint", lost: "lost" };

export function stopWays() {
  coming?.abort();
  coming = null;
  $("ways").removeAttribute("aria-busy");
}

// Show the ways of what is asked for; ask for those that are not known yet.
export function showWays({ found = null } = {}) {
  const base = baseOf(bench.now);
  const key = keyOf(base);
  if (held.has(key)) shown = { key, list: held.get(key), done: true };
  else if (shown.key !== key) shown = { key, list: [], done: false };
  draw();
  if (found && !held.has(key) && keyOf(bench.now) === key) fill(key, found);
}

async function fill(key, resultKey) {
  stopWays();
  coming = new AbortController();
  const { signal } = coming;
  $("ways").setAttribute("aria-busy", "true");
  const list = [];
  const free = bench.now.free;
  try {
    for await (const way of askEach("ways", { key: resultKey }, signal)) {
      if (signal.aborted) return;
      list.push(way);
      if (shown.key === key) {
        shown.list = list;
        draw();
      }
      if (free && bench.now.free && shown.key === key && takesItself(list)) take(way);
    }
    held.set(key, list);
    if (held.size > 40) held.delete(held.keys().next().value);
  } catch (error) {
    if (!error.superseded) console.warn(error.message);
  } finally {
    if (coming?.signal === signal) {
      stopWays();
      ended();
    }
  }
}

// One that reads may still come, to be taken by itself.
export const isSeeking = () => Boolean(coming) && bench.now.free && keyOf(baseOf(bench.now)) === shown.key;

let ended = () => {};
export const onEnd = (listen) => {
  ended = listen;
};

// What was worked does not read, and this is the first way that does.
function takesItself(list) {
  const read = list.filter((way) => way.verdict === "reads");
  return list.length > 1 && read.length === 1 && read[0] === list.at(-1);
}

let taken = () => {};
export const onTake = (listen) => {
  taken = listen;
};

function take(way) {
  const base = bench.now.base ?? bench.now.order;
  const texts = Object.entries(way.form).filter(([, text]) => text !== null);
  bench.change({
    order: { ...base, ...Object.fromEntries(texts) },
    base: texts.length ? base : null,
    free: false,
  });
  taken();
}

function isTaken(way) {
  const { order, base } = bench.now;
  const want = { ...(base ?? order), ...way.form };
  return Object.keys(want).every((name) => (want[name] ?? "") === (order[name] ?? ""));
}

function draw() {
  drawWays($("ways"), hasMotif(bench.now) && made.result ? shown.list : [], nameOf);
}

// Ways as buttons, each a small real braid with its name and its word.
export function drawWays(box, ways, naming, picked = () => {}) {
  keep(box, ways, (way) => way.way, () => create(picked), (button, way) => {
    const { name, word, canvas } = button.parts;
    name.textContent = naming(way);
    word.textContent = way.verdict ? WORDS[way.verdict] : "";
    word.className = `word ${way.verdict ?? ""}`;
    button.way = way;
    button.setAttribute("aria-pressed", String(isTaken(way)));
    if (canvas.drawn !== way.piece) {
      canvas.drawn = way.piece;
      drawPiece(canvas, way);
    }
  });
}

function create(picked) {
  const canvas = make("canvas", { width: 1, height: 1 });
  canvas.setAttribute("aria-hidden", "true");
  const [name, word] = [make("span", { className: "name" }), make("span", { className: "word" })];
  const button = make("button", { type: "button", className: "way" }, canvas, name, word);
  button.parts = { canvas, name, word };
  button.addEventListener("click", () => {
    if (button.getAttribute("aria-pressed") !== "true") take(button.way);
    picked();
  });
  return button;
}

function drawPiece(canvas, { piece, view_deg: viewDeg }) {
  const ratio = window.devicePixelRatio || 1;
  const [wide, high] = [56, 76];
  canvas.width = wide * ratio;
  canvas.height = high * ratio;
  const [low, top] = piece.window_mm;
  // of a long text or a pattern a part is shown, or it would be a hair
  const whole = Math.min(high / (top - low), wide / (piece.thickness_mm + 0.5));
  const scale = Math.max(whole, (0.35 * wide) / piece.thickness_mm);
  const spare = (high / scale - (top - low)) / 2;
  const context = canvas.getContext("2d");
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  drawBraid(context, ratio, piece, piece.beads, piece.palette, viewDeg, dropsOf(piece.drops), {
    pxPerMm: scale,
    lowMm: low - spare,
    highMm: top + spare,
    lying: false,
    rolled: 0,
    at: (x, y) => [wide / 2 + x * scale, (top + spare - y) * scale],
  });
}
