// The corners of a sheet of paper, put on its photograph.

import { guarded } from "./line.js";
import { $, bench } from "./page.js";
import { Pointed, shape } from "./pointing.js";
import { ask, picture } from "./server.js";

let size = [1, 1];
let corners = [];
let nearest = 0;

const pointed = new Pointed(
  $("corners-photo"), "The photograph. Arrow keys move the cross, Enter puts the nearest ring there.",
  (at) => {
    const away = corners.map(([x, y]) => Math.hypot(x - at[0], y - at[1]));
    nearest = away.indexOf(Math.min(...away));
    corners[nearest] = at;
    show();
  },
);

let held = false;
$("corners-photo").addEventListener("pointerdown", (event) => {
  const ring = event.target.dataset?.corner;
  if (ring === undefined) return;
  event.preventDefault();
  nearest = Number(ring);
  held = true;
});
window.addEventListener("pointermove", (event) => {
  if (!held) return;
  const { left, top, width, height } = pointed.marks.getBoundingClientRect();
  // a sheet may reach beyond its photograph
  const within = (value) => Math.min(1.2, Math.max(-0.2, value));
  corners[nearest] = [within((event.clientX - left) / width), within((event.clientY - top) / height)];
  show();
});
window.addEventListener("pointerup", () => (held = false));

function show() {
  const points = corners.map((place) => pointed.point(place).join()).join(" ");
  pointed.mark([
    shape("polygon", { points, class: "under" }), shape("polygon", { points }),
    ...corners.map((place, k) => {
      const [cx, cy] = pointed.point(place);
      return shape("circle", { cx, cy, r: 20, class: "ring", "data-corner": k });
    }),
  ]);
}

const INSET = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]];

function before({ order, sketch }) {
  const found = (order.paper_corners ?? "").match(/-?[\d.]+/g)?.map(Number) ?? [];
  if (found.length === 8) return [0, 2, 4, 6].map((k) => [found[k], found[k + 1]]);
  return sketch.corners_px;
}

async function open() {
  const { sketch } = bench.now;
  if (!sketch) {
    $("corners-words").textContent = "Bring a photograph of your sketch first.";
    $("corners-photo").hidden = true;
    corners = [];
  } else {
    size = (await ask("photograph", { id: sketch.id })).size_px;
    pointed.show(await picture(`api/picture/${sketch.id}.png`, { corners: "none" }));
    corners = before(bench.now)?.map(([x, y]) => [x / size[0], y / size[1]]) ?? INSET.map((place) => [...place]);
    $("corners-words").textContent = "Put each ring on a corner of the paper.";
    show();
  }
  $("corners-take").disabled = !corners.length;
  $("corners-dialog").showModal();
}

// A sheet that is taken otherwise is another sketch: what was found for the old one goes.
function put(text) {
  const { now } = bench;
  bench.change({ order: { ...now.order, paper_corners: text, right: "", up: "", width: "", stretch: "" }, base: null });
  $("corners-dialog").close();
}

$("corners").addEventListener("click", () => guarded(open));
$("corners-take").addEventListener("click", () =>
  put(corners.map(([x, y]) => `${Math.round(x * size[0])},${Math.round(y * size[1])}`).join(" ")),
);
$("corners-none").addEventListener("click", () => put("none"));
$("corners-find").addEventListener("click", () => put(""));
