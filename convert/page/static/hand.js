// Beads coloured by hand: a layer over the found colours, by place.
//
// A spot is [every, place, code, motif, right, up]: of every motif (place: its bead in the motif) or
// of one bead (place: its crossing). The last three say where it lies on which motif, in parts of
// the motif's size, so that it can be carried over to another braid.

import { around, beadNear } from "./chart.js";

// The layer on found beads: [the beads, how many differ], null if its places are not there.
export function laid(hand, result) {
  const beads = Int16Array.from(result.beads);
  if (!hand?.spots.length || !hand.on) return [beads, 0];
  if (hand.lattice !== result.lattice_key) return null;
  const rows = new Map(result.palette.map((bead, k) => [bead.code, k]));
  let count = 0;
  const put = (n, row) => {
    if (beads[n] !== row) count += 1;
    beads[n] = row;
  };
  const places = result.repeat_index;
  for (const [every, place, code] of hand.spots) {
    const row = rows.get(code);
    if (row === undefined) continue;
    if (!every) {
      if (place < beads.length) put(place, row);
    } else if (hand.tile === result.tile_beads) {
      for (let n = 0; n < places.length; n += 1) if (places[n] === place) put(n, row);
    } else return null;
  }
  return [beads, count];
}

// The layer with beads coloured besides.
export function coloured(hand, chosen, code, every, { result, geometry }) {
  const same = hand && hand.lattice === result.lattice_key && hand.tile === result.tile_beads;
  const spots = new Map();
  for (const spot of same ? hand.spots : []) spots.set(`${spot[0]} ${spot[1]}`, spot);
  for (const n of chosen) {
    const place = result.repeat_index[n] ?? -1;
    const all = every && place >= 0;
    const spot = [all ? 1 : 0, all ? place : n, code, ...onMotif(n, result, geometry)];
    const key = `${spot[0]} ${spot[1]}`;
    spots.delete(key);
    spots.set(key, spot);
  }
  return {
    on: true,
    lattice: result.lattice_key,
    tile: result.tile_beads,
    spots: [...spots.values()],
  };
}

function sizeOf(result, geometry) {
  return result.width_mm
    ? [result.width_mm, result.sketch_mm[1]]
    : [geometry.circumference_mm, geometry.length_mm];
}

const centresOf = (result) => result.placement?.centres_mm ?? [[0, 0]];

function onMotif(n, result, geometry) {
  const [wide, high] = sizeOf(result, geometry);
  const [x, y] = [geometry.x_mm[n], geometry.height_mm[n]];
  const centres = centresOf(result);
  let motif = 0;
  centres.forEach(([, height], k) => {
    if (Math.abs(height - y) < Math.abs(centres[motif][1] - y)) motif = k;
  });
  const right = around(geometry, x - centres[motif][0]) / wide;
  return [motif, Number(right.toFixed(4)), Number(((y - centres[motif][1]) / high).toFixed(4))];
}

// The layer carried over to another braid: to the beads that lie there on the motif.
export function carried(hand, { result, geometry }) {
  const [wide, high] = sizeOf(result, geometry);
  const centres = centresOf(result);
  let found = { on: true, lattice: result.lattice_key, tile: result.tile_beads, spots: [] };
  for (const [every, , code, motif, right, up] of hand.spots) {
    const [x, y] = centres[Math.min(motif, centres.length - 1)];
    const bead = beadNear(geometry, x + right * wide, y + up * high);
    if (bead >= 0) found = coloured(found, [bead], code, Boolean(every), { result, geometry });
  }
  return found;
}
