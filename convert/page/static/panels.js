// The panels beside the bench: beads, settings, counts, lists and the comparison.

import { css } from "./bead.js";
import { setBrush, setTool, switchBead, tool } from "./colouring.js";
import { $, FIELDS, bench, form, shared } from "./page.js";
import { say, speak } from "./words.js";
import { isLeft } from "./work.js";

function item(text) {
  const li = document.createElement("li");
  li.textContent = text;
  return li;
}

const finding = (said) => speak(document.createElement("li"), said);

export function dot(rgb) {
  const span = document.createElement("span");
  span.className = "dot";
  span.style.background = css(rgb);
  return span;
}

export function showTally(told) {
  const rows = new Map(bench.now.result.palette.map((bead) => [bead.code, bead]));
  $("about").textContent = told.about;
  $("needs").tBodies[0].replaceChildren(
    ...told.needs.map((need) => {
      const row = document.createElement("tr");
      const [code, name, count] = ["th", "td", "td"].map((kind) => document.createElement(kind));
      code.scope = "row";
      code.className = "code";
      code.append(dot(rows.get(need.code).rgb), need.code);
      name.textContent = need.name;
      count.textContent = need.count;
      row.append(code, name, count);
      return row;
    }),
  );
  $("shopping").replaceChildren(...told.lines.map((line) => item(line.trim())));
  $("lists").replaceChildren(
    ...told.strands.map((strand) => {
      const li = document.createElement("li");
      const head = document.createElement("b");
      head.textContent = `Strand ${strand.number}`;
      const slot = document.createElement("small");
      slot.textContent = `slot ${strand.slot}`;
      head.append(slot);
      const list = document.createElement("span");
      list.textContent = strand.list;
      li.append(head, list);
      return li;
    }),
  );
  const notes = [...(bench.now.result.notes ?? []).map(finding), ...told.cautions.map(item)];
  $("notes").replaceChildren(...notes);
  $("notes-part").hidden = !notes.length;
}

// Beads that were coloured by hand since himotif made them.
export function handCount({ result, beads, edited }) {
  if (!edited || !result) return 0;
  return beads.reduce((count, bead, n) => count + (bead !== result.beads[n]), 0);
}

// The status line of a braid that is not being worked on.
export function showSaid(now) {
  const { result } = now;
  if (!result) {
    say(now.picture ? "" : "Ready. Drop a sketch.");
    return;
  }
  const count = handCount(now);
  const by = count ? `, ${count} of them coloured by hand` : "";
  const motifs = result.placement?.centres_mm.length;
  const what = result.made ? `${motifs} × the motif` : `${result.name} is open`;
  say(`${what}, ${result.beads.length} beads${by}.`);
}

export function showLeft(now) {
  $("left").hidden = !now.left || !bench.past.some(isLeft(now.left));
  if (!now.left) return;
  const { count, opened } = now.left;
  const beads = count === 1 ? "the bead" : `the ${count} beads`;
  $("left-words").textContent = opened
    ? "Made anew from your sketch, in place of the design you opened. Undo brings it back."
    : `Made anew, without ${beads} you had coloured by hand. Undo brings them back.`;
}

// What follows from the beads, when there are none.
export function showNothing() {
  $("about").textContent = "";
  $("needs").tBodies[0].replaceChildren();
  for (const id of ["shopping", "lists", "notes"]) $(id).replaceChildren();
  $("notes-part").hidden = true;
  showReport(null, "Comes with the sketch.");
}

export function showReport(told, words) {
  $("report").replaceChildren(...(told?.findings ?? []).map(finding));
  $("report-words").textContent = words;
  $("report-words").hidden = !words;
  const image = $("report-picture");
  $("report-open").hidden = !told;
  if (told) {
    image.src = `api/report/${told.picture}.svg`;
    $("report-large").src = image.src;
  }
}

