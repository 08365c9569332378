// What is said to the maker: the work going on, what went wrong, what to mend in the form.

import { $, FIELDS, bench, form, shared } from "./page.js";
import { Refused } from "./server.js";
import { work } from "./work.js";

export function say(text) {
  $("status").textContent = text;
}

export function busy(on) {
  $("progress").hidden = !on;
}

export function complain(error) {
  if (error instanceof Refused && error.superseded) return;
  const text = error instanceof Refused ? error.message : "This did not work. Load the page again.";
  if (!(error instanceof Refused)) console.error(error);
  if (error.fields && markFields(error)) {
    calm();
    return;
  }
  const box = $("alert");
  box.textContent = "";
  const words = document.createElement("span");
  words.textContent = text;
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Understood";
  close.addEventListener("click", calm);
  box.append(words, close);
  box.hidden = false;
  say("");
}

export function calm() {
  $("alert").hidden = true;
}

// What was asked for cannot be made: say what is to be mended, and that what is seen is older.
export function refuse(error) {
  if (error instanceof Refused && error.superseded) return;
  complain(error);
  const made = Boolean(bench.now.result);
  const names = Object.keys(error.fields ?? {}).filter((name) => placeOfField(name));
  const labels = names.map((name) => `“${labelOf(name)}”`).join(" and ");
  const what = labels ? `Please mend ${labels}` : "This could not be made";
  if (labels) say(made ? `${what}. The braid is still the one from before.` : `${what}.`);
  if (!made) return;
  shared.refused = { labels, field: names[0] ?? null };
  $("old-words").textContent = `${what}. What you see is still the braid from before.`;
  $("old-go").hidden = !names.length;
  $("old").hidden = false;
  $("bench").classList.add("is-old");
}

export function placeOfField(name) {
  if (name === "palette") return $("beads").querySelector("input");
  return form.elements[name] ?? null;
}

function labelOf(name) {
  return name === "palette" ? $("h-beads").lastChild.textContent.trim() : form.elements[name].dataset.label;
}

function markFields({ fields, buttons }) {
  let all = true;
  unmarkFields();
  for (const [name, text] of Object.entries(fields)) {
    if (name === "palette") {
      $("error-palette").textContent = text;
      $("error-palette").hidden = false;
      $("beads").setAttribute("aria-describedby", "bead-hint error-palette");
      continue;
    }
    const input = form.elements[name];
    if (!input) {
      all = false;
      continue;
    }
    tellBeside(input, `error-${name}`, "error", { text, buttons: buttons[name] });
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-errormessage", `error-${name}`);
    input.closest("details")?.setAttribute("open", "");
  }
  return all;
}

// Possible, but unlikely: asked beside the field.
export function askBeside(doubts) {
  for (const [name, said] of Object.entries(doubts ?? {})) {
    tellBeside(form.elements[name], `doubt-${name}`, "doubt", said);
  }
}

// A text with a button for each way to mend it.
export function speak(element, { text, buttons = [] }) {
  element.textContent = text;
  for (const { label, form: texts } of buttons) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "remedy";
    button.textContent = label;
    button.addEventListener("click", () => mend(texts));
    element.append(" ", button);
  }
  return element;
}

// Fill the form in and work again; what the maker alone knows is asked for.
function mend(texts) {
  const known = Object.entries(texts).filter(([, text]) => text !== null);
  if (known.length) {
    bench.change({ order: { ...bench.now.order, ...Object.fromEntries(known) } });
    work();
    return;
  }
  const input = placeOfField(Object.keys(texts)[0]);
  input.closest("details")?.setAttribute("open", "");
  input.focus();
}

function tellBeside(input, id, kind, said) {
  const words = document.createElement("p");
  words.className = kind;
  words.id = id;
  speak(words, said);
  input.closest(".field").after(words);
  if (input === document.activeElement) words.scrollIntoView({ block: "nearest" });
  const told = input.dataset.hint ?? input.getAttribute("aria-describedby") ?? "";
  input.dataset.hint = told;
  input.setAttribute("aria-describedby", `${told} ${id}`.trim());
}

export function unmarkFields() {
  for (const name of FIELDS) {
    const input = form.elements[name];
    if (!input) continue;
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-errormessage");
    $(`error-${name}`)?.remove();
    $(`doubt-${name}`)?.remove();
    if (input.dataset.hint) input.setAttribute("aria-describedby", input.dataset.hint);
    else if (input.dataset.hint === "") input.removeAttribute("aria-describedby");
    delete input.dataset.hint;
  }
  $("error-palette").hidden = true;
  $("beads").setAttribute("aria-describedby", "bead-hint");
  shared.refused = null;
  $("old").hidden = true;
  $("bench").classList.remove("is-old");
}

export async function guarded(work) {
  try {
    await work();
  } catch (error) {
    complain(error);
  }
}
