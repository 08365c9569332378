// What is wanted now and then: each tool says something, and may give a file.

import { coloured } from "./hand.js";
import { $, bench, made, wanted } from "./page.js";
import { Refused, ask, fetchFile, give } from "./server.js";
import { drawWays } from "./ways.js";

const dialog = $("tool-dialog");
const FORMS = ["compare", "measured", "change"];
let file = null;

function open(title, form = null) {
  $("h-tool").textContent = title;
  for (const id of FORMS) $(id).hidden = id !== form;
  show({});
  if (!dialog.open) dialog.showModal();
}

function show({ lines = [], braids = [], words = "", error = "" }) {
  $("tool-words").textContent = words;
  $("tool-error").textContent = error;
  $("tool-error").hidden = !error;
  $("tool-lines").replaceChildren(...lines.map((line) => {
    const item = document.createElement("li");
    item.textContent = line.trim();
    return item;
  }));
  drawWays($("tool-braids"), braids, ({ way }) => way, closeAll);
  $("tool-save").hidden = !file;
}

function closeAll() {
  for (const one of document.querySelectorAll("dialog[open]")) one.close();
}

let newest = 0;

// Ask a tool; null if it refuses, which is said.
async function use(what, more = {}) {
  const mine = (newest += 1);
  file = null;
  show({ words: "Working …" });
  const seen = { key: made.result?.key ?? "", beads: made.byHand ? Array.from(made.beads) : null };
  try {
    const said = await ask(`tools/${what}`, { ...wanted(bench.now), ...seen, ...more });
    if (mine !== newest) return null;
    file = said.file ?? null;
    show(said);
    return said;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (mine === newest && !error.superseded) show({ error: error.message });
    return null;
  }
}

async function save() {
  const { blob, name } = await fetchFile("file", { file });
  give(blob, name);
}

const labelOf = (button) => button.closest(".field").querySelector(".label").textContent;

for (const button of document.querySelectorAll("[data-tool]")) {
  button.addEventListener("click", () => {
    open(labelOf(button));
    use(button.dataset.tool, { kind: button.dataset.kind });
  });
}
for (const button of document.querySelectorAll("[data-open]")) {
  button.addEventListener("click", () => {
    file = null;
    open(labelOf(button), button.dataset.open);
  });
}
$("tool-save").addEventListener("click", save);

const textsOf = (form) => Object.fromEntries(new FormData(form));

function onSubmit(id, act) {
  $(id).addEventListener("submit", (event) => {
    event.preventDefault();
    act(textsOf(event.target));
  });
}

onSubmit("compare", (texts) => use("compared", texts));
onSubmit("measured", async (readings) => {
  const said = await use("recorded", { readings });
  if (!said) return;
  bench.change({ swatch: said.swatch });
  await save();
});
onSubmit("change", async (texts) => {
  const said = await use("changed", texts);
  if (!said?.spots.length) return;
  let { hand } = bench.now;
  for (const code of new Set(said.spots.map(([, one]) => one))) {
    const beads = said.spots.filter(([, one]) => one === code).map(([n]) => n);
    hand = coloured(hand, beads, code, false, made);
  }
  bench.change({ hand });
});
