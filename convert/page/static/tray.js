// The bead tray: a dish a bead, filled by the stock less what the work takes.

import { css, inkOn } from "./bead.js";
import { onBrush, stopColouring, takeUp } from "./colour.js";
import { guarded } from "./line.js";
import { $, bench, keep, made, make, shared, wanted } from "./page.js";
import { Refused, ask, bring, fetchFile, give, sample } from "./server.js";

export function takePalette(taken) {
  stopColouring();
  bench.change({ palette: taken, off: [], order: { ...bench.now.order, background: "" } });
}

const counts = () => {
  const found = new Map();
  if (!made.result) return found;
  for (const bead of made.beads) {
    const { code } = made.result.palette[bead];
    found.set(code, (found.get(code) ?? 0) + 1);
  }
  return found;
};

export function showTray() {
  const { now } = bench;
  const used = counts();
  const needs = new Map((made.tally?.needs ?? []).map((need) => [need.code, need]));
  keep($("dishes"), now.palette?.beads ?? [], (bead) => bead.code, createDish, (dish, bead) => {
    const taken = used.get(bead.code) ?? 0;
    const off = now.off.includes(bead.code);
    const known = typeof bead.stock === "number";
    const level = known ? Math.max(0, Math.min(1, (bead.stock - taken) / Math.max(1, bead.stock))) : 1;
    const short = taken && needs.get(bead.code)?.short;
    const { fill, name, note } = dish.parts;
    fill.style.height = `${Math.round(100 * (known ? 0.1 + 0.9 * level : 1))}%`;
    fill.style.backgroundColor = css(bead.rgb);
    for (const [name, share] of Object.entries(bead.look ?? {})) fill.style.setProperty(`--${name}`, share);
    fill.classList.toggle("dark", inkOn(bead.rgb) === "#fff");
    if (name.textContent !== bead.name) name.textContent = bead.name;
    note.textContent = short ? `${short} short` : taken ? String(taken) : off ? "out" : "";
    dish.classList.toggle("short", Boolean(short));
    dish.classList.toggle("off", off);
    dish.dataset.code = bead.code;
    dish.title = needs.get(bead.code)?.line ?? `${bead.code} ${bead.name}`;
    dish.setAttribute("aria-pressed", String(shared.brush === bead.code));
  });
  const chosen = beadOf(shared.brush);
  $("change-bead").hidden = !chosen;
  $("play-bead").hidden = !chosen;
  $("play-bead").textContent = now.off.includes(shared.brush) ? "Into play" : "Out of play";
}

const beadOf = (code) => bench.now.palette?.beads.find((bead) => bead.code === code);

function createDish() {
  const fill = make("i");
  const [name, note] = [make("span", { className: "name" }), make("span", { className: "note" })];
  const bowl = make("span", { className: "bowl" }, fill);
  const dish = make("button", { type: "button", className: "dish" }, bowl, name, note);
  dish.parts = { fill, name, note };
  dish.addEventListener("click", () => takeUp(dish.dataset.code));
  return dish;
}

export function showTrays() {
  const { now } = bench;
  const { palettes } = shared.known;
  const own = now.palette && !palettes.includes(now.palette.name);
  const wanted = [...palettes, own ? now.palette.name : ""].join();
  const select = $("trays");
  if (select.dataset.names !== wanted) {
    select.dataset.names = wanted;
    const plain = (name) => name.replace(/\.[a-z]+$/i, "").replaceAll("_", " ");
    select.replaceChildren(
      ...palettes.map((name) => new Option(plain(name), name)),
      ...(own ? [new Option(plain(now.palette.name), "own")] : []),
      new Option("Your file …", "file"),
    );
  }
  select.value = own ? "own" : (now.palette?.name ?? "");
}

export function startTray(chooseFile, takeFile) {
  $("trays").addEventListener("change", (event) => {
    const name = event.target.value;
    if (name === "own") return;
    if (name === "file") {
      showTrays();
      chooseFile(takeFile);
      return;
    }
    guarded(async () => takePalette(await sample("palette", name)));
  });
  $("play-bead").addEventListener("click", () => {
    const { off } = bench.now;
    const code = shared.brush;
    bench.change({ off: off.includes(code) ? off.filter((one) => one !== code) : [...off, code] });
  });
  $("add-bead").addEventListener("click", () => openBead(null));
  $("change-bead").addEventListener("click", () => openBead(beadOf(shared.brush)));
  $("save-tray").addEventListener("click", () =>
    guarded(async () => {
      const { name, beads } = bench.now.palette;
      const file = await fetchFile("palette-file", { name, beads });
      give(file.blob, file.name);
    }),
  );
  $("bead-form").addEventListener("submit", (event) => {
    event.preventDefault();
    putBead();
  });
  $("remove-bead").addEventListener("click", () => {
    const { beads } = bench.now.palette;
    change(beads.filter((bead) => bead !== opened), null);
  });
  $("more-tray").addEventListener("click", () => {
    say([]);
    $("tray-dialog").showModal();
  });
  $("sort-now").addEventListener("click", () => arrange("in-order", { by: $("sort-tray").value }));
  $("join-tray").addEventListener("click", () =>
    chooseFile((file) => guarded(async () => arrange("together", { more: (await bring("palette", file)).beads }))),
  );
  $("use-tray").addEventListener("click", () =>
    arrange("used", { key: made.result.key, edited: made.byHand ? Array.from(made.beads) : null }),
  );
  $("suggest-tray").addEventListener("click", () =>
    chooseFile((file) => guarded(async () => suggest((await bring("palette", file)).beads))),
  );
  onBrush(showTray);
}

