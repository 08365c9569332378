// Work: a first look at once, the search when the hand rests, then what follows from the beads.

import { setBrush } from "./colouring.js";
import { $, SETTLE_MS, bench, shared, view } from "./page.js";
import { showReport, showTally } from "./panels.js";
import { Refused, ask, fetchFile, picture } from "./server.js";
import { sheets, showDrops, sketchStrip } from "./strips.js";
import { busy, calm, complain, say, unmarkFields } from "./words.js";

let wanted = 0;
let looking = false;
let lookAgain = false;
let settleTimer = 0;
let searching = null;

function request(quick) {
  const { now } = bench;
  return {
    picture: now.picture.id,
    palette: now.palette.id,
    off: now.off,
    order: { ...now.order, swatch: now.swatch?.readings ?? null },
    quick,
    have: now.geometry ? now.result.geometry_key : "",
  };
}

export function stopWork() {
  wanted += 1;
  lookAgain = false;
  clearTimeout(settleTimer);
  settleTimer = 0;
  searching?.abort();
  searching = null;
  busy(false);
}

export function work() {
  const { now } = bench;
  if (!now.palette) return;
  if (!now.picture) {
    if (now.result) say("Bring the sketch to work with these settings.");
    return;
  }
  stopWork();
  look();
}

export async function look() {
  lookAgain = looking;
  if (looking) return;
  looking = true;
  const mine = wanted;
  try {
    const answer = await ask("work", request(true));
    if (mine === wanted) {
      accept(answer);
      say("A first look. Searching for the place where it reads best …");
      busy(true);
      settleTimer = setTimeout(search, SETTLE_MS);
    } else if (lookAgain && sketchStrip.drag) {
      accept(answer);
    }
  } catch (error) {
    if (mine === wanted) complain(error);
  } finally {
    looking = false;
    if (lookAgain) look();
  }
}

export async function search() {
  const mine = wanted;
  settleTimer = 0;
  searching = new AbortController();
  try {
    const answer = await ask("work", request(false), searching.signal);
    if (mine !== wanted) return;
    accept(answer);
    const words = `${answer.placement.centres_mm.length} × the motif, ${answer.beads.length} beads.`;
    say(words);
    report();
  } catch (error) {
    if (mine === wanted) complain(error);
  } finally {
    if (mine === wanted) {
      searching = null;
      busy(false);
    }
  }
}

export function accept(answer) {
  unmarkFields();
  calm();
  const { geometry, ...result } = answer;
  const first = !bench.now.result;
  const atFront = !first && Math.abs(view.viewDeg - bench.now.result.front_deg) < 0.5;
  const newSketch = first || bench.now.result.placement?.file !== result.placement.file;
  bench.put({
    result,
    geometry: geometry ?? bench.now.geometry,
    beads: Int16Array.from(result.beads),
    edited: false,
  });
  if (newSketch) view.show({ middleMm: middleOfMotif(bench.now), viewDeg: result.front_deg });
  else if (atFront) view.show({ viewDeg: result.front_deg });
  if (shared.brush >= result.palette.length) setBrush(0);
  loadSketch(result.key);
  tally();
}

export function middleOfMotif(state) {
  const centres = state.result.placement?.centres_mm ?? [];
  if (!centres.length) return state.geometry.length_mm / 2;
  return centres[Math.floor(centres.length / 2)][1];
}

export async function loadSketch(key) {
  try {
    const image = await picture(`api/sketch/${key}.png`);
    if (bench.now.result?.key !== key) return;
    shared.images.sketch = image;
    shared.images.sketchKey = key;
    sheets.sketch.again();
  } catch {
    // an older look; the newer one has its own picture
  }
}

export const searchGoesOn = () => Boolean(searching || settleTimer);

const settled = () => bench.now.result && (bench.now.edited || !bench.now.result.quick);

export async function whenSettled() {
  while (!settled()) {
    if (!searching && !looking && !settleTimer) throw new Refused("Bring a sketch first.");
    await new Promise((resolve) => setTimeout(resolve, 100));
    if (!$("alert").hidden) throw new Refused("", { superseded: true });
  }
}

// ---- what follows from the beads

export const edits = () => (bench.now.edited ? Array.from(bench.now.beads) : null);

let tallyTimer = 0;
let tallied = 0;

export function tally() {
  clearTimeout(tallyTimer);
  tallyTimer = setTimeout(async () => {
    const mine = (tallied += 1);
    try {
      const told = await ask("tally", { key: bench.now.result.key, beads: edits() });
      if (mine !== tallied) return;
      showTally(told);
      showDrops(told.drops);
      const text = await fetchFile("design", { key: bench.now.result.key, beads: edits() });
      if (mine === tallied) shared.designText = await text.blob.text();
    } catch (error) {
      if (mine === tallied) complain(error);
    }
  }, 120);
}

let reportTimer = 0;
let reported = 0;

export function report() {
  clearTimeout(reportTimer);
  const mine = (reported += 1);
  if (!bench.now.result.made) {
    showReport(null, "This design came without its sketch.");
    return;
  }
  $("report-words").textContent = "Comparing sketch and beads …";
  $("report-words").hidden = false;
  reportTimer = setTimeout(async () => {
    try {
      const told = await ask("report", { key: bench.now.result.key, beads: edits() });
      if (mine === reported) showReport(told, "");
    } catch (error) {
      if (mine === reported && !error.superseded) showReport(null, error.message);
    }
  }, 200);
}
