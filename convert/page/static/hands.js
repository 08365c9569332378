// Pointer and keys on the strips.

import { beadAt } from "./braid.js";
import { beadNear, neighbourTowards, patch } from "./chart.js";
import { beadWords, paint, pointAt, setBrush, setCursor, tool, useTool } from "./colouring.js";
import { $, bench, shared, view } from "./page.js";
import { placeOf } from "./sketch.js";
import { motifInSight, redraw, sheets, sketchStrip, wholeScale } from "./strips.js";
import { work } from "./work.js";

function onPointer(canvas, begin) {
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button || !bench.now.result) return;
    event.preventDefault();
    canvas.focus({ preventScroll: true });
    const moves = begin(event);
    if (!moves) return;
    canvas.setPointerCapture(event.pointerId);
    const move = (next) => moves.move?.(next);
    const end = (next) => {
      canvas.removeEventListener("pointermove", move);
      canvas.removeEventListener("pointerup", end);
      canvas.removeEventListener("pointercancel", end);
      moves.end?.(next);
    };
    canvas.addEventListener("pointermove", move);
    canvas.addEventListener("pointerup", end);
    canvas.addEventListener("pointercancel", end);
  });
}

function chartBead(event) {
  const [x, y] = sheets.chart.at(event);
  const { geometry } = bench.now;
  return beadNear(geometry, (x - sheets.chart.width / 2) / view.pxPerMm, view.heightMm(y));
}

function braidBead(event) {
  const [x, y] = sheets.braid.at(event);
  const { geometry } = bench.now;
  return beadAt(geometry, view.viewDeg, (x - sheets.braid.width / 2) / view.pxPerMm, view.heightMm(y));
}

function panning(event) {
  let last = event.clientY;
  return {
    move: (next) => {
      view.scroll((next.clientY - last) / view.pxPerMm);
      last = next.clientY;
    },
  };
}

let stroke = 0;

function colouring(event, beadOf) {
  stroke += 1;
  const mark = `stroke ${stroke}`;
  useTool(beadOf(event), mark);
  return {
    move: (next) => {
      if (tool() !== "colour") return;
      const steps = next.getCoalescedEvents?.() ?? [];
      for (const step of steps.length ? steps : [next]) useTool(beadOf(step), mark);
    },
    end: () => bench.settle(),
  };
}

onPointer(sheets.chart.canvas, (event) => {
  shared.cursor = -1;
  return tool() === "turn" ? panning(event) : colouring(event, chartBead);
});

onPointer(sheets.braid.canvas, (event) => {
  shared.cursor = -1;
  if (tool() !== "turn" && braidBead(event) >= 0) return colouring(event, braidBead);
  let [x, y] = [event.clientX, event.clientY];
  sheets.braid.canvas.classList.add("held");
  return {
    move: (next) => {
      const turned = (next.clientX - x) / view.pxPerMm / bench.now.geometry.radius_mm;
      view.viewDeg += (turned * 180) / Math.PI;
      view.scroll((next.clientY - y) / view.pxPerMm);
      [x, y] = [next.clientX, next.clientY];
    },
    end: () => sheets.braid.canvas.classList.remove("held"),
  };
});

onPointer(sheets.whole.canvas, (event) => {
  const go = (next) => {
    const [x] = sheets.whole.at(next);
    view.show({ middleMm: view.lowMm + x / wholeScale(sheets.whole.width) });
  };
  go(event);
  return { move: go };
});

