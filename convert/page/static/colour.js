// Colouring beads by hand with a dish of the tray: one bead, a patch, in one motif or in every one.

import { coloured, carried, laid } from "./hand.js";
import { $, bench, made, shared, view } from "./page.js";

const listeners = new Set();
export const onBrush = (listen) => listeners.add(listen);

export const isColouring = () => shared.brush !== null;

// Take up a dish; the same one again, or null, puts it down.
export function takeUp(code) {
  shared.brush = code === shared.brush ? null : code;
  shared.cursor = -1;
  for (const listen of listeners) listen();
  view.show({});
}

export function stopColouring() {
  if (shared.brush !== null) takeUp(shared.brush);
}

export function pickUp(bead) {
  const { code } = made.result.palette[made.beads[bead]];
  if (code !== shared.brush) takeUp(code);
}

export function paint(chosen, mark) {
  const row = made.result.palette.findIndex((bead) => bead.code === shared.brush);
  if (row < 0) return;
  const every = $("every").checked;
  const wrong = [...chosen].filter((bead) => made.beads[bead] !== row);
  if (!wrong.length) return;
  bench.change({ hand: coloured(bench.now.hand, wrong, shared.brush, every, made) }, mark);
}

// The found beads with her layer on them, wherever it fits.
export function composed(result) {
  const found = laid(bench.now.hand, result);
  if (!found) return { beads: Int16Array.from(result.beads), byHand: 0, elsewhere: true };
  return { beads: found[0], byHand: found[1], elsewhere: false };
}

export function carryOver() {
  bench.change({ hand: carried(bench.now.hand, made) });
}

export function wordsOf(bead) {
  const { geometry, result, beads } = made;
  const row = result.palette[beads[bead]];
  return `${row.code} ${row.name}: strand ${geometry.strand[bead]}, bead ${geometry.order[bead]}`;
}
