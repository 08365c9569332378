// What all parts of the page share: what is asked for, what was made of it, the view of it.

import { Bench } from "./state.js";
import { View } from "./view.js";

export const $ = (id) => document.getElementById(id);
export const form = $("order");
export const view = new View();
// What only the papers and the limits of a result depend on; the beads do not.
const BESIDE = ["m-papers", "m-limits"].flatMap((id) =>
  Array.from($(id).parentElement.querySelectorAll("[name]"), (input) => input.name),
);
export const FIELDS = [...new Set(Array.from(form.querySelectorAll("[name]"), (input) => input.name))];

// What is asked for, and what she did by hand; every state is a snapshot.
export const bench = new Bench({
  name: "",
  sketch: null,
  design: null,
  palette: null,
  off: [],
  order: Object.fromEntries(FIELDS.map((name) => [name, form.elements.namedItem(name).value])),
  // the order whose ways are offered, if one of them was taken
  base: null,
  // nothing of size or braid was chosen by hand yet: the first way that reads is taken
  free: true,
  // files besides: readings of a swatch, an own disc, a typeface
  swatch: null,
  start: null,
  font: null,
  hand: null,
});

// What himotif made of it, with the beads as they are after her hand.
export const made = new (class extends EventTarget {
  result = null;
  geometry = null;
  beads = null;
  asked = null;
  tally = null;
  put(patch) {
    Object.assign(this, patch);
    this.dispatchEvent(new Event("change"));
  }
})();

// What changes hands without being a state.
export const shared = {
  known: null,
  brush: null,
  cursor: -1,
  drops: new Map(),
  ghost: null,
  refused: null,
  rolled: 0,
};

// There is something to be worked.
export const hasMotif = ({ sketch, order }) => Boolean(sketch || order.text?.trim());

export const wanted = ({ sketch, palette, off, order, swatch, start, font }) => ({
  picture: sketch?.id,
  palette: palette?.id,
  off,
  order: {
    ...order, swatch: swatch?.readings ?? null, start: start?.value ?? null, font: font?.value ?? null,
  },
});

const beside = ([name]) => BESIDE.includes(name) && name !== "unit";
const part = (order, choose) => Object.fromEntries(Object.entries(order).filter(choose));

export function keyOf(state) {
  const asked = wanted(state);
  return JSON.stringify({ ...asked, order: part(asked.order, (one) => !beside(one)) });
}

export const besideOf = ({ order }) => JSON.stringify(part(order, beside));

export function make(kind, properties = {}, ...children) {
  const element = document.createElement(kind);
  const { dataset, ...rest } = properties;
  Object.assign(element, rest);
  Object.assign(element.dataset, dataset ?? {});
  element.append(...children);
  return element;
}

// Bring the children of a box in step with values, keeping the elements that stay.
export function keep(box, values, keyOfValue, create, update) {
  const there = new Map(Array.from(box.children, (child) => [child.dataset.key, child]));
  values.forEach((value, k) => {
    const key = String(keyOfValue(value, k));
    let child = there.get(key);
    if (!child) {
      child = create(value, k);
      child.dataset.key = key;
    }
    there.delete(key);
    update(child, value, k);
    if (box.children[k] !== child) box.insertBefore(child, box.children[k] ?? null);
  });
  for (const child of there.values()) child.remove();
}
