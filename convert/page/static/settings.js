// The form: what is asked for, in sight and behind More.

import { take } from "./line.js";
import { $, FIELDS, bench, form, made, make, shared } from "./page.js";

let typed = 0;
export const delay = () => {
  const ms = typed;
  typed = 0;
  return ms;
};

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", (event) => {
  const { name, value, type } = event.target;
  if (!FIELDS.includes(name)) return;
  typed = type === "text" || type === "" ? 300 : 0;
  // a work of letters is called by them
  const called = name === "text" && !bench.now.sketch ? { name: value } : {};
  const { base, order: before } = bench.now;
  // a way to work a sketch once says nothing of it all round
  const order = { ...((name === "all_round" && base) || before), [name]: value };
  bench.change({ ...called, order, base: null, free: false }, `field ${name}`);
});
form.addEventListener("focusout", () => bench.settle());

const first = (name) => {
  const control = form.elements.namedItem(name);
  return control instanceof RadioNodeList ? control[0] : control;
};

export const labelOf = (name) => (name === "palette" ? "Bead tray" : (first(name)?.dataset.label ?? name));

export function goTo(name) {
  if (name === "palette") {
    $("dishes").querySelector("button")?.focus();
    return;
  }
  const input = first(name);
  const dialog = input.closest("dialog");
  if (dialog && !dialog.open) dialog.showModal();
  (input.type === "hidden" ? input.parentElement.querySelector("input") : input).focus();
}

export function showOrder(now, stepped) {
  for (const name of FIELDS) {
    const control = form.elements.namedItem(name);
    const value = now.order[name] ?? "";
    // what is being typed stays as it is
    const hers = first(name) === document.activeElement && !stepped;
    if (!hers && control.value !== value) control.value = value;
    if (control.tagName === "SELECT" && control.selectedIndex < 0) control.selectedIndex = 0;
  }
  for (const field of form.querySelectorAll("[data-only-if]")) {
    const [name, value] = field.dataset.onlyIf.split("=");
    field.hidden = now.order[name] !== value;
  }
  for (const box of form.querySelectorAll("[data-of]")) {
    box.checked = (now.order[box.dataset.of] ?? "").split(" ").includes(box.value);
  }
  for (const button of form.querySelectorAll("[data-drop]")) {
    const what = button.dataset.drop;
    $(`${what}-words`).textContent = now[what]?.name ?? "";
    button.hidden = !now[what];
  }
}

// Boxes that are one text together, and colours from a chart: they fill a field.
form.addEventListener("input", ({ target }) => {
  const { of, fills } = target.dataset;
  if (!of && !fills) return;
  const ticked = Array.from(form.querySelectorAll(`[data-of="${of}"]:checked`), (box) => box.value);
  const input = $(of ?? fills);
  input.value = fills ? target.value : ticked.join(" ");
  input.dispatchEvent(new Event("input", { bubbles: true }));
});

export function showFound() {
  const { result } = made;
  const width = form.elements.namedItem("width");
  if (width) width.placeholder = result?.width_mm ? `${result.width_mm.toFixed(1)}, found` : "found";
  const repeat = form.elements.namedItem("repeat");
  const motifs = result?.placement?.centres_mm.length;
  repeat.placeholder = motifs ? `all that fit: ${motifs}` : "all that fit";
}

export function showBackgrounds(now) {
  for (const select of form.querySelectorAll("[data-beads]")) showBeads(select, now);
}

function showBeads(select, now) {
  const beads = (now.palette?.beads ?? []).filter((bead) => !now.off.includes(bead.code));
  const wanted = ["", ...beads.map((bead) => bead.code)].join();
  if (select.dataset.codes === wanted) return;
  select.dataset.codes = wanted;
  select.replaceChildren(
    new Option("found", ""), ...beads.map((bead) => new Option(`${bead.code} ${bead.name}`, bead.code)),
  );
  select.value = now.order[select.name] ?? "";
}

// ---- what is refused, and what is asked about

export function markFields({ fields, buttons }) {
  for (const [name, text] of Object.entries(fields)) {
    if (name === "palette") {
      $("error-palette").textContent = text;
      $("error-palette").hidden = false;
      continue;
    }
    const input = first(name);
    if (!input) continue;
    beside(name, "error", { text, buttons: buttons[name] });
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-errormessage", `error-${name}`);
  }
}

// Possible, but unlikely: asked beside the field.
export function askBeside(doubts) {
  for (const [name, said] of Object.entries(doubts ?? {})) {
    if (first(name)) beside(name, "doubt", said);
  }
}

function beside(name, kind, said) {
  const words = make("p", { className: kind, id: `${kind}-${name}` });
  speak(words, { ...said, text: said.text[0].toUpperCase() + said.text.slice(1) });
  first(name).closest(".field").append(words);
  const before = first(name).getAttribute("aria-describedby") ?? "";
  first(name).dataset.described ??= before;
  first(name).setAttribute("aria-describedby", `${before} ${words.id}`.trim());
}

// A text with a button for each way to mend it.
export function speak(element, { text, buttons = [] }) {
  element.textContent = text;
  for (const way of buttons) {
    const button = make("button", { type: "button", className: "remedy", textContent: way.label });
    button.addEventListener("click", () => take(way));
    element.append(" ", button);
  }
  return element;
}

export function unmarkFields() {
  for (const name of FIELDS) {
    const input = first(name);
    for (const kind of ["error", "doubt"]) $(`${kind}-${name}`)?.remove();
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-errormessage");
    if (input.dataset.described === undefined) continue;
    if (input.dataset.described) input.setAttribute("aria-describedby", input.dataset.described);
    else input.removeAttribute("aria-describedby");
    delete input.dataset.described;
  }
  $("error-palette").hidden = true;
  shared.refused = null;
  document.body.classList.remove("is-old");
}
