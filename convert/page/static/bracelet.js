// The whole bracelet, lying: the scroll bar of the stage, and its ruler.

import { drawBraid } from "./braid.js";
import { $, made, shared, view } from "./page.js";
import { Sheet } from "./view.js";

const RULER = 16;
export const sheet = new Sheet($("bracelet"), draw);

const scaleOf = (width) => width / (view.highMm - view.lowMm);

export function layOut() {
  const wide = $("bracelet").parentElement.clientWidth - 24;
  const { geometry } = made;
  let high = 40;
  if (geometry) high = Math.max(24, Math.min(84, (geometry.thickness_mm + 1) * scaleOf(wide)));
  sheet.size(Math.max(40, wide), high + RULER);
}

function draw(context, width, height, ratio) {
  const { geometry, result, beads } = made;
  if (!geometry) return;
  const scale = scaleOf(width);
  const high = height - RULER;
  context.save();
  context.beginPath();
  context.rect(0, 0, width, high);
  context.clip();
  drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, shared.drops, {
    pxPerMm: scale,
    lowMm: view.lowMm,
    highMm: view.highMm,
    lying: true,
    rolled: 0,
    at: (x, y) => [(y - view.lowMm) * scale, high / 2 + x * scale],
  });
  context.restore();
  const left = Math.max(0, (view.heightMm(view.heightPx) - view.lowMm) * scale);
  const right = Math.min(width, (view.topMm - view.lowMm) * scale);
  context.fillStyle = sheet.colour("--felt");
  context.globalAlpha = 0.5;
  context.fillRect(0, 0, left, high);
  context.fillRect(right, 0, width - right, high);
  context.globalAlpha = 1;
  context.strokeStyle = sheet.colour("--deep");
  context.lineWidth = 3;
  context.beginPath();
  context.roundRect(left + 1.5, 1.5, Math.max(8, right - left - 3), high - 3, 6);
  context.stroke();
  ruler(context, width, high, scale);
  const part = (view.middleMm - view.lowMm) / (view.highMm - view.lowMm);
  sheet.canvas.setAttribute("aria-valuenow", String(Math.round(100 * part)));
  sheet.canvas.setAttribute("aria-valuetext", `around ${Math.max(0, view.middleMm).toFixed(0)} mm`);
}

function ruler(context, width, top, scale) {
  context.strokeStyle = sheet.colour("--soft");
  context.fillStyle = sheet.colour("--soft");
  context.lineWidth = 1;
  context.font = "11px system-ui, sans-serif";
  context.textBaseline = "bottom";
  context.beginPath();
  const every = scale * 10 > 26 ? 10 : 50;
  for (let mm = 0; mm <= made.geometry.length_mm; mm += every / 2) {
    const x = Math.round((mm - view.lowMm) * scale) + 0.5;
    const long = mm % every === 0;
    context.moveTo(x, top + 2);
    context.lineTo(x, top + (long ? 7 : 4));
    const last = mm + every > made.geometry.length_mm;
    if (!long || x > width - 14) continue;
    context.textAlign = "center";
    context.fillText(last ? `${mm / 10} cm` : String(mm / 10), Math.max(8, x), top + RULER + 2);
  }
  context.stroke();
}

const to = (event) => {
  const [x] = sheet.at(event);
  view.show({ middleMm: view.lowMm + x / scaleOf(sheet.width) });
};

sheet.canvas.addEventListener("pointerdown", (event) => {
  if (event.button || !made.result) return;
  sheet.canvas.setPointerCapture(event.pointerId);
  to(event);
});
sheet.canvas.addEventListener("pointermove", (event) => {
  if (event.buttons && made.result) to(event);
});
sheet.canvas.addEventListener("keydown", (event) => {
  if (!made.result) return;
  const piece = view.heightPx / view.pxPerMm;
  const acts = {
    ArrowRight: piece / 6, ArrowUp: piece / 6, ArrowLeft: -piece / 6, ArrowDown: -piece / 6,
    PageUp: piece, PageDown: -piece, Home: -1e6, End: 1e6,
  };
  if (!(event.key in acts) || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  view.scroll(acts[event.key]);
});

view.addEventListener("change", () => sheet.again());
new ResizeObserver(() => layOut()).observe($("bracelet").parentElement);