export function showBeads(now) {
  const list = $("beads");
  const palette = now.palette?.beads ?? [];
  const place = new Map((now.result?.palette ?? []).map((bead, k) => [bead.code, k]));
  const counts = new Map();
  if (now.beads) for (const bead of now.beads) counts.set(bead, (counts.get(bead) ?? 0) + 1);
  const focused = document.activeElement?.dataset?.bead;
  list.replaceChildren(
    ...palette.map((bead) => {
      const off = now.off.includes(bead.code);
      const li = document.createElement("li");
      li.classList.toggle("off", off);
      const tick = document.createElement("input");
      tick.type = "checkbox";
      tick.checked = !off;
      tick.dataset.bead = `tick ${bead.code}`;
      tick.setAttribute("aria-label", `Use ${bead.code}, ${bead.name}`);
      tick.disabled = !now.picture && Boolean(now.result);
      tick.addEventListener("change", () => switchBead(bead.code, tick.checked));
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.bead = `brush ${bead.code}`;
      const index = place.get(bead.code);
      button.disabled = index === undefined;
      button.setAttribute("aria-pressed", String(index !== undefined && index === shared.brush));
      const [code, name, count] = ["code", "name", "count"].map((kind) => {
        const span = document.createElement("span");
        span.className = kind;
        return span;
      });
      code.textContent = bead.code;
      name.textContent = bead.name;
      name.title = bead.name;
      count.textContent = counts.get(index) ?? "";
      button.append(dot(bead.rgb), code, name, count);
      button.addEventListener("click", () => {
        setBrush(index);
        if (tool() === "turn" || tool() === "pick") setTool("colour");
      });
      li.append(tick, button);
      return li;
    }),
  );
  if (focused) list.querySelector(`[data-bead="${CSS.escape(focused)}"]`)?.focus();
}

export function showPalette(now) {
  const names = new Map(shared.known.palettes.map((name) => [name, name]));
  const select = $("palette");
  const options = shared.known.palettes.map((name) => new Option(name.replace(/\..*$/, ""), name));
  const own = now.palette && !names.has(now.palette.sample);
  if (own) options.push(new Option(now.palette.name, "own"));
  select.replaceChildren(...options);
  select.value = own ? "own" : (now.palette?.sample ?? "");
  const pairs = now.palette?.hard_to_tell_apart ?? [];
  const alike = $("alike");
  alike.hidden = !pairs.length;
  alike.querySelector("summary").textContent =
    pairs.length === 1 ? "Two beads look much alike" : `${pairs.length} pairs of beads look much alike`;
  alike.querySelector("ul").replaceChildren(
    ...pairs.slice(0, 12).map(({ beads, ciede2000 }) =>
      item(`${beads[0]} and ${beads[1]} (colour difference ${ciede2000.toFixed(1)})`),
    ),
  );
  const background = form.elements.background;
  background.replaceChildren(
    new Option("Found", ""),
    ...(now.palette?.beads ?? [])
      .filter((bead) => !now.off.includes(bead.code))
      .map((bead) => new Option(`${bead.code} ${bead.name}`, bead.code)),
  );
}

export function showOrder(now, stepped = false) {
  for (const name of FIELDS) {
    const input = form.elements[name];
    const value = now.order[name] ?? "";
    // what is being typed stays as it is
    const hers = input === document.activeElement && !stepped;
    if (!hers && input.value !== value) input.value = value;
    if (input.tagName === "SELECT" && input.selectedIndex < 0) input.selectedIndex = 0;
  }
  for (const field of form.querySelectorAll("[data-only-if]")) {
    const [name, value] = field.dataset.onlyIf.split("=");
    field.hidden = now.order[name] !== value;
  }
  const { result } = now;
  form.elements.width.placeholder = result?.width_mm ? `${result.width_mm.toFixed(1)}, found` : "";
  $("swatch-words").textContent = now.swatch ? now.swatch.name : "";
  $("drop-swatch").hidden = !now.swatch;
  $("best").disabled = !now.picture || !(now.order.right || now.order.up);
}

export function showPicture(now) {
  const image = $("picture");
  image.hidden = !now.picture;
  if (now.picture) {
    const address = `api/picture/${now.picture.id}.png`;
    if (image.getAttribute("src") !== address) image.src = address;
    image.alt = `Your sketch ${now.picture.name}`;
    const [wide, high] = now.picture.size_px;
    $("picture-words").textContent = `${now.picture.name}, ${wide} × ${high} pixels`;
    $("choose-picture").textContent = "Choose another";
  } else {
    const placed = now.result?.placement?.file;
    $("picture-words").textContent = placed
      ? `This design was made from ${placed}. Drop it here to place it again.`
      : "Drop your sketch here, paste it, or";
    $("choose-picture").textContent = "Choose a file";
  }
}

export function showActs(now) {
  const made = Boolean(now.result);
  $("undo").disabled = !bench.past.length;
  $("redo").disabled = !bench.future.length;
  for (const id of ["save-design", "print", "folder"]) $(id).disabled = !made;
  $("empty").hidden = made;
  for (const id of ["chart-figure", "braid-figure", "ruler", "tools", "under", "whole-figure"]) $(id).hidden = !made;
  $("sketch-figure").hidden = !made || !now.result.made;
}
