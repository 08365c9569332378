// The turnable braid: round beads over their cords, seen straight on.

import { beadPicture } from "./bead.js";

const RADIAN = Math.PI / 180;

// Beads that may be seen from a side between two heights, farthest first.
export function seen(geometry, viewDeg, lowMm, highMm, rolled = 0) {
  const found = [];
  const { azimuth_deg: azimuth, height_mm: height, bead_mm: bead } = geometry;
  for (let n = 0; n < geometry.count; n += 1) {
    if (height[n] < lowMm - 2 * bead[1] || height[n] > highMm + 2 * bead[1]) continue;
    const angle = turned(azimuth[n] - viewDeg) * RADIAN;
    const near = Math.cos(angle * (1 - rolled));
    if (near <= -0.3) continue;
    const across = rolled ? (1 - rolled) * Math.sin(angle) + rolled * angle : Math.sin(angle);
    found.push([n, -geometry.radius_mm * across, near]);
  }
  return found.sort((one, other) => one[2] - other[2]);
}

const turned = (deg) => deg - 360 * Math.round(deg / 360);

// Draw an upright braid: x of its axis and the row of a height come from the caller.
export function drawBraid(context, ratio, geometry, beads, palette, viewDeg, drops, place) {
  const [acrossMm, alongMm] = geometry.bead_mm;
  const scale = place.pxPerMm;
  if (!place.rolled) cords(context, geometry, place);
  // pictures of beads are made for the screen's own pixels, or they would blur
  const across = acrossMm * scale * ratio;
  const along = alongMm * scale * ratio;
  const [wide, high] = place.lying ? [along, across] : [across, along];
  context.save();
  context.scale(1 / ratio, 1 / ratio);
  const put = (bead, halfWide, halfHigh, near, x, y) => {
    const picture = beadPicture(bead, halfWide, halfHigh, 0.25 + 0.75 * near);
    const [column, row] = place.at(x, y);
    context.drawImage(
      picture,
      Math.round(column * ratio - picture.width / 2),
      Math.round(row * ratio - picture.height / 2),
    );
  };
  const found = seen(geometry, viewDeg, place.lowMm, place.highMm, place.rolled);
  // drops stand out from the round beads beside them
  if (drops.size) found.sort((one, other) => front(one, drops) - front(other, drops));
  for (const [n, x, near] of found) {
    const bead = palette[beads[n]];
    const lean = drops.get(n);
    if (!lean) put(bead, wide, high, near, x, geometry.height_mm[n]);
    else {
      for (const [radius, right, up] of dropParts(geometry, x, near, lean)) {
        const size = radius * scale * ratio;
        put(bead, size, size, near, right, geometry.height_mm[n] + up);
      }
    }
  }
  context.restore();
}

// How drops lean and how large they are, by bead.
export const dropsOf = (list) => new Map(list.map(([bead, ...drawn]) => [bead, drawn]));

const front = ([n, , near], drops) => (drops.has(n) ? 1.6 * near : near);

const PARTS = 28;

// A drop as balls from its narrow end, where the hole is, to its wide end: radius, x, up.
function* dropParts(geometry, x, near, [right, up, outwards, aside, narrow, wide]) {
  const sine = -x / geometry.radius_mm;
  for (let k = 0; k < PARTS; k += 1) {
    const share = k / (PARTS - 1);
    yield [
      narrow + (wide - narrow) * share * share * (3 - 2 * share),
      -(geometry.radius_mm + share * outwards) * sine + share * aside * right * near,
      share * aside * up,
    ];
  }
}

function cords(context, geometry, place) {
  const last = geometry.height_mm[geometry.count - 1];
  const beyond = geometry.bead_mm[1] + 0.35 * 2 * geometry.bead_mm[0];
  const [left, bottom] = place.at(-geometry.core_mm, -beyond);
  const [right, top] = place.at(geometry.core_mm, last + beyond);
  const across = place.lying
    ? context.createLinearGradient(0, Math.min(left, right, bottom, top), 0, Math.max(bottom, top))
    : context.createLinearGradient(left, 0, right, 0);
  for (const [at, colour] of [[0, "#2b2724"], [0.45, "#6f665f"], [1, "#2b2724"]]) {
    across.addColorStop(at, colour);
  }
  context.fillStyle = across;
  context.fillRect(
    Math.min(left, right),
    Math.min(top, bottom),
    Math.abs(right - left),
    Math.abs(bottom - top),
  );
}

// The bead in front at a point of the view, or -1.
export function beadAt(geometry, viewDeg, xMm, heightMm) {
  const [across, along] = geometry.bead_mm;
  let found = -1;
  for (const [n, x] of seen(geometry, viewDeg, heightMm, heightMm)) {
    const right = (xMm - x) / across;
    const up = (heightMm - geometry.height_mm[n]) / along;
    if (right * right + up * up <= 1) found = n;
  }
  return found;
}
