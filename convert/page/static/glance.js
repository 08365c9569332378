// While her hand holds the sketch: each bead takes the colour that lies over its middle, of the beads
// that the motif has. himotif's own first look comes as soon as the hand rests.

import { around } from "./chart.js";

let pixels = null;

function pixelsOf(ghost) {
  if (pixels?.of === ghost) return pixels;
  const canvas = document.createElement("canvas");
  canvas.width = ghost.naturalWidth;
  canvas.height = ghost.naturalHeight;
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(ghost, 0, 0);
  pixels = { of: ghost, ...imageOf(context.getImageData(0, 0, canvas.width, canvas.height)) };
  return pixels;
}

const imageOf = ({ width, height, data }) => ({ width, height, data });

// Beads for a place: x, y of the first motif in mm, width in mm, rotate in degrees, stretch.
export function glance({ result, geometry }, ghost, place, centres) {
  const { placement, palette, background } = result;
  const { width, height, data } = pixelsOf(ghost);
  const [left, top, right, bottom] = placement.part;
  const [px, py] = placement.size_px;
  const turn = (place.rotate * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const pxPerMm = (px * Math.abs(cos) + py * Math.abs(sin)) / place.width;
  const inks = [...new Set(result.beads)].map((row) => [row, palette[row].rgb]);
  const face = placement.fit === "face";
  const beads = new Int16Array(geometry.count).fill(background);
  let k = 0;
  for (let n = 0; n < geometry.count; n += 1) {
    const y = geometry.height_mm[n];
    while (k + 1 < centres.length && centres[k + 1][1] - y < y - centres[k][1]) k += 1;
    const away = around(geometry, geometry.x_mm[n] - centres[k][0]);
    const angle = away / geometry.radius_mm;
    if (face && Math.abs(angle) > Math.PI / 2) continue;
    const u = face ? geometry.radius_mm * Math.sin(angle) : away;
    const w = (centres[k][1] - y) / place.stretch;
    const a = (pxPerMm * (cos * u + sin * w)) / px + 0.5;
    const b = (pxPerMm * (cos * w - sin * u)) / py + 0.5;
    if (a < 0 || a >= 1 || b < 0 || b >= 1) continue;
    const column = Math.floor((left + a * (right - left)) * width);
    const row = Math.floor((top + b * (bottom - top)) * height);
    const at = 4 * (row * width + column);
    if (data[at + 3] > 127) beads[n] = nearest(inks, data[at], data[at + 1], data[at + 2]);
  }
  return beads;
}

function nearest(inks, red, green, blue) {
  let best = Infinity;
  let found = inks[0][0];
  for (const [row, [r, g, b]] of inks) {
    const far = 2 * (r - red) ** 2 + 4 * (g - green) ** 2 + 3 * (b - blue) ** 2;
    if (far < best) [best, found] = [far, row];
  }
  return found;
}
