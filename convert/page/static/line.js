// The one line that says how the work stands, and what helps.

import { carryOver } from "./colour.js";
import { $, FIELDS, bench, form, keep, made, make, shared } from "./page.js";
import { Refused } from "./server.js";
import { goTo, labelOf, markFields, unmarkFields } from "./settings.js";

const MOST = 3;

export function busy(on) {
  $("progress").hidden = !on;
}

function put(word, text, tone = "") {
  if ($("word").textContent !== word) $("word").textContent = word;
  if ($("line-text").textContent !== text) $("line-text").textContent = text;
  $("line").dataset.tone = tone;
}

export function say(text) {
  put("", text);
  buttons([]);
}

export const looking = (waiting = 0) =>
  say(waiting ? `Looking. ${waiting} before this one …` : "Looking where it reads best …");

// How it stands; nothing without a word.
export function showLine(line = null) {
  if (!line) {
    say(made.result ? "" : "Ready.");
    return;
  }
  const ways = line.buttons.slice(0, MOST).map((way) => ({ label: way.label, act: () => take(way) }));
  let { text } = line;
  if (made.elsewhere) {
    const count = bench.now.hand.spots.length;
    text = `${text} ${count === 1 ? "A bead" : `${count} beads`} of yours lie on another braid.`.trim();
    ways.unshift({ label: "Carry them over", act: carryOver });
  }
  put(line.word, text, line.tone);
  buttons(ways.slice(0, MOST));
}

function buttons(ways) {
  keep(
    $("remedies"), ways, (way) => way.label,
    () => {
      const button = make("button", { type: "button" });
      button.addEventListener("click", () => button.act());
      return button;
    },
    (button, way) => {
      button.textContent = way.label;
      button.act = way.act;
    },
  );
}

// Do what a remedy says; what she alone knows is asked for.
export function take({ form: texts = {}, off = [] }) {
  const known = Object.entries(texts).filter(([, text]) => text !== null);
  if (!known.length && !off.length) {
    goTo(Object.keys(texts)[0]);
    return;
  }
  const { now } = bench;
  bench.change({
    order: { ...now.order, ...Object.fromEntries(known) },
    off: [...now.off, ...off.filter((code) => !now.off.includes(code))],
    base: null,
    free: false,
  });
}

export function complain(error) {
  if (error instanceof Refused && error.superseded) return;
  if (!(error instanceof Refused)) console.error(error);
  const text = error instanceof Refused ? error.message : "This did not work. Load the page again.";
  showAlert(text, []);
}

function showAlert(text, ways) {
  const box = $("alert");
  box.textContent = text;
  box.hidden = false;
  $("status").hidden = true;
  busy(false);
  buttons([...ways.slice(0, MOST - 1), { label: "All right", act: calm }]);
}

export function calm() {
  if ($("alert").hidden) return;
  $("alert").hidden = true;
  $("alert").textContent = "";
  $("status").hidden = false;
  buttons([]);
  if (made.tally) showLine(made.tally.line);
}

// What is asked for cannot be made: say what is to be mended; what is seen is older.
export function refuse(error) {
  if (error instanceof Refused && error.superseded) return;
  const fields = Object.keys(error.fields ?? {});
  if (!fields.length) {
    complain(error);
    return;
  }
  unmarkFields();
  markFields(error);
  const [first] = fields;
  shared.refused = `Mend “${labelOf(first)}”`;
  const ways = (error.buttons[first] ?? []).map((way) => ({ label: way.label, act: () => take(way) }));
  if (FIELDS.includes(first) && document.activeElement !== form.elements.namedItem(first)) {
    ways.push({ label: "Go there", act: () => goTo(first) });
  }
  showAlert(`${labelOf(first)}: ${error.fields[first]}`, ways);
  document.body.classList.add("is-old");
}

export async function guarded(act) {
  try {
    await act();
  } catch (error) {
    complain(error);
  }
}
