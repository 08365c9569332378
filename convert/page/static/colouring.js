// Colouring beads: the tool, the brush, one bead or a patch, in one motif or in all.

import { patch } from "./chart.js";
import { $, bench, shared, view } from "./page.js";
import { dot, showBeads, showSaid } from "./panels.js";
import { redraw } from "./strips.js";
import { say } from "./words.js";
import { report, searchGoesOn, stopWork, tally, work } from "./work.js";

export const tool = () => document.querySelector('input[name="tool"]:checked').value;

export function setTool(name) {
  document.querySelector(`input[name="tool"][value="${name}"]`).checked = true;
  $("bench").classList.toggle("colouring", name !== "turn");
}

export function setBrush(index) {
  shared.brush = index;
  showBrush();
  showBeads(bench.now);
}

function showBrush() {
  const bead = bench.now.result?.palette[shared.brush];
  $("brush").replaceChildren(...(bead ? [dot(bead.rgb), `${bead.code} ${bead.name}`] : []));
}

export function paint(chosen, mark) {
  const { now } = bench;
  const beads = Int16Array.from(now.beads);
  const repeatIndex = now.result.repeat_index;
  const alike = $("all").checked && repeatIndex.length;
  const places = new Set();
  for (const bead of chosen) {
    beads[bead] = shared.brush;
    if (alike && repeatIndex[bead] >= 0) places.add(repeatIndex[bead]);
  }
  if (places.size) {
    for (let n = 0; n < beads.length; n += 1) if (places.has(repeatIndex[n])) beads[n] = shared.brush;
  }
  if (beads.every((bead, n) => bead === now.beads[n])) return;
  const searched = searchGoesOn();
  // a search that ends now would take the edit away
  if (searched) stopWork();
  bench.change({ beads, edited: true, left: null }, mark);
  if (searched) say("The search has stopped, so that your beads stay as they are.");
  else if (!shared.refused) showSaid(bench.now);
  tally();
  report();
}

export function useTool(bead, mark) {
  if (bead < 0) return;
  if (tool() === "pick") {
    setBrush(bench.now.beads[bead]);
    setTool("colour");
  } else if (tool() === "fill") {
    if (bench.now.beads[bead] !== shared.brush) paint(patch(bench.now.geometry, bench.now.beads, bead), null);
  } else if (tool() === "colour") {
    paint([bead], mark);
  }
}

export function beadWords(bead) {
  const { geometry, result, beads } = bench.now;
  const row = result.palette[beads[bead]];
  return (
    `${row.code} ${row.name}: strand ${geometry.strand[bead]} (slot ${geometry.slots[geometry.strand[bead] - 1]}), ` +
    `bead ${geometry.order[bead]}, crossing ${bead + 1}, ${geometry.height_mm[bead].toFixed(0)} mm up`
  );
}

export function pointAt(bead) {
  $("bead-words").textContent = bead >= 0 ? beadWords(bead) : "\u00a0";
}

export function setCursor(bead) {
  shared.cursor = bead;
  const { geometry } = bench.now;
  const row = view.rowPx(geometry.height_mm[bead]);
  if (row < 30 || row > view.heightPx - 30) view.show({ middleMm: geometry.height_mm[bead] });
  $("cursor-words").textContent = beadWords(bead);
  pointAt(bead);
  redraw();
}

export function switchBead(code, on) {
  const off = bench.now.off.filter((other) => other !== code);
  if (!on) off.push(code);
  bench.change({ off });
  work();
}
