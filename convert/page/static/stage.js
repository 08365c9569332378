// The braid, large: a close piece of it, round or rolled out, to turn, to colour, to lay the sketch on.

import { beadAt, drawBraid } from "./braid.js";
import { around, beadNear, drawChart, middleMm, neighbourTowards, outlineCell, patch } from "./chart.js";
import { paint, pickUp, stopColouring, wordsOf } from "./colour.js";
import { $, bench, made, shared, view } from "./page.js";
import { drawTracing, isHeld, placeFrame } from "./tracing.js";
import { Sheet } from "./view.js";

export const sheet = new Sheet($("braid"), draw);

// As large as the room allows: one motif and a half, or one alone if it is tall and narrow; and
// never beads as large as saucers.
export function layOut() {
  const stage = $("stage");
  const [wide, high] = [stage.clientWidth, stage.clientHeight];
  const { geometry, result } = made;
  view.heightPx = high;
  if (geometry) {
    const centres = result.placement?.centres_mm ?? [];
    const apart = centres.length > 1 ? centres[1][1] - centres[0][1] : 0;
    // a pattern has no one motif: about as much of it as goes round
    const pattern = result.composed && bench.now.order.all_round === "yes";
    const whole = pattern ? 2 * geometry.circumference_mm : (result.sketch_mm?.[1] ?? 0) * 1.15;
    const one = apart || whole || 8 * geometry.pitch_mm;
    const across = view.rolled ? geometry.circumference_mm : geometry.thickness_mm + 4;
    const most = Math.min((wide - 24) / across, 92 / geometry.pitch_mm);
    const broad = (0.3 * wide) / geometry.thickness_mm;
    const fitting = Math.max(high / (1.5 * one), Math.min(high / (1.12 * one), broad));
    // a long text is seen in parts: a braid thinner than an eighth of the room shows no letter
    const least = result.composed ? wide / 8 / geometry.thickness_mm : 0;
    view.pxPerMm = Math.max(2, Math.min(Math.max(fitting, least), most) * view.zoom);
    const beyond = 2 * geometry.bead_mm[1];
    view.lowMm = -beyond;
    view.highMm = geometry.height_mm[geometry.count - 1] + beyond;
  }
  sheet.size(wide, high);
  view.show({});
}

function draw(context, width, height, ratio) {
  const { geometry, result, beads } = made;
  if (!geometry) {
    placeFrame();
    return;
  }
  if (view.rolled === 1) {
    drawChart(context, width, view, geometry, beads, result.palette, shared.brush !== null);
  } else {
    drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, shared.drops, {
      pxPerMm: view.pxPerMm,
      lowMm: view.heightMm(height),
      highMm: view.topMm,
      lying: false,
      rolled: view.rolled,
      at: (x, y) => [width / 2 + x * view.pxPerMm, view.rowPx(y)],
    });
  }
  if (view.rolled === 0 || view.rolled === 1) {
    if (shared.brush === null || isHeld()) drawTracing(context, width, ratio);
    if (shared.cursor >= 0) markBead(context, width);
  }
  placeFrame();
}

function markBead(context, width) {
  const { geometry } = made;
  if (view.rolled) {
    outlineCell(context, width, view, geometry, shared.cursor);
    return;
  }
  const angle = ((geometry.azimuth_deg[shared.cursor] - view.viewDeg) * Math.PI) / 180;
  if (Math.cos(angle) <= 0) return;
  const x = width / 2 - geometry.radius_mm * Math.sin(angle) * view.pxPerMm;
  const y = view.rowPx(geometry.height_mm[shared.cursor]);
  for (const [line, colour] of [[5, "#fff"], [2.5, "#000"]]) {
    context.lineWidth = line;
    context.strokeStyle = colour;
    context.beginPath();
    context.ellipse(x, y, geometry.bead_mm[0] * view.pxPerMm, geometry.bead_mm[1] * view.pxPerMm, 0, 0, 7);
    context.stroke();
  }
}

// The bead at a pointer, or -1.
export function beadUnder(event) {
  const { geometry } = made;
  if (!geometry) return -1;
  const [x, y] = sheet.at(event);
  const right = (x - sheet.width / 2) / view.pxPerMm;
  const height = view.heightMm(y);
  if (!view.rolled) return beadAt(geometry, view.viewDeg, right, height);
  if (Math.abs(right) > geometry.circumference_mm / 2) return -1;
  return beadNear(geometry, around(geometry, right + middleMm(geometry, view.viewDeg)), height);
}

let stroke = 0;

sheet.canvas.addEventListener("pointerdown", (event) => {
  if (event.button || !made.result) return;
  if (event.pointerType !== "touch") event.preventDefault();
  sheet.canvas.focus({ preventScroll: true });
  shared.cursor = -1;
  const bead = beadUnder(event);
  stroke += 1;
  const moves =
    shared.brush !== null && bead >= 0 ? colouring(event, bead, `stroke ${stroke}`) : turning(event);
  sheet.canvas.setPointerCapture(event.pointerId);
  const end = (next) => {
    sheet.canvas.removeEventListener("pointermove", moves.move);
    sheet.canvas.removeEventListener("pointerup", end);
    sheet.canvas.removeEventListener("pointercancel", end);
    sheet.canvas.classList.remove("held");
    moves.end?.(next);
  };
  sheet.canvas.addEventListener("pointermove", moves.move);
  sheet.canvas.addEventListener("pointerup", end);
  sheet.canvas.addEventListener("pointercancel", end);
});

// All beads of one kind, to work another one instead.
const alike = (bead) => Array.from(made.beads.keys()).filter((n) => made.beads[n] === made.beads[bead]);

