// Work: a first look at once, the search when the hand rests, then what follows from the beads.

import { setBrush } from "./colouring.js";
import { $, SETTLE_MS, bench, isOld, shared, view, wanted as wantedOf } from "./page.js";
import { handCount, showReport, showSaid, showTally } from "./panels.js";
import { Refused, ask, fetchFile, picture } from "./server.js";
import { sheets, showDrops, sketchStrip } from "./strips.js";
import { askBeside, busy, calm, complain, refuse, say, unmarkFields } from "./words.js";

let wanted = 0;
let looking = false;
let lookAgain = false;
let settleTimer = 0;
let searching = null;

function request(asked, quick) {
  const { now } = bench;
  return {
    ...asked,
    order: { ...asked.order, swatch: asked.swatch?.readings ?? null },
    swatch: undefined,
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
  const asked = wantedOf(bench.now);
  try {
    const answer = await ask("work", request(asked, true));
    if (mine === wanted) {
      accept(answer, asked);
      say("A first look. Searching for the place where it reads best …");
      busy(true);
      settleTimer = setTimeout(search, SETTLE_MS);
    } else if (lookAgain && sketchStrip.drag) {
      accept(answer, asked);
    }
  } catch (error) {
    if (mine === wanted) refuse(error);
  } finally {
    looking = false;
    if (lookAgain) look();
  }
}

export async function search() {
  const mine = wanted;
  const asked = wantedOf(bench.now);
  settleTimer = 0;
  searching = new AbortController();
  try {
    const answer = await ask("work", request(asked, false), searching.signal);
    if (mine !== wanted) return;
    accept(answer, asked);
    showSaid(bench.now);
    report();
  } catch (error) {
    if (mine === wanted) refuse(error);
  } finally {
    if (mine === wanted) {
      searching = null;
      busy(false);
    }
  }
}

// What the maker had done herself and a new result replaces.
function leftBehind(state) {
  const count = handCount(state);
  const opened = Boolean(state.result && !state.result.made);
  return count || opened ? { beads: state.beads, count, opened } : state.left;
}

export const isLeft = (left) => (state) => state.beads === left.beads && !isOld(state);

export function accept(answer, asked) {
  unmarkFields();
  calm();
  const { geometry, doubts, ...result } = answer;
  askBeside(doubts);
  const first = !bench.now.result;
  const atFront = !first && Math.abs(view.viewDeg - bench.now.result.front_deg) < 0.5;
  const newSketch = first || bench.now.result.placement?.file !== result.placement.file;
  bench.put({
    result,
    geometry: geometry ?? bench.now.geometry,
    beads: Int16Array.from(result.beads),
    edited: false,
    asked,
    left: leftBehind(bench.now),
  });
  if (newSketch) view.show({ middleMm: middleOfMotif(bench.now), viewDeg: result.front_deg });
  else if (atFront) view.show({ viewDeg: result.front_deg });
  if (shared.brush >= result.palette.length) setBrush(0);
  loadSketch(result.key);
  tally();
  if (result.quick) reportLater();
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

function stopIfRefused() {
  const { refused } = shared;
  if (!refused) return;
  const mend = refused.labels ? `Mend ${refused.labels} first` : "What you asked for could not be made";
  throw new Refused(`${mend}: what you see is still the braid from before. Undo takes the change back.`);
}

export async function whenSettled() {
  stopIfRefused();
  while (!settled()) {
    if (!searching && !looking && !settleTimer) throw new Refused("Bring a sketch first.");
    await new Promise((resolve) => setTimeout(resolve, 100));
    stopIfRefused();
    if (!$("alert").hidden) throw new Refused("", { superseded: true });
  }
}

// ---- what follows from the beads

export const edits = () => (bench.now.edited ? Array.from(bench.now.beads) : null);

const remade = new Map();

// himotif keeps the newest designs only: an older one, gone back to, is made once more, as it was.
function remake({ result, asked }) {
  if (!remade.has(result.key)) {
    const made = ask("work", request(asked, result.quick));
    remade.set(result.key, made);
    made.catch(() => {}).finally(() => remade.delete(result.key));
  }
  return remade.get(result.key);
}

// Ask about the design on the bench.
export async function askAbout(asks, what) {
  const { now } = bench;
  const { result, asked } = now;
  const body = { key: result.key, beads: edits() };
  try {
    return await asks(what, body);
  } catch (error) {
    if (!error.gone || !result.made || !asked) throw error;
    await remake(now);
    return asks(what, body);
  }
}

let tallyTimer = 0;
let tallied = 0;

export function tally() {
  clearTimeout(tallyTimer);
  // an answer about older beads, or about none, is not wanted any more
  const mine = (tallied += 1);
  if (!bench.now.result) return;
  tallyTimer = setTimeout(async () => {
    try {
      const told = await askAbout(ask, "tally");
      if (mine !== tallied) return;
      showTally(told);
      showDrops(told.drops);
      const text = await askAbout(fetchFile, "design");
      if (mine === tallied) shared.designText = await text.blob.text();
    } catch (error) {
      if (mine === tallied) complain(error);
    }
  }, 120);
}

let reportTimer = 0;
let reported = 0;

// A first look is not compared: what stands there is about the braid from before.
function reportLater() {
  clearTimeout(reportTimer);
  reported += 1;
  const before = $("report").childElementCount ? "Of the braid from before. " : "";
  $("report-words").textContent = `${before}A comparison of this one comes after the search.`;
  $("report-words").hidden = false;
}

export function report() {
  clearTimeout(reportTimer);
  const mine = (reported += 1);
  if (!bench.now.result) return;
  if (!bench.now.result.made) {
    showReport(null, "This design came without its sketch.");
    return;
  }
  $("report-words").textContent = "Comparing sketch and beads …";
  $("report-words").hidden = false;
  reportTimer = setTimeout(async () => {
    try {
      const told = await askAbout(ask, "report");
      if (mine === reported) showReport(told, "");
    } catch (error) {
      if (mine === reported && !error.superseded) showReport(null, error.message);
    }
  }, 200);
}
