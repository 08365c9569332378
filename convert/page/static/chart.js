// The flat chart: every bead as its cell on the unrolled braid.

import { css, inkOn } from "./bead.js";

// Beads whose cells touch the heights shown, with the places where they are drawn, to the right of
// the side that is looked at: a cell that reaches over the edge is drawn on both sides.
function* shown(geometry, view) {
  const reach = 2 * geometry.pitch_mm;
  const round = geometry.circumference_mm;
  const [low, high] = [view.heightMm(view.heightPx), view.topMm];
  const middle = middleMm(geometry, view.viewDeg);
  for (let n = 0; n < geometry.count; n += 1) {
    const y = geometry.height_mm[n];
    if (y < low - reach || y > high + reach) continue;
    const x = around(geometry, geometry.x_mm[n] - middle);
    yield [n, x, y];
    if (x < -round / 2 + reach) yield [n, x + round, y];
    if (x > round / 2 - reach) yield [n, x - round, y];
  }
}

// Where a side of the braid lies on the chart, mm to the right of the worker's side.
export const middleMm = (geometry, viewDeg) =>
  (-geometry.radius_mm * (viewDeg - geometry.front_deg) * Math.PI) / 180;

// The same way round the braid, the short way.
export const around = (geometry, mm) =>
  mm - geometry.circumference_mm * Math.round(mm / geometry.circumference_mm);

function cellPath(geometry, scale) {
  const path = new Path2D();
  geometry.cell_mm.forEach(([x, y], k) => {
    if (k) path.lineTo(x * scale, -y * scale);
    else path.moveTo(x * scale, -y * scale);
  });
  path.closePath();
  return path;
}

export function drawChart(context, width, view, geometry, beads, palette, codesShown) {
  const scale = view.pxPerMm;
  const cell = cellPath(geometry, scale);
  const codes = codesShown && geometry.pitch_mm * scale >= 22;
  const half = (geometry.circumference_mm / 2) * scale;
  context.save();
  context.beginPath();
  context.rect(width / 2 - half, 0, 2 * half, view.heightPx);
  context.clip();
  context.lineWidth = 1;
  context.font = `600 ${Math.min(13, geometry.pitch_mm * scale * 0.3)}px system-ui, sans-serif`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  for (const [n, x, y] of shown(geometry, view)) {
    const row = palette[beads[n]];
    context.save();
    context.translate(width / 2 + x * scale, view.rowPx(y));
    context.fillStyle = css(row.rgb);
    context.fill(cell);
    context.strokeStyle = inkOn(row.rgb) === "#000" ? "rgb(0 0 0 / 0.2)" : "rgb(255 255 255 / 0.3)";
    context.stroke(cell);
    if (codes) {
      context.fillStyle = inkOn(row.rgb);
      context.fillText(row.code, 0, 0);
    }
    context.restore();
  }
  context.restore();
}

export function outlineCell(context, width, view, geometry, bead) {
  const cell = cellPath(geometry, view.pxPerMm);
  for (const [n, x, y] of shown(geometry, view)) {
    if (n !== bead) continue;
    context.save();
    context.translate(width / 2 + x * view.pxPerMm, view.rowPx(y));
    for (const [line, colour] of [[5, "#fff"], [2.5, "#000"]]) {
      context.lineWidth = line;
      context.strokeStyle = colour;
      context.stroke(cell);
    }
    context.restore();
  }
}

// The bead whose middle is nearest to a point of the unrolled braid.
export function beadNear(geometry, xMm, heightMm) {
  const round = geometry.circumference_mm;
  let found = -1;
  let best = (1.2 * geometry.pitch_mm) ** 2;
  for (let n = 0; n < geometry.count; n += 1) {
    const up = geometry.height_mm[n] - heightMm;
    if (up * up >= best) continue;
    let across = geometry.x_mm[n] - xMm;
    across -= round * Math.round(across / round);
    const far = across * across + up * up;
    if (far < best) {
      best = far;
      found = n;
    }
  }
  return found;
}

// The neighbour that lies most in a direction (right, up), or the bead itself.
export function neighbourTowards(geometry, bead, right, up) {
  const round = geometry.circumference_mm;
  let found = bead;
  let best = 0.3;
  for (let k = 0; k < 6; k += 1) {
    const other = geometry.neighbours[6 * bead + k];
    if (other < 0) continue;
    let x = geometry.x_mm[other] - geometry.x_mm[bead];
    x -= round * Math.round(x / round);
    const y = geometry.height_mm[other] - geometry.height_mm[bead];
    const along = (x * right + y * up) / Math.hypot(x, y);
    if (along > best) {
      best = along;
      found = other;
    }
  }
  return found;
}

// Beads of one colour that hang together with a bead.
export function patch(geometry, beads, bead) {
  const colour = beads[bead];
  const found = new Set([bead]);
  const open = [bead];
  while (open.length) {
    const here = open.pop();
    for (let k = 0; k < 6; k += 1) {
      const other = geometry.neighbours[6 * here + k];
      if (other >= 0 && beads[other] === colour && !found.has(other)) {
        found.add(other);
        open.push(other);
      }
    }
  }
  return found;
}
