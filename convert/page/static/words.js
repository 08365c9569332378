// What is said to the maker: the work going on, what went wrong, what to mend in the form.

import { $, FIELDS, form } from "./page.js";
import { Refused } from "./server.js";

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
  if (error.fields && markFields(error.fields)) {
    say("Something in the settings does not go together.");
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

function markFields(fields) {
  let all = true;
  for (const [name, text] of Object.entries(fields)) {
    if (name === "palette") {
      $("error-palette").textContent = text;
      $("error-palette").hidden = false;
      continue;
    }
    const input = form.elements[name];
    if (!input) {
      all = false;
      continue;
    }
    input.setAttribute("aria-invalid", "true");
    let words = $(`error-${name}`);
    if (!words) {
      words = document.createElement("p");
      words.className = "error";
      words.id = `error-${name}`;
      input.closest(".field").append(words);
    }
    words.textContent = text;
    input.setAttribute("aria-errormessage", words.id);
    input.closest("details")?.setAttribute("open", "");
  }
  return all;
}

export function unmarkFields() {
  for (const name of FIELDS) {
    form.elements[name]?.removeAttribute("aria-invalid");
    $(`error-${name}`)?.remove();
  }
  $("error-palette").hidden = true;
}

export async function guarded(work) {
  try {
    await work();
  } catch (error) {
    complain(error);
  }
}