// ---- the whole tray: in order, with others, after a bracelet, what to buy

function say(lines, words = "") {
  const { hard_to_tell_apart: pairs } = bench.now.palette;
  const name = (code) => `${code} ${beadOf(code)?.name ?? ""}`;
  $("tray-words").textContent = words;
  $("tray-lines").replaceChildren(...lines.map((line) => make("li", {}, line)));
  $("tray-buy").replaceChildren();
  const alike = (pairs ?? []).map(({ beads }) => make("li", {}, beads.map(name).join(" / ")));
  $("tray-alike").replaceChildren(...(alike.length ? alike : [make("li", {}, "None.")]));
}

async function arrange(how, more) {
  try {
    const { name, beads } = bench.now.palette;
    const { lines = [], ...palette } = await ask(`tray/${how}`, { name: ownName(name), beads, ...more });
    stopColouring();
    bench.change({ palette });
    say(lines, how === "used" ? "Taken off the stock; Undo puts them back:" : "");
  } catch (error) {
    say([], error.message);
  }
}

async function suggest(shop) {
  say([], "Trying what helps …");
  try {
    const { beads, lines } = await ask("tray/suggested", { ...wanted(bench.now), shop });
    say(lines);
    $("tray-buy").replaceChildren(...beads.map((bead) => {
      const dot = make("span", { className: "dot" });
      dot.style.background = css(bead.rgb);
      const add = make("button", { type: "button" }, "Into the tray");
      add.addEventListener("click", () => {
        add.disabled = true;
        addBeads([bead]);
      });
      return make("li", {}, dot, make("span", {}, bead.name), add);
    }));
  } catch (error) {
    say([], error.message);
  }
}

export function addBeads(beads) {
  const all = [...bench.now.palette.beads];
  for (const bead of beads) all.push({ ...bead, code: nextCode(all) });
  return change(all, null);
}

export function trayOf(beads, name) {
  return guarded(async () => {
    const all = [];
    for (const bead of beads) all.push({ ...bead, code: nextCode(all) });
    takePalette(await ask("palette", { name: name.replace(/\.[^.]*$/, ".csv"), beads: all }));
  });
}

export function takeColour(rgb) {
  $("bead-colour").value = hex(rgb);
}

// ---- one bead: by name and colour, its stock, size and finish

let opened = null;

function nextCode(beads = bench.now.palette.beads) {
  const taken = new Set(beads.map((bead) => bead.code));
  for (let k = 0; ; k += 1) {
    const code = (k < 26 ? "" : String.fromCharCode(64 + Math.floor(k / 26))) + String.fromCharCode(65 + (k % 26));
    if (!taken.has(code)) return code;
  }
}

const hex = (rgb) => `#${rgb.map((code) => code.toString(16).padStart(2, "0")).join("")}`;

function openBead(bead) {
  opened = bead;
  const fields = $("bead-form").elements;
  fields.size.replaceChildren(new Option("as the others", ""), ...shared.known.sizes.map((size) => new Option(size, size)));
  $("finishes").replaceChildren(...shared.known.finishes.map((finish) => new Option(finish)));
  fields.name.value = bead?.name ?? "";
  fields.code.value = bead?.code ?? nextCode();
  fields.colour.value = bead ? hex(bead.rgb) : "#7a8f6a";
  fields.stock.value = bead?.stock ?? "";
  fields.size.value = bead?.size ?? "";
  fields.shape.value = bead?.shape ?? "round";
  fields.finish.value = bead?.finish ?? "";
  $("bead-line").textContent = made.tally?.needs.find((need) => need.code === bead?.code)?.line ?? "";
  $("remove-bead").hidden = !bead;
  $("bead-error").hidden = true;
  $("bead-dialog").showModal();
}

function putBead() {
  const fields = Object.fromEntries(
    Array.from(new FormData($("bead-form")), ([name, value]) => [name, value.trim()]),
  );
  const { colour, ...texts } = fields;
  const rgb = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
  const bead = { ...opened, ...texts, rgb, name: texts.name || texts.code };
  for (const [name, value] of Object.entries(bead)) if (value === "") delete bead[name];
  const { beads } = bench.now.palette;
  change(opened ? beads.map((one) => (one === opened ? bead : one)) : [...beads, bead], bead.code);
}

// A tray that is changed is hers.
const ownName = (name) =>
  shared.known.palettes.includes(name) ? `my ${name.replace(/\.[a-z]+$/i, ".csv")}` : name;

async function change(beads, code) {
  try {
    const { name } = bench.now.palette;
    const palette = await ask("palette", { name: ownName(name), beads });
    stopColouring();
    bench.change({ palette, off: bench.now.off.filter((one) => beads.some((bead) => bead.code === one)) });
    $("bead-dialog").close();
    if (code && shared.brush !== code) $("dishes").querySelector(`[data-code="${CSS.escape(code)}"]`)?.focus();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    $("bead-error").textContent = error.message;
    $("bead-error").hidden = false;
  }
}
