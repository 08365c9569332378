// Work: a first look at once, the search when the hand rests, then what follows from the beads.

import { dropsOf } from "./braid.js";
import { composed } from "./colour.js";
import { busy, calm, complain, looking as sayLooking, refuse, showLine } from "./line.js";
import { bench, hasMotif, keyOf, made, shared, view, wanted } from "./page.js";
import { Refused, ask, get, picture } from "./server.js";
import { askBeside, unmarkFields } from "./settings.js";
import { isSeeking, onEnd, showWays, stopWays } from "./ways.js";

const SETTLE_MS = 300;
const KEPT = 30;

const found = new Map();
let newest = 0;
let looking = false;
let lookAgain = false;
let timer = 0;
let searching = null;
let held = false;

// While her hand holds the sketch the beads follow at a glance; himotif looks when it rests.
export function hold(on) {
  held = on;
}

// Seen from outside, too: whether what is seen is what is asked for.
const stands = (how) => (document.documentElement.dataset.work = how);

function stop() {
  stands("goes on");
  newest += 1;
  lookAgain = false;
  clearTimeout(timer);
  timer = 0;
  searching?.abort();
  searching = null;
  busy(false);
}

// Bring what is seen in step with what is asked for.
export function work(delay = 0) {
  stop();
  if (held) return null;
  const { now } = bench;
  if (now.design && !now.sketch) return openDesign(now.design);
  if (!hasMotif(now) || !now.palette) {
    stopWays();
    made.put({ result: null, geometry: null, beads: null, byHand: 0, asked: null, tally: null });
    showLine();
    stands("nothing");
    return null;
  }
  const known = found.get(keyOf(now));
  if (known) {
    accept(known, keyOf(now));
    return settled();
  }
  timer = setTimeout(look, delay);
  return null;
}

function request(quick) {
  return {
    ...wanted(bench.now),
    quick,
    have: made.geometry ? made.result.geometry_key : "",
  };
}

// Ask for work; beads that himotif no longer holds are given once more.
async function askWork(body, signal) {
  try {
    return await ask("work", body, signal);
  } catch (error) {
    if (!error.gone) throw error;
    await ask("palette", { name: bench.now.palette.name, beads: bench.now.palette.beads });
    return ask("work", body, signal);
  }
}

async function look() {
  timer = 0;
  lookAgain = looking;
  if (looking) return;
  looking = true;
  const mine = newest;
  const key = keyOf(bench.now);
  try {
    const answer = await askWork(request(true));
    if (mine === newest) {
      accept(complete(answer), key);
      sayLooking();
      busy(true);
      timer = setTimeout(search, SETTLE_MS);
    }
  } catch (error) {
    if (mine === newest) refused(error);
  } finally {
    looking = false;
    if (lookAgain) look();
  }
}

async function search() {
  const mine = newest;
  const key = keyOf(bench.now);
  timer = 0;
  searching = new AbortController();
  const queue = setInterval(showQueue, 1500);
  try {
    const answer = complete(await askWork(request(false), searching.signal));
    if (mine !== newest) return;
    found.set(key, answer);
    if (found.size > KEPT) found.delete(found.keys().next().value);
    accept(answer, key);
    settled();
  } catch (error) {
    if (mine === newest) refused(error);
  } finally {
    clearInterval(queue);
    if (mine === newest) {
      searching = null;
      busy(false);
    }
  }
}

async function showQueue() {
  try {
    const { waiting } = await get("waiting");
    if (waiting && searching) sayLooking(waiting);
  } catch {
    // the search itself says what is wrong
  }
}

const complete = (answer) => ({ ...answer, geometry: answer.geometry ?? made.geometry });

function accept({ geometry, doubts, ...result }, key) {
  unmarkFields();
  calm();
  askBeside(doubts);
  const before = made.result;
  const atFront = before && Math.abs(view.viewDeg - before.front_deg) < 0.5;
  const anew = !before || before.placement?.file !== result.placement?.file;
  const centred = before && Math.abs(nearest(before) - view.middleMm) < 0.6;
  made.put({ result, geometry, asked: key, ...composed(result) });
  if (anew) view.show({ middleMm: middleOf(made), viewDeg: result.front_deg ?? 180 });
  else {
    if (centred && result.placement) view.show({ middleMm: nearest(result) });
    if (atFront) view.show({ viewDeg: result.front_deg ?? 180 });
  }
}

