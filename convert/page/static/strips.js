// The strips of the bench: sketch, beads and braid at the same heights, and the whole braid.

import { css, inkOn } from "./bead.js";
import { drawBraid } from "./braid.js";
import { drawChart, outlineCells } from "./chart.js";
import { $, bench, shared, view } from "./page.js";
import { SketchStrip } from "./sketch.js";
import { Sheet } from "./view.js";

export const sheets = {};
sheets.sketch = new Sheet($("sketch-strip"), drawSketch);
sheets.chart = new Sheet($("chart-strip"), drawBeads);
sheets.braid = new Sheet($("braid-strip"), drawTurning);
sheets.whole = new Sheet($("whole"), drawWhole);
sheets.ruler = new Sheet($("ruler"), drawRuler);
export const sketchStrip = new SketchStrip(sheets.sketch, view);

// Which way drop beads lean is known as soon as the lists are.
export function showDrops(drops) {
  const some = shared.drops.size > 0;
  shared.drops = new Map(drops.map(([bead, right, up]) => [bead, [right, up]]));
  if (some !== shared.drops.size > 0) layOut();
  redraw();
}

// Half the width of the braid as drawn: drop beads reach out.
function reachMm() {
  const { geometry } = bench.now;
  const plain = 0.625 * geometry.thickness_mm;
  const [outwards, aside, , wide] = geometry.drop_mm;
  const far = Math.hypot(geometry.radius_mm + outwards, aside) + wide;
  return shared.drops.size ? Math.max(plain, far) : plain;
}

export function redraw() {
  for (const sheet of Object.values(sheets)) sheet.again();
}

export function layOut() {
  const { geometry, result } = bench.now;
  const strips = $("strips");
  const room = strips.clientWidth - 16;
  const whole = sheets.whole.canvas.parentElement.clientWidth;
  if (!geometry) {
    sheets.whole.size(whole, 64);
    redraw();
    return;
  }
  const withSketch = Boolean(result.made);
  const round = geometry.circumference_mm;
  const thick = geometry.thickness_mm;
  const gaps = 44 + 14 * 3 + 10;
  const across = (withSketch ? 2 : 1) * round + 2 * reachMm();
  const fitting = (room - gaps) / across;
  const most = 26 / geometry.pitch_mm;
  view.pxPerMm = Math.max(3, Math.min(fitting, most) * view.zoom);
  const high = Math.max(320, Math.min(820, window.innerHeight - 360));
  view.heightPx = high;
  const beyond = 3 * geometry.bead_mm[1];
  view.lowMm = -beyond;
  view.highMm = geometry.height_mm[geometry.count - 1] + beyond;
  sheets.ruler.size(44, high);
  sheets.sketch.size(Math.round(round * view.pxPerMm), high);
  sheets.chart.size(Math.round(round * view.pxPerMm), high);
  sheets.braid.size(Math.round(2 * reachMm() * view.pxPerMm), high);
  const length = view.highMm - view.lowMm;
  sheets.whole.size(whole, Math.max(30, Math.min(96, (whole / length) * thick * 1.1 + 8)));
  view.show({});
}

function drawSketch(context, width) {
  const { now } = bench;
  if (!now.result?.made) return;
  const { geometry, result } = now;
  context.fillStyle = css(result.palette[result.background].rgb);
  braidGround(context, width);
  const fresh = shared.images.sketchKey === result.key || shared.images.sketch;
  sketchStrip.draw(context, width, now, fresh ? shared.images.sketch : null, ghostOf(now));
  context.lineWidth = 1;
  outlineCells(context, width, view, geometry, lineOn(result.palette[result.background].rgb, 0.13));
  frontLine(context, width);
  const [line, ground] = markColours();
  sketchStrip.drawFrame(context, width, { ...now, motif: motifInSight() }, line, ground);
}

function lineOn(rgb, strength) {
  return inkOn(rgb) === "#000" ? `rgb(20 30 36 / ${strength})` : `rgb(255 255 255 / ${strength * 1.4})`;
}

// Marks lie on the background beads, by day and by night.
function markColours() {
  const { result } = bench.now;
  const light = inkOn(result.palette[result.background].rgb) === "#000";
  return light ? ["#a03a10", "#fffdf9"] : ["#ffb87a", "#1f272c"];
}

const ghostOf = (now) => (shared.images.ghost?.forId === now.picture?.id ? shared.images.ghost : null);

export function motifInSight() {
  const centres = bench.now.result.placement.centres_mm;
  let best = 0;
  centres.forEach(([, y], k) => {
    if (Math.abs(y - view.middleMm) < Math.abs(centres[best][1] - view.middleMm)) best = k;
  });
  return best;
}

function braidGround(context, width) {
  const { geometry } = bench.now;
  const top = view.rowPx(geometry.height_mm[geometry.count - 1] + geometry.rise_mm / 2);
  const bottom = view.rowPx(-geometry.rise_mm / 2);
  context.fillRect(0, top, width, bottom - top);
}

