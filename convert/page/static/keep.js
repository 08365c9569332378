// Nothing is lost: the work is saved after every change, and opened again with all its steps.

import { drawBraid } from "./braid.js";
import { complain, guarded } from "./line.js";
import { $, bench, keep, make, made, shared, view } from "./page.js";
import { Refused, ask, fetchFile, get, give, picture, useWork } from "./server.js";

const REST_MS = 400;

// key: of the design that is saved with it
const work = { id: "", rev: 0, key: "" };
let timer = 0;
let saving = false;
let again = false;
let opening = false;

export const workId = () => work.id;

const newId = () =>
  Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");

const isEmpty = () => !bench.now.sketch && !bench.now.design && !bench.past.length;

// Save when the hand rests.
export function saveSoon() {
  if (opening || isEmpty()) return;
  clearTimeout(timer);
  $("saved").textContent = "";
  timer = setTimeout(save, REST_MS);
}

// The beads are there: they are saved as well, unless they are those that were opened.
export function saveMade() {
  if (made.result.key !== work.key) saveSoon();
}

// Beads of trays are kept once, however many states there are.
function packed() {
  const palettes = {};
  const pack = (state) => {
    if (!state.palette) return state;
    palettes[state.palette.id] = state.palette;
    return { ...state, palette: state.palette.id };
  };
  const states = { now: pack(bench.now), past: bench.past.map(pack), future: bench.future.map(pack) };
  return { ...states, palettes };
}

function unpacked({ now, past = [], future = [], palettes = {} }) {
  const open = (state) => ({ ...state, palette: palettes[state.palette] ?? state.palette ?? null });
  return { now: open(now), past: past.map(open), future: future.map(open) };
}

export async function save() {
  clearTimeout(timer);
  timer = 0;
  again = saving;
  if (saving) return;
  saving = true;
  if (!work.id) begin(newId(), 0);
  const body = {
    rev: work.rev, name: bench.now.name, ...packed(),
    picture: drawn(), key: made.result?.key ?? "", beads: made.byHand ? Array.from(made.beads) : null,
  };
  const { id } = work;
  try {
    const kept = await ask(`saved/${id}`, body);
    if (id === work.id) {
      Object.assign(work, { rev: kept.rev, key: body.key });
      forget(id);
      if (!timer && !again) $("saved").textContent = "saved";
    }
  } catch (error) {
    if (error.conflict) {
      // the same work was changed in another window: this one goes on as a copy
      begin(newId(), 0);
      again = true;
    } else {
      remember(id, body);
      $("saved").textContent = error.lost ? "kept in this window" : "not saved";
      if (!(error instanceof Refused && error.superseded)) complain(error);
    }
  } finally {
    saving = false;
    if (again) save();
  }
}

function begin(id, rev, key = "") {
  Object.assign(work, { id, rev, key });
  useWork(id);
  $("disc").href = id ? `disc/${id}` : "";
  const hash = id ? `#${id}` : "";
  if (location.hash !== hash) history.replaceState(null, "", hash || location.pathname);
}

// ---- what himotif could not take, because it was stopped

const KEY = "himotif work ";

function remember(id, { picture: _picture, ...body }) {
  try {
    localStorage.setItem(KEY + id, JSON.stringify(body));
  } catch {
    // no room: the window itself still has it
  }
}

const forget = (id) => localStorage.removeItem(KEY + id);

function remembered(id, rev) {
  try {
    const body = JSON.parse(localStorage.getItem(KEY + id));
    return body && body.rev >= rev ? body : null;
  } catch {
    return null;
  }
}

// ---- opening

export async function open(id) {
  await guarded(async () => {
    opening = true;
    try {
      const saved = await get(`saved/${id}`);
      const late = remembered(id, saved.rev);
      begin(id, saved.rev, late ? "" : saved.key);
      bench.begin(unpacked(late ?? saved));
      $("saved").textContent = "saved";
    } finally {
      opening = false;
    }
    if (remembered(id, work.rev)) save();
  });
}

export function startNew() {
  const { palette } = bench.now;
  begin("", 0);
  opening = true;
  bench.begin({ now: { ...bench.first, palette } });
  opening = false;
  $("saved").textContent = "";
  showRecent();
}

window.addEventListener("hashchange", () => {
  const id = location.hash.slice(1);
  if (id !== work.id && /^[0-9a-f]{32}$/.test(id)) open(id);
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden" && timer) save();
});
window.addEventListener("pagehide", () => {
  if (timer || saving) remember(work.id || newId(), { rev: work.rev, name: bench.now.name, ...packed() });
});

export async function saveCopy() {
  await save();
  const { blob, name } = await fetchFile(`saved/${work.id}/file`, {});
  give(blob, name);
}

// ---- recent works

function ago(saved) {
  const days = Math.round((new Date().setHours(12, 0, 0, 0) - new Date(saved).setHours(12, 0, 0, 0)) / 864e5);
  if (days <= 0) return "today";
  return days === 1 ? "yesterday" : new Date(saved).toLocaleDateString(undefined, { day: "numeric", month: "long" });
}

export async function showRecent() {
  const works = await get("recent");
  fill($("recent"), works.slice(0, 4));
  $("recent").hidden = !works.length;
  fill($("all-works"), works);
}

function fill(box, works) {
  keep(box, works, (one) => `${one.id} ${one.saved}`, (one) => {
    const image = make("img", { alt: "" });
    const words = make("span", {}, `${one.name || "work"}, ${ago(one.saved)}`);
    const button = make("button", { type: "button" }, image, words);
    button.addEventListener("click", () => {
      $("works-dialog").close();
      if (one.id !== work.id) open(one.id);
    });
    if (one.picture) picture(`api/saved/${one.id}/picture.png`).then((got) => (image.src = got.src), () => {});
    return button;
  }, () => {});
}

// A picture of the braid for the list of works.
function drawn() {
  if (!made.geometry) return null;
  const [wide, high] = [320, 96];
  const canvas = make("canvas", { width: wide, height: high });
  const { geometry, result, beads } = made;
  const scale = (high - 8) / geometry.thickness_mm;
  const low = view.middleMm - wide / scale / 2;
  const context = canvas.getContext("2d");
  drawBraid(context, 1, geometry, beads, result.palette, result.front_deg ?? 180, shared.drops, {
    pxPerMm: scale, lowMm: low, highMm: low + wide / scale, lying: true, rolled: 0,
    at: (x, y) => [(y - low) * scale, high / 2 + x * scale],
  });
  return canvas.toDataURL("image/png").split(",")[1];
}