onPointer(sheets.sketch.canvas, (event) => {
  const { now } = bench;
  if (!now.result.made) return null;
  const [x, y] = sheets.sketch.at(event);
  const width = sheets.sketch.width;
  const state = { ...now, motif: motifInSight() };
  const grip = sketchStrip.grip(x, y, width, state);
  if (!grip) return panning(event);
  const place = placeOf(state);
  const first = now.result.placement.centres_mm[0];
  const base = { ...place, x: first[0], y: first[1] };
  const { middle } = sketchStrip.frame(width, state);
  const from = Math.hypot(x - middle[0], y - middle[1]);
  const angle = Math.atan2(y - middle[1], x - middle[0]);
  sketchStrip.drag = { ...place };
  stroke += 1;
  const mark = `place ${stroke}`;
  let changed = false;
  // placed by hand, it stays as large and as it is turned now
  const shown = {
    width: now.result.width_mm.toFixed(1),
    rotate: String(Math.round(place.rotate)),
    ...moved(base, 0, 0),
  };
  return {
    move: (next) => {
      const [a, b] = sheets.sketch.at(next);
      const drag = sketchStrip.drag;
      if (grip === "move") {
        drag.x = place.x + (a - x) / view.pxPerMm;
        drag.y = place.y - (b - y) / view.pxPerMm;
        Object.assign(shown, moved(base, drag.x - place.x, drag.y - place.y));
      } else if (grip === "size") {
        const most = now.result.most_width_mm / now.result.width_mm;
        const wanted = Math.hypot(a - middle[0], b - middle[1]) / Math.max(8, from);
        const times = Math.min(most, Math.max(0.2, wanted));
        drag.pxPerMm = place.pxPerMm / times;
        shown.width = (now.result.width_mm * times).toFixed(1);
      } else {
        const turned = ((Math.atan2(b - middle[1], a - middle[0]) - angle) * 180) / Math.PI;
        let rotate = place.rotate + turned;
        const upright = Math.round(rotate / 45) * 45;
        if (Math.abs(rotate - upright) < 3) rotate = upright;
        drag.rotate = rotate;
        shown.rotate = String(Math.round((((rotate + 180) % 360) + 360) % 360 - 180));
      }
      changed = true;
      bench.change({ order: { ...bench.now.order, ...shown } }, mark);
      sheets.sketch.again();
      work();
    },
    end: () => {
      sketchStrip.drag = null;
      bench.settle();
      if (changed) work();
      sheets.sketch.again();
    },
  };
});

// Where the motif is to lie, in mm from where it would lie by itself.
function moved(base, right, up) {
  const middle = bench.now.result.unmoved_mm;
  return {
    right: roundTheBraid(base.x + right).toFixed(1),
    up: onTheBraid(base.y + up - middle).toFixed(1),
  };
}

function onTheBraid(y) {
  const half = Math.floor(5 * bench.now.geometry.length_mm) / 10;
  return Math.min(half, Math.max(-half, y));
}

// The same place, the short way from the front.
function roundTheBraid(x) {
  const round = bench.now.geometry.circumference_mm;
  return x - round * Math.round(x / round);
}

function nudge(patchOf, mark) {
  const { now } = bench;
  if (!now.result?.made || !now.picture) return;
  bench.change({ order: { ...now.order, ...patchOf(now) } }, mark);
  work();
}

sheets.sketch.canvas.addEventListener("keydown", (event) => {
  const far = event.shiftKey ? 4 : 1;
  const shift = (right, up) =>
    nudge((now) => {
      const centre = now.result.placement.centres_mm[0];
      const have = now.order.right || now.order.up;
      const x = have ? Number(now.order.right) || 0 : centre[0];
      const y = have ? Number(now.order.up) || 0 : centre[1] - now.result.unmoved_mm;
      return {
        width: now.order.width || now.result.width_mm.toFixed(1),
        rotate: now.order.rotate || String(Math.round(now.result.placement.rotate_deg)),
        right: roundTheBraid(x + right).toFixed(1),
        up: onTheBraid(y + up).toFixed(1),
      };
    }, "key move");
  const size = (times) =>
    nudge((now) => {
      const width = Number(now.order.width) || now.result.width_mm;
      return { width: Math.min(now.result.most_width_mm, width * times).toFixed(1) };
    }, "key size");
  const turn = (deg) => nudge((now) => ({ rotate: String((Number(now.order.rotate) || 0) + deg) }), "key turn");
  const acts = {
    ArrowLeft: () => shift(-0.5 * far, 0),
    ArrowRight: () => shift(0.5 * far, 0),
    ArrowUp: () => shift(0, 0.5 * far),
    ArrowDown: () => shift(0, -0.5 * far),
    "+": () => size(1.05),
    "=": () => size(1.05),
    "-": () => size(1 / 1.05),
    "[": () => turn(-5 * far),
    "]": () => turn(5 * far),
    "{": () => turn(-15),
    "}": () => turn(15),
  };
  act(event, acts);
});