function frontLine(context, width) {
  const { result } = bench.now;
  const x = width / 2 + result.front_x_mm * view.pxPerMm;
  context.save();
  context.strokeStyle = markColours()[0];
  context.setLineDash([2, 5]);
  context.beginPath();
  context.moveTo(x, 0);
  context.lineTo(x, view.heightPx);
  context.stroke();
  context.restore();
}

function drawBeads(context, width) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  drawChart(context, width, view, geometry, beads, result.palette, {
    codes: $("codes").checked,
    line: "rgb(0 0 0 / 0.18)",
  });
  frontLine(context, width);
  if (shared.cursor >= 0) markBead(context, width);
}

function markBead(context, width) {
  const { geometry } = bench.now;
  const chosen = new Set([shared.cursor]);
  context.lineWidth = 5;
  outlineCells(context, width, view, geometry, "#fff", chosen);
  context.lineWidth = 2.5;
  outlineCells(context, width, view, geometry, "#000", chosen);
}

function drawTurning(context, width, height, ratio) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, shared.drops, {
    pxPerMm: view.pxPerMm,
    lowMm: view.heightMm(height),
    highMm: view.topMm,
    lying: false,
    at: (x, y) => [width / 2 + x * view.pxPerMm, view.rowPx(y)],
  });
  if (shared.cursor >= 0 && document.activeElement !== sheets.whole.canvas) {
    const angle = ((geometry.azimuth_deg[shared.cursor] - view.viewDeg) * Math.PI) / 180;
    if (Math.cos(angle) > 0) {
      const x = width / 2 - geometry.radius_mm * Math.sin(angle) * view.pxPerMm;
      const y = view.rowPx(geometry.height_mm[shared.cursor]);
      for (const [line, colour] of [[4, "#fff"], [2, "#000"]]) {
        context.lineWidth = line;
        context.strokeStyle = colour;
        context.beginPath();
        context.ellipse(
          x, y, geometry.bead_mm[0] * view.pxPerMm, geometry.bead_mm[1] * view.pxPerMm, 0, 0, 7,
        );
        context.stroke();
      }
    }
  }
}

export function wholeScale(width) {
  return width / (view.highMm - view.lowMm);
}

function drawWhole(context, width, height, ratio) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  const scale = wholeScale(width);
  drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, shared.drops, {
    pxPerMm: scale,
    lowMm: view.lowMm,
    highMm: view.highMm,
    lying: true,
    at: (x, y) => [(y - view.lowMm) * scale, height / 2 + x * scale],
  });
  const left = (view.heightMm(view.heightPx) - view.lowMm) * scale;
  const right = (view.topMm - view.lowMm) * scale;
  context.fillStyle = sheets.whole.colour("--bench");
  context.globalAlpha = 0.5;
  context.fillRect(0, 0, left, height);
  context.fillRect(right, 0, width - right, height);
  context.globalAlpha = 1;
  context.strokeStyle = sheets.whole.colour("--handle");
  context.lineWidth = 2;
  context.strokeRect(Math.max(1, left), 1, Math.min(width - 1, right) - Math.max(1, left), height - 2);
  const part = (view.middleMm - view.lowMm) / (view.highMm - view.lowMm);
  const canvas = sheets.whole.canvas;
  canvas.setAttribute("aria-valuenow", String(Math.round(100 * part)));
  canvas.setAttribute("aria-valuetext", `around ${Math.max(0, view.middleMm).toFixed(0)} mm`);
}

function drawRuler(context, width, height) {
  const { geometry } = bench.now;
  if (!geometry) return;
  context.fillStyle = sheets.ruler.colour("--soft");
  context.strokeStyle = sheets.ruler.colour("--soft");
  context.font = "12px system-ui, sans-serif";
  context.textAlign = "right";
  context.textBaseline = "middle";
  context.lineWidth = 1;
  context.fillText("mm", width - 12, 8);
  const low = Math.max(0, view.heightMm(height));
  const high = Math.min(geometry.length_mm, view.topMm);
  context.beginPath();
  for (let mm = Math.ceil(low); mm <= high; mm += 1) {
    const y = Math.round(view.rowPx(mm)) + 0.5;
    if (y < 24 || y > height - 8) continue;
    const long = mm % 10 === 0 ? 9 : mm % 5 === 0 ? 6 : view.pxPerMm > 5 ? 3 : 0;
    if (!long) continue;
    context.moveTo(width, y);
    context.lineTo(width - long, y);
    if (mm % 10 === 0) context.fillText(String(mm), width - 12, y);
  }
  context.stroke();
}

view.addEventListener("change", () => {
  redraw();
  for (const button of document.querySelectorAll("[data-side]")) {
    const front = bench.now.result?.front_deg ?? 180;
    const away = (((view.viewDeg - front + 180) % 360) + 360) % 360 - 180;
    const side = Number(button.dataset.side);
    const near = Math.abs(((away + side + 540) % 360) - 180) < 1;
    button.setAttribute("aria-pressed", String(near));
  }
});
