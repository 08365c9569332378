// The page: puts its parts together and begins.

import * as bracelet from "./bracelet.js";
import { bringAny, bringBeside, bringSketch, bringTray, choose, showSamples, writeLetters } from "./bring.js";
import { onBrush, stopColouring } from "./colour.js";
import "./corners.js";
import { open, save, saveCopy, saveMade, saveSoon, showRecent, startNew } from "./keep.js";
import { complain, guarded, say, showLine } from "./line.js";
import "./photo.js";
import { $, besideOf, bench, hasMotif, keyOf, made, make, shared, view } from "./page.js";
import { isRing, toggleRing, turnRing, zoomRing } from "./ring.js";
import { ask, askNow, fetchFile, get, give, sample } from "./server.js";
import { delay, showBackgrounds, showFound, showOrder, speak } from "./settings.js";
import * as stage from "./stage.js";
import { holdFrame, isHeld } from "./tracing.js";
import "./tools.js";
import { showTray, showTrays, startTray } from "./tray.js";
import { showWays } from "./ways.js";
import { aboutSeen, askAbout, hold, isSettled, loadGhost, recolour, tally, whenSettled, work } from "./work.js";

bench.addEventListener("change", ({ detail: { before, now, stepped, begun } }) => {
  const again = stepped || begun;
  if (again) delay();
  showOrder(now, again);
  if (now.palette !== before.palette || now.off !== before.off) showBackgrounds(now);
  showTrays();
  showTray();
  showActs(now);
  if (begun) shared.brush = null;
  if (now.sketch?.id !== before.sketch?.id || now.order.paper_corners !== before.order.paper_corners) loadGhost();
  if (begun || keyOf(now) !== keyOf(before) || now.design?.id !== before.design?.id) work(delay());
  else if (now.hand !== before.hand) recolour();
  else if (besideOf(now) !== besideOf(before)) tally();
  showWays();
  saveSoon();
});

// A motif that no longer fits into the room is seen whole again; nothing moves while it does, nor
// while she holds it.
let tall = 0;
function refit() {
  const high = made.result?.sketch_mm?.[1] ?? 0;
  const grown = high > tall;
  tall = high;
  if (grown && high * view.pxPerMm > view.heightPx * view.zoom && !isHeld()) stage.layOut();
}

let geometry = null;
made.addEventListener("change", () => {
  if (made.geometry !== geometry) {
    geometry = made.geometry;
    shared.cursor = -1;
    stage.layOut();
    bracelet.layOut();
  }
  refit();
  document.body.classList.toggle("bare", !made.result);
  document.body.classList.toggle("composed", Boolean(made.result?.composed));
  showEmpty();
  showTray();
  showFound();
  showHand();
  view.show({});
  if (made.result && !made.result.quick) saveMade();
});

function showActs(now) {
  $("undo").disabled = !bench.past.length;
  $("redo").disabled = !bench.future.length;
  $("name").textContent = now.name;
  showEmpty();
  document.title = `${now.name ? `${now.name}, ` : ""}himotif`;
}

function showEmpty() {
  $("empty").hidden = Boolean(made.result || hasMotif(bench.now) || bench.now.design);
}

// Her beads as a layer: switched off and on as a whole.
function showHand() {
  const { hand } = bench.now;
  const count = hand?.spots.length ?? 0;
  $("hand").hidden = !count || made.elsewhere;
  $("hand-on").checked = Boolean(hand?.on);
  $("hand").querySelector("span").textContent = "my colours";
}
$("hand-on").addEventListener("change", () => {
  bench.change({ hand: { ...bench.now.hand, on: $("hand-on").checked } });
});

// ---- the stage

holdFrame((texts, mark, done) => {
  hold(!done);
  const { now } = bench;
  const order = { ...now.order, ...texts };
  const same = Object.keys(texts).every((name) => now.order[name] === texts[name]);
  if (!same) bench.change({ order, base: null, free: false }, mark);
  if (done) work();
  stage.sheet.again();
});
$("fade").addEventListener("input", () => stage.sheet.again());
$("roll").addEventListener("click", stage.roll);
$("ring").addEventListener("click", () => toggleRing());
$("turn-braid").addEventListener("click", () => (isRing() ? turnRing(45) : stage.turnBy(-45)));
$("larger").addEventListener("click", () => zoom(1.25));
$("smaller").addEventListener("click", () => zoom(0.8));
$("colouring-done").addEventListener("click", stopColouring);

function zoom(times) {
  if (isRing()) return zoomRing(times);
  view.zoom = Math.max(0.2, Math.min(3, view.zoom * times));
  stage.layOut();
}

onBrush(() => {
  const bead = bench.now.palette?.beads.find((one) => one.code === shared.brush);
  $("colouring").hidden = !bead || !made.result;
  $("brush").textContent = bead ? bead.name : "";
  $("stage").classList.toggle("colours", Boolean(bead && made.result));
  if (bead) toggleRing(false);
});

// ---- the header

