// Colours of beads from a photograph: himotif finds them, she names them and takes them.

import { css } from "./bead.js";
import { choose } from "./bring.js";
import { guarded } from "./line.js";
import { $, make } from "./page.js";
import { Pointed, shape } from "./pointing.js";
import { ask, bring, picture } from "./server.js";
import { addBeads, takeColour, trayOf } from "./tray.js";

let photo = null;
let found = [];
let white = null;
// for one bead that is being changed, and not for the tray
let forOne = false;

const pointed = new Pointed(
  $("photo"), "The photo. Arrow keys move the cross, Enter takes the bead under it.",
  (at) => guarded(async () => {
    if (document.querySelector("[name=click]:checked").value === "white") {
      white = at;
      document.querySelector("[name=click][value=bead]").checked = true;
      say("Colours go by that place.");
      return find([]);
    }
    const [bead] = await look([at]);
    found = [...found.filter((one) => !inside(one.outline, at)), { ...bead, at }];
    show();
    return null;
  }),
);

const say = (text) => ($("photo-words").textContent = text);

// Whether a place lies within an outline: how often a ray to the right crosses it.
function inside(outline, [x, y]) {
  let odd = false;
  outline.forEach(([x1, y1], k) => {
    const [x2, y2] = outline[(k + 1) % outline.length];
    if (y1 > y !== y2 > y && x < x1 + ((y - y1) / (y2 - y1)) * (x2 - x1)) odd = !odd;
  });
  return odd;
}

async function look(at) {
  const { beads, notes } = await ask("tray/photographed", { id: photo.id, white, at });
  say(notes.join(" "));
  return beads;
}

async function find(at) {
  say("Looking for beads …");
  try {
    found = await look(at);
  } catch (error) {
    found = [];
    say(error.message);
  }
  show();
}

function show() {
  $("photo-beads").replaceChildren(...found.map(row));
  pointed.mark(found.flatMap(({ outline }, k) => {
    const points = outline.map((place) => pointed.point(place).map((value) => value.toFixed(1)).join()).join(" ");
    const middle = [0, 1].map((axis) => {
      const values = outline.map((place) => place[axis]);
      return (Math.min(...values) + Math.max(...values)) / 2;
    });
    const [x, y] = pointed.point(middle);
    return [
      shape("polygon", { points, class: "under" }), shape("polygon", { points }),
      shape("circle", { cx: x, cy: y, r: 17 }), shape("text", { x, y: y + 8 }, String(k + 1)),
    ];
  }));
  $("photo-put").hidden = $("photo-tray").hidden = forOne || !found.length;
}

function row(bead, k) {
  const dot = make("span", { className: "dot" });
  dot.style.background = css(bead.rgb);
  const name = make("input", { value: bead.name, maxLength: 60 });
  name.setAttribute("aria-label", `Name of bead ${k + 1}`);
  name.addEventListener("input", () => (bead.name = name.value));
  const act = make("button", { type: "button" }, forOne ? "Take its colour" : "Leave out");
  act.addEventListener("click", () => {
    if (forOne) {
      $("photo-dialog").close();
      takeColour(bead.rgb);
      return;
    }
    found = found.filter((one) => one !== bead);
    show();
  });
  return make("li", {}, dot, name, act);
}

function bringPhoto(file) {
  return guarded(async () => {
    say("Reading the photo …");
    try {
      photo = await bring("photograph", file);
      pointed.show(await picture(`api/picture/${photo.id}.png`, { corners: "none" }));
    } catch (error) {
      say(error.message);
      return;
    }
    white = null;
    $("photo-dialog").classList.add("there");
    await find([]);
  });
}

export function openPhoto(one = false) {
  forOne = one;
  if (photo) show();
  $("photo-dialog").showModal();
}

$("photo-dialog").addEventListener("bring", ({ detail }) => bringPhoto(detail));
$("choose-photo").addEventListener("click", () => choose("image/*", bringPhoto));
$("photo-heaps").addEventListener("click", () => guarded(() => find([])));
$("from-photo").addEventListener("click", () => openPhoto());
$("bead-photo").addEventListener("click", () => openPhoto(true));
const taken = () => found.map(({ name, rgb }) => ({ name, rgb }));
$("photo-put").addEventListener("click", () => {
  $("photo-dialog").close();
  addBeads(taken());
});
$("photo-tray").addEventListener("click", () => {
  $("photo-dialog").close();
  trayOf(taken(), photo.name);
});