function colouring(event, bead, mark) {
  if (event.altKey) pickUp(bead);
  const whole = $("alike").checked ? alike : $("patch").checked ? (n) => patch(made.geometry, made.beads, n) : null;
  // a finger may be about to push the page: its first bead is coloured when it is lifted
  const waits = event.pointerType === "touch";
  const act = (n) => {
    if (n < 0) return;
    paint(whole ? whole(n) : [n], mark);
    $("bead-words").textContent = wordsOf(n);
  };
  if (!waits && !event.altKey) act(bead);
  return {
    move: (next) => {
      if (whole || event.altKey) return;
      const steps = next.getCoalescedEvents?.() ?? [];
      for (const step of steps.length ? steps : [next]) act(beadUnder(step));
    },
    end: (next) => {
      if (waits && next.type === "pointerup") act(bead);
      bench.settle();
    },
  };
}

function turning(event) {
  let [x, y] = [event.clientX, event.clientY];
  sheet.canvas.classList.add("held");
  return {
    move: (next) => {
      const right = (next.clientX - x) / view.pxPerMm;
      view.viewDeg += ((right / made.geometry.radius_mm) * 180) / Math.PI;
      view.scroll(event.pointerType === "touch" ? 0 : (next.clientY - y) / view.pxPerMm);
      [x, y] = [next.clientX, next.clientY];
    },
  };
}

sheet.canvas.addEventListener("pointermove", (event) => {
  const bead = made.result && shared.brush !== null ? beadUnder(event) : -1;
  $("bead-words").textContent = bead >= 0 ? wordsOf(bead) : "";
});
sheet.canvas.addEventListener("pointerleave", () => ($("bead-words").textContent = ""));

// The wheel moves along the braid where the page itself has nowhere to go.
$("stage").addEventListener(
  "wheel",
  (event) => {
    const page = document.scrollingElement;
    if (!made.result || event.ctrlKey || page.scrollHeight > page.clientHeight + 1) return;
    view.scroll(-event.deltaY / view.pxPerMm);
  },
  { passive: true },
);

function setCursor(bead) {
  shared.cursor = bead;
  const row = view.rowPx(made.geometry.height_mm[bead]);
  if (row < 30 || row > view.heightPx - 30) view.show({ middleMm: made.geometry.height_mm[bead] });
  if (!view.rolled) {
    const away = ((made.geometry.azimuth_deg[bead] - view.viewDeg + 540) % 360) - 180;
    if (Math.abs(away) > 60) view.show({ viewDeg: made.geometry.azimuth_deg[bead] });
  }
  $("cursor-words").textContent = wordsOf(bead);
  $("bead-words").textContent = wordsOf(bead);
  sheet.again();
}

function towards(right, up) {
  const { geometry } = made;
  if (shared.cursor < 0) {
    setCursor(beadNear(geometry, middleMm(geometry, view.viewDeg), view.middleMm));
  } else setCursor(neighbourTowards(geometry, shared.cursor, right, up));
}

sheet.canvas.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !made.result) return;
  const acts = shared.brush === null ? lookKeys(event) : colourKeys();
  const wanted = acts[event.key];
  if (!wanted) return;
  event.preventDefault();
  wanted();
});

function lookKeys(event) {
  const far = event.shiftKey ? 45 : 15;
  const piece = view.heightPx / view.pxPerMm;
  return {
    ArrowLeft: () => turnBy(-far),
    ArrowRight: () => turnBy(far),
    ArrowUp: () => view.scroll(piece / 6),
    ArrowDown: () => view.scroll(-piece / 6),
    PageUp: () => view.scroll(piece),
    PageDown: () => view.scroll(-piece),
    Home: () => view.show({ viewDeg: made.result.front_deg ?? 180 }),
  };
}

function colourKeys() {
  const on = (act) => () => {
    if (shared.cursor < 0) return;
    act();
    bench.settle();
    $("cursor-words").textContent = wordsOf(shared.cursor);
    $("bead-words").textContent = wordsOf(shared.cursor);
  };
  return {
    ArrowLeft: () => towards(-1, 0),
    ArrowRight: () => towards(1, 0),
    ArrowUp: () => towards(0, 1),
    ArrowDown: () => towards(0, -1),
    " ": on(() => paint([shared.cursor], null)),
    Enter: on(() => paint([shared.cursor], null)),
    a: on(() => paint(alike(shared.cursor), null)),
    f: on(() => paint(patch(made.geometry, made.beads, shared.cursor), null)),
    p: on(() => pickUp(shared.cursor)),
    Escape: stopColouring,
  };
}

export function turnBy(deg) {
  view.turn(deg);
  const front = made.result.front_deg ?? 180;
  const away = Math.round((((view.viewDeg - front) % 360) + 360) % 360);
  $("cursor-words").textContent = `Turned ${away} degrees from the front.`;
}

// Roll the piece out, or up again, in its place.
export function roll() {
  const out = view.rolled < 1;
  $("roll").setAttribute("aria-pressed", String(out));
  $("roll").textContent = out ? "Roll up" : "Roll out";
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const from = view.rolled;
  const began = performance.now();
  const step = (now) => {
    const share = still ? 1 : Math.min(1, (now - began) / 320);
    const eased = share * share * (3 - 2 * share);
    view.rolled = share === 1 ? Number(out) : from + (Number(out) - from) * eased;
    layOut();
    if (share < 1) requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

view.addEventListener("change", () => sheet.again());
new ResizeObserver(() => layOut()).observe($("stage"));