// The motif that is nearest to the middle of the view: its height.
const nearest = ({ placement }) =>
  (placement?.centres_mm ?? []).reduce(
    (best, [, y]) => (Math.abs(y - view.middleMm) < Math.abs(best - view.middleMm) ? y : best), Infinity,
  );

function middleOf({ result, geometry }) {
  const centres = result.placement?.centres_mm ?? [];
  return centres.length ? centres[Math.floor(centres.length / 2)][1] : geometry.length_mm / 2;
}

// What is seen is what is asked for: what follows from it.
function settled() {
  tally();
  showWays({ found: made.result.key });
}

async function openDesign({ id }) {
  const mine = newest;
  try {
    const answer = found.get(`design ${id}`) ?? (await ask("opened", { id }));
    found.set(`design ${id}`, answer);
    if (mine !== newest) return;
    accept(answer, keyOf(bench.now));
    showWays();
    tally();
  } catch (error) {
    if (mine === newest) complain(error);
  }
}

function refused(error) {
  if (!error.superseded) stands("refused");
  refuse(error);
}

export const rememberDesign = (id, answer) => found.set(`design ${id}`, answer);

// Her beads changed, and nothing else.
export function recolour() {
  if (!made.result) return;
  made.put(composed(made.result));
  if (document.documentElement.dataset.work === "done") stands("goes on");
  tally();
}

export async function loadGhost() {
  const { sketch, order } = bench.now;
  const corners = order.paper_corners ?? "";
  if (!sketch || (shared.ghost?.of === sketch.id && shared.ghost.corners === corners)) return;
  try {
    const image = await picture(`api/picture/${sketch.id}.png`, { corners });
    Object.assign(image, { of: sketch.id, corners });
    shared.ghost = image;
    view.show({});
  } catch (error) {
    complain(error);
  }
}

// ---- what follows from the beads

export const isSettled = () =>
  made.result && !made.result.quick && made.asked === keyOf(bench.now) && !timer && !searching;

export async function whenSettled() {
  while (!isSettled()) {
    if (shared.refused) throw new Refused(`${shared.refused} first, or undo it.`);
    if (!searching && !looking && !timer) throw new Refused("Bring a sketch first.");
    await new Promise((resolve) => setTimeout(resolve, 60));
  }
}

export const aboutSeen = () => ({
  key: made.result.key, beads: made.byHand ? Array.from(made.beads) : null, order: bench.now.order,
});

// Ask about what is seen; what himotif let go of is made once more.
export async function askAbout(asks, what) {
  const { result } = made;
  const body = aboutSeen();
  try {
    return await asks(what, body);
  } catch (error) {
    if (!error.gone) throw error;
    if (hasMotif(bench.now)) await askWork(request(Boolean(result.quick)));
    else await ask("opened", { id: bench.now.design.id });
    return asks(what, body);
  }
}

onEnd(() => {
  if (isSettled() && document.documentElement.dataset.work === "goes on") tally();
});

let tallied = 0;
let tallyTimer = 0;

export function tally() {
  clearTimeout(tallyTimer);
  const mine = (tallied += 1);
  if (!made.result) return;
  tallyTimer = setTimeout(async () => {
    try {
      const said = await askAbout(ask, "tally");
      if (mine !== tallied) return;
      shared.drops = dropsOf(said.drops);
      made.put({ tally: said });
      view.show({});
      if (!isSettled()) return;
      // nothing is called done while a way that reads may still come
      if (said.line.tone !== "good" && isSeeking()) return;
      showLine(said.line);
      stands("done");
      if (hasMotif(bench.now)) {
        const { missed } = await askAbout(ask, "limits");
        if (mine !== tallied) return;
        if (missed.length) {
          said.line = { ...said.line, tone: "doubtful", text: [said.line.text, ...missed].join(" ").trim() };
          showLine(said.line);
        }
      }
      const short = said.needs.some((need) => need.short);
      if (!short || made.byHand || !hasMotif(bench.now)) return;
      const ways = await askAbout(ask, "remedies");
      if (mine === tallied) showLine({ ...said.line, buttons: [...said.line.buttons, ...ways] });
    } catch (error) {
      if (mine === tallied) refused(error);
    }
  }, 80);
}
