// Bringing things: sketches, trays, swatches, designs and works, chosen, dropped or pasted.

import { open } from "./keep.js";
import { calm, complain, guarded, say } from "./line.js";
import { $, bench, keep, make, shared } from "./page.js";
import { Refused, bring, sample } from "./server.js";
import { takePalette } from "./tray.js";
import { rememberDesign } from "./work.js";

function checkSize(file) {
  const most = shared.known.most_upload;
  if (file.size <= most) return;
  const mb = (bytes) => Math.round(bytes / 1024 ** 2);
  throw new Refused(
    `${file.name} has ${mb(file.size)} MB; at most ${mb(most)} MB are taken. Save a smaller copy of ` +
      "it: 2000 pixels on the longer side are plenty.",
  );
}

const stem = (name) => name.replace(/\.[^.]*$/, "").replaceAll("_", " ");

export function bringSketch(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    say(`Reading ${file.name || "the sketch"} …`);
    takeSketch(await bring("picture", file));
  });
}

// A place found for another sketch means nothing for this one.
const UNPLACED = { right: "", up: "", width: "", stretch: "", rotate: "", background: "", paper_corners: "" };

// Nor does a way that was found for it.
const ownOrder = () => bench.now.base ?? bench.now.order;

export function writeLetters(text) {
  if (!text.trim()) return;
  calm();
  const order = { ...ownOrder(), ...UNPLACED, text };
  bench.change({ sketch: null, design: null, order, base: null, free: true, hand: null, name: text.trim() });
}

export function takeSketch(taken) {
  const order = { ...ownOrder(), ...UNPLACED, text: "" };
  const { notes: _notes, ...sketch } = taken;
  bench.change({ sketch, design: null, order, base: null, free: true, hand: null, name: stem(taken.name) });
}

export function bringTray(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    takePalette(await bring("palette", file));
  });
}

// Readings of a swatch, an own disc, a typeface.
export function bringBeside(what, file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    bench.change({ [what]: await bring(what, file) });
  });
}

export function bringDesign(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    takeDesign(await bring("design", file), file.name);
  });
}

function takeDesign(opened, file) {
  const { settings } = opened;
  const id = opened.file;
  rememberDesign(id, opened);
  bench.change({
    sketch: null,
    design: { id, name: file },
    name: opened.name,
    palette: { ...opened.palette_of, name: file },
    off: [],
    font: null,
    start: opened.braid.disc
      ? { name: file, value: { slots: opened.braid.disc.slots, pairs: opened.braid.disc.starts } }
      : null,
    swatch: settings.swatch ? { name: file, readings: { schema: 1, ...settings.swatch } } : null,
    order: { ...bench.now.order, ...opened.order },
    base: null,
    free: false,
    hand: null,
  });
}

export function bringWork(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    const found = await bring("work", file);
    if (found.work) await open(found.work);
    else takeDesign(found.design, file.name);
  });
}

export function choose(accept, then) {
  const input = $("file");
  input.accept = accept;
  input.value = "";
  input.onchange = () => input.files[0] && then(input.files[0]);
  input.click();
}

export async function bringAny(file) {
  const name = file.name.toLowerCase();
  if (name.endsWith(".csv") || name.endsWith(".gpl")) return bringTray(file);
  if (/\.[ot]tf$/.test(name)) return bringBeside("font", file);
  if (name.endsWith(".zip") || name.endsWith(".himotif")) return bringWork(file);
  if (!name.endsWith(".json")) return bringSketch(file);
  const text = await file.text();
  if (/"beads"/.test(text)) return bringDesign(file);
  if (/"(column_rounds|thickness_mm|reads_right)"/.test(text)) return bringBeside("swatch", file);
  return /"pairs"/.test(text) ? bringBeside("start", file) : bringDesign(file);
}

let over = 0;
document.addEventListener("dragenter", (event) => {
  event.preventDefault();
  over += 1;
  document.body.classList.add("over");
});
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("dragleave", () => {
  over = Math.max(0, over - 1);
  document.body.classList.toggle("over", over > 0);
});
document.addEventListener("drop", async (event) => {
  event.preventDefault();
  over = 0;
  document.body.classList.remove("over");
  const files = [...event.dataTransfer.files];
  if (!files.length) {
    complain(new Refused("That is no file. Save the picture first, then drop its file here."));
    return;
  }
  const photo = $("photo-dialog");
  if (photo.open) photo.dispatchEvent(new CustomEvent("bring", { detail: files[0] }));
  else for (const file of files.slice(0, 3)) await bringAny(file);
});
document.addEventListener("paste", (event) => {
  const file = [...(event.clipboardData?.files ?? [])][0];
  if (!file) return;
  event.preventDefault();
  bringAny(file);
});

const FIRST = ["heron.png", "sea_aster.png", "crab.png", "tide.png", "leaf.png", "letter_f.png"];

export function showSamples() {
  const there = FIRST.filter((name) => shared.known.samples.includes(name));
  keep($("samples"), there, (name) => name, (name) => {
    const image = make("img", { src: `samples/${encodeURIComponent(name)}`, alt: "" });
    const words = make("span", {}, stem(name));
    const button = make("button", { type: "button" }, image, words);
    button.addEventListener("click", () => guarded(async () => takeSketch(await sample("picture", name))));
    return button;
  }, () => {});
}