sheets.chart.canvas.addEventListener("keydown", (event) => {
  const { now } = bench;
  if (!now.result) return;
  const go = (right, up) => () => {
    if (shared.cursor < 0) setCursor(beadNear(now.geometry, now.result.front_x_mm, view.middleMm));
    else setCursor(neighbourTowards(now.geometry, shared.cursor, right, up));
  };
  const on = (work) => () => {
    if (shared.cursor < 0) return;
    work();
    $("cursor-words").textContent = beadWords(shared.cursor);
    pointAt(shared.cursor);
  };
  act(event, {
    ArrowLeft: go(-1, 0),
    ArrowRight: go(1, 0),
    ArrowUp: go(0, 1),
    ArrowDown: go(0, -1),
    " ": on(() => paint([shared.cursor], null)),
    Enter: on(() => paint([shared.cursor], null)),
    f: on(() => paint(patch(bench.now.geometry, bench.now.beads, shared.cursor), null)),
    p: on(() => setBrush(bench.now.beads[shared.cursor])),
    Escape: () => {
      shared.cursor = -1;
      pointAt(-1);
      redraw();
    },
  });
});

sheets.braid.canvas.addEventListener("keydown", (event) => {
  const far = event.shiftKey ? 45 : 15;
  act(event, {
    ArrowLeft: () => turnBy(-far),
    ArrowRight: () => turnBy(far),
    ArrowUp: () => view.scroll(5),
    ArrowDown: () => view.scroll(-5),
    PageUp: () => view.scroll(view.heightPx / view.pxPerMm),
    PageDown: () => view.scroll(-view.heightPx / view.pxPerMm),
    Home: () => turnTo(0),
  });
});

sheets.whole.canvas.addEventListener("keydown", (event) => {
  const page = view.heightPx / view.pxPerMm;
  act(event, {
    ArrowRight: () => view.scroll(5),
    ArrowUp: () => view.scroll(5),
    ArrowLeft: () => view.scroll(-5),
    ArrowDown: () => view.scroll(-5),
    PageUp: () => view.scroll(page),
    PageDown: () => view.scroll(-page),
    Home: () => view.show({ middleMm: view.lowMm }),
    End: () => view.show({ middleMm: view.highMm }),
  });
});

function act(event, acts) {
  const wanted = acts[event.key];
  if (!wanted || event.ctrlKey || event.metaKey || event.altKey || !bench.now.result) return;
  event.preventDefault();
  wanted();
}

function turnBy(deg) {
  view.turn(deg);
  const front = bench.now.result.front_deg ?? 180;
  const away = Math.round((((view.viewDeg - front) % 360) + 360) % 360);
  $("cursor-words").textContent = `Turned ${away} degrees from the front.`;
}

export function turnTo(side) {
  view.show({ viewDeg: (bench.now.result?.front_deg ?? 180) - side });
}

for (const sheet of [sheets.chart, sheets.braid, sheets.sketch]) {
  sheet.canvas.addEventListener(
    "wheel",
    (event) => {
      if (!bench.now.result) return;
      event.preventDefault();
      if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
        view.turn((event.deltaX || event.deltaY) * 0.3);
      } else view.scroll(-event.deltaY / view.pxPerMm);
    },
    { passive: false },
  );
}

sheets.chart.canvas.addEventListener("pointermove", (event) => bench.now.result && pointAt(chartBead(event)));
sheets.braid.canvas.addEventListener("pointermove", (event) => bench.now.result && pointAt(braidBead(event)));
sheets.sketch.canvas.addEventListener("pointermove", (event) => {
  if (!bench.now.result?.made || event.buttons) return;
  const grip = sketchStrip.grip(
    ...sheets.sketch.at(event), sheets.sketch.width, { ...bench.now, motif: motifInSight() },
  );
  sheets.sketch.canvas.style.cursor =
    { turn: "crosshair", size: "nwse-resize", move: "move" }[grip] ?? "grab";
});
