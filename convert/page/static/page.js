// What all parts of the page share: what is on the bench, the view of it, and the form.

import { Bench } from "./state.js";
import { View } from "./view.js";

export const $ = (id) => document.getElementById(id);
export const form = $("order");
export const view = new View();
export const FIELDS = Array.from(form.querySelectorAll("[name]"), (input) => input.name);
export const SETTLE_MS = 350;

export const bench = new Bench({
  picture: null,
  palette: null,
  off: [],
  order: Object.fromEntries(FIELDS.map((name) => [name, form.elements[name].value])),
  swatch: null,
  result: null,
  geometry: null,
  beads: null,
  edited: false,
  // what the result was made for; it is old as soon as something else is wanted
  asked: null,
  // beads coloured by hand, or an opened design, that a newer result has replaced
  left: null,
});

export const wanted = ({ picture, palette, off, order, swatch }) => ({
  picture: picture?.id, palette: palette?.id, off, order, swatch,
});

export function isOld(state) {
  if (!state.picture || !state.result) return false;
  const want = wanted(state);
  return !state.asked || Object.keys(want).some((name) => want[name] !== state.asked[name]);
}

// What changes hands without being a state of the bench.
export const shared = {
  known: null,
  brush: 0,
  cursor: -1,
  drops: new Map(),
  images: { ghost: null, sketch: null, sketchKey: "" },
  designText: null,
  refused: null,
};
