// The page: puts its parts together and begins.

import {
  bringDesign,
  bringPalette,
  bringPicture,
  bringSwatch,
  choose,
  sampleButtons,
  takePalette,
} from "./bring.js";
import { setTool } from "./colouring.js";
import { turnTo } from "./hands.js";
import { $, FIELDS, bench, form, isOld, shared, view } from "./page.js";
import {
  showActs,
  showBeads,
  showLeft,
  showNothing,
  showOrder,
  showPalette,
  showPicture,
  showSaid,
} from "./panels.js";
import { fetchFile, sample, start } from "./server.js";
import { layOut, redraw, sheets } from "./strips.js";
import { busy, calm, guarded, placeOfField, say, unmarkFields } from "./words.js";
import { askAbout, isLeft, loadSketch, report, stopWork, tally, whenSettled, work } from "./work.js";

bench.addEventListener("change", ({ detail: { before, now, stepped } }) => {
  if (now.palette !== before.palette || now.off !== before.off) showPalette(now);
  showOrder(now, stepped);
  showPicture(now);
  showActs(now);
  showLeft(now);
  showBeads(now);
  if (now.geometry && now.geometry !== before.geometry) {
    shared.cursor = -1;
    layOut();
  }
  if (stepped) showAgain(now);
  redraw();
});

// Everything that follows from a state the maker has gone back or forth to.
function showAgain(now) {
  clearTimeout(typing);
  stopWork();
  unmarkFields();
  calm();
  if (!now.result) showNothing();
  showSaid(now);
  tally();
  report();
  const unfinished = !now.result || isOld(now) || (now.result.quick && !now.edited);
  if (now.picture && unfinished) work();
  else if (now.result?.made) {
    shared.images.sketchKey = "";
    loadSketch(now.result.key);
  }
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", (event) => {
  const { name, value } = event.target;
  if (!FIELDS.includes(name)) return;
  bench.change({ order: { ...bench.now.order, [name]: value } }, `field ${name}`);
  clearTimeout(typing);
  typing = setTimeout(work, event.target.tagName === "SELECT" ? 0 : 250);
});
form.addEventListener("focusout", () => bench.settle());
let typing = 0;

$("palette").addEventListener("change", (event) => {
  const name = event.target.value;
  if (name === "own") return;
  guarded(async () => takePalette({ ...(await sample("palette", name)), sample: name }));
});
$("choose-picture").addEventListener("click", () => choose("image/*", bringPicture));
$("choose-palette").addEventListener("click", () => choose(".csv,.gpl,text/csv", bringPalette));
$("choose-swatch").addEventListener("click", () => choose(".json,application/json", bringSwatch));
$("drop-swatch").addEventListener("click", () => {
  bench.change({ swatch: null });
  work();
});
$("open-design").addEventListener("click", () => choose(".json,application/json", bringDesign));
$("best").addEventListener("click", () => {
  bench.change({ order: { ...bench.now.order, right: "", up: "", width: "", rotate: "" } });
  work();
});
$("report-open").addEventListener("click", () => $("large").showModal());
$("left-back").addEventListener("click", () => bench.back(isLeft(bench.now.left)));
$("left-close").addEventListener("click", () => bench.put({ left: null }));
$("old-go").addEventListener("click", () => placeOfField(shared.refused.field).focus());
$("undo").addEventListener("click", () => bench.undo());
$("redo").addEventListener("click", () => bench.redo());
$("codes").addEventListener("change", () => sheets.chart.again());
for (const input of document.querySelectorAll('input[name="tool"]')) {
  input.addEventListener("change", () => setTool(input.value));
}
for (const button of document.querySelectorAll("[data-side]")) {
  button.addEventListener("click", () => turnTo(Number(button.dataset.side)));
}
$("larger").addEventListener("click", () => zoom(1.25));
$("smaller").addEventListener("click", () => zoom(0.8));

function zoom(times) {
  view.zoom = Math.max(0.3, Math.min(3, view.zoom * times));
  layOut();
}

function give(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

function making(button, words, what, then) {
  $(button).addEventListener("click", () =>
    guarded(async () => {
      $(button).setAttribute("aria-busy", "true");
      try {
        calm();
        await whenSettled();
        say(words);
        busy(true);
        then(await askAbout(fetchFile, what));
      } finally {
        busy(false);
        $(button).removeAttribute("aria-busy");
      }
    }),
  );
}

making("folder", "Laying out the sheet and packing the folder …", "folder", ({ blob, name }) => {
  give(blob, name);
  bench.saved = bench.now;
  say(`${name} is made: lists, sheet, chart, preview and design.`);
});

making("print", "Laying out the sheet …", "sheet", ({ blob, name }) => {
  const address = URL.createObjectURL(blob);
  if (window.open(address)) say("The sheet is open in a tab of its own; print it from there.");
  else {
    give(blob, name);
    say(`${name} is made; open and print it.`);
  }
});

$("save-design").addEventListener("click", () =>
  guarded(async () => {
    try {
      const { blob, name } = await askAbout(fetchFile, "design");
      give(blob, name);
      say(`${name} is saved.`);
    } catch (error) {
      if (!error.lost || !shared.designText) throw error;
      // himotif is gone, but the design is here: what it wrote last, with the beads as they are
      const plain = JSON.parse(shared.designText);
      plain.beads = Array.from(bench.now.beads);
      give(new Blob([JSON.stringify(plain, null, 1)], { type: "application/json" }), "design.json");
      say("The design is saved as design.json. Start himotif page again and open it there.");
    }
    bench.saved = bench.now;
  }),
);

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches("input:not([type=checkbox], [type=radio])")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) bench.undo();
  else if (key === "y" || (key === "z" && event.shiftKey)) bench.redo();
  else return;
  event.preventDefault();
});

guarded(async () => {
  shared.known = await start();
  sampleButtons($("sample-list"));
  sampleButtons($("first-samples"));
  const palette = { ...(await sample("palette", shared.known.palettes[0])), sample: shared.known.palettes[0] };
  bench.put({ palette, order: { ...bench.now.order, wrist: String(shared.known.wrist_mm) } });
  bench.saved = bench.now;
  layOut();
  say("Ready. Drop a sketch.");
  document.documentElement.dataset.ready = "yes";
});