$("undo").addEventListener("click", () => bench.undo());
$("redo").addEventListener("click", () => bench.redo());
$("works").addEventListener("click", () => {
  guarded(showRecent);
  $("works-dialog").showModal();
});
$("new-work").addEventListener("click", () => {
  $("works-dialog").close();
  guarded(async () => {
    await save();
    startNew();
  });
});
const FILES = ".himotif,.zip,.json,.csv,.gpl,image/*";
$("open-file").addEventListener("click", () => {
  $("works-dialog").close();
  choose(FILES, bringAny);
});
$("change-sketch").addEventListener("click", () => {
  $("works-dialog").close();
  choose("image/*", bringSketch);
});
$("save-copy").addEventListener("click", () => guarded(saveCopy));
$("choose-sketch").addEventListener("click", () => choose(FILES, bringAny));
$("write").addEventListener("submit", (event) => {
  event.preventDefault();
  writeLetters($("write-letters").value);
});
for (const button of document.querySelectorAll("[data-bring]")) {
  const what = button.dataset.bring;
  const accept = what === "font" ? ".ttf,.otf" : ".json,application/json";
  button.addEventListener("click", () => choose(accept, (file) => bringBeside(what, file)));
}
for (const button of document.querySelectorAll("[data-drop]")) {
  button.addEventListener("click", () => bench.change({ [button.dataset.drop]: null }));
}
startTray((then) => choose(".csv,.gpl,.json,text/csv", then), bringTray);

function making(button, words, what, then) {
  let busy = false;
  $(button).addEventListener("click", () =>
    guarded(async () => {
      if (busy) return;
      busy = true;
      $(button).setAttribute("aria-busy", "true");
      try {
        await whenSettled();
        say(words);
        then(await askAbout(fetchFile, what));
        showLine(made.tally?.line);
      } finally {
        busy = false;
        $(button).removeAttribute("aria-busy");
      }
    }),
  );
}
making("folder", "Packing the folder …", "folder", ({ blob, name }) => give(blob, name));
making("print", "Laying out the sheet …", "sheet", ({ blob, name }) => {
  if (!window.open(URL.createObjectURL(blob))) give(blob, name);
});
$("disc").addEventListener("click", () => save());

// ---- dialogs

$("more").addEventListener("click", () => $("more-dialog").showModal());
for (const section of $("more-dialog").querySelectorAll("section")) {
  const button = make("button", { type: "button" }, section.querySelector("h3").textContent);
  button.addEventListener("click", () => {
    section.scrollIntoView();
    section.querySelector("input, select, button").focus({ preventScroll: true });
  });
  $("more-groups").append(button);
}
for (const button of document.querySelectorAll("[data-close]")) {
  button.addEventListener("click", () => button.closest("dialog").close());
}
for (const dialog of document.querySelectorAll("dialog")) {
  dialog.addEventListener("click", (event) => event.target === dialog && dialog.close());
}

const item = (said) => speak(document.createElement("li"), typeof said === "string" ? { text: said.trim() } : said);

$("why").addEventListener("click", () => {
  const { tally, result } = made;
  $("why-dialog").showModal();
  $("notes").replaceChildren(...[...(result.notes ?? []), ...(tally?.cautions ?? [])].map(item));
  $("shopping").replaceChildren(...(tally?.lines ?? []).map(item));
  $("report").replaceChildren();
  $("report-large").hidden = true;
  if (!result.made) {
    $("report-words").textContent = "This design came without its sketch.";
    return;
  }
  $("report-words").textContent = "Comparing sketch and beads …";
  guarded(async () => {
    try {
      await whenSettled();
      const said = await askAbout(ask, "report");
      $("report-picture").src = $("report-large").href = `api/report/${said.picture}.svg`;
      $("report-large").hidden = false;
      $("report").replaceChildren(...said.findings.map(item));
      $("report-words").textContent = "";
    } catch (error) {
      $("report-words").textContent = error.message;
    }
  });
});

// What is printed is the sheet. The browser waits for nothing that is not there at once.
window.addEventListener("beforeprint", () => {
  const pages = isSettled() ? askNow("sheet-pages", aboutSeen()) : [];
  const parser = new DOMParser();
  const drawn = pages.map((page) => parser.parseFromString(page, "image/svg+xml").documentElement);
  $("on-paper").replaceChildren(...(drawn.length ? drawn : ["Print it when the beads are found."]));
});
window.addEventListener("afterprint", () => $("on-paper").replaceChildren());

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !document.querySelector("dialog[open]")) stopColouring();
  const text = event.target.matches("input:not([type=checkbox], [type=radio], [type=range])");
  if (!(event.ctrlKey || event.metaKey) || text) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) bench.undo();
  else if (key === "y" || (key === "z" && event.shiftKey)) bench.redo();
  else return;
  event.preventDefault();
});

window.addEventListener("unhandledrejection", (event) => complain(event.reason));

guarded(async () => {
  shared.known = await get("start");
  showSamples();
  const palette = await sample("palette", shared.known.palettes[0]);
  bench.first = Object.freeze({ ...bench.first, palette });
  bench.begin({});
  const id = location.hash.slice(1);
  if (/^[0-9a-f]{32}$/.test(id)) await open(id);
  else await showRecent();
  document.documentElement.dataset.ready = "yes";
});
