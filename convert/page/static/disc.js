// The work at the disc: the disc as it stands, the next crossing, and one large Next.

const $ = (id) => document.getElementById(id);
const id = location.pathname.split("/").pop();
const SVG = "http://www.w3.org/2000/svg";

let work = null;
let done = 0;
let ticks = [];
let timer = 0;

async function ask(what, body) {
  let response;
  try {
    response = await fetch(`../api/disc/${id}${what}`, body && {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    });
  } catch {
    throw new Error("himotif has stopped. Start himotif page again; your place is kept here.");
  }
  const plain = await response.json();
  if (!response.ok) throw new Error(plain.error);
  return plain;
}

function complain(error) {
  $("alert").textContent = error.message;
  $("alert").hidden = false;
}

const KEY = `himotif place ${id}`;

// The place is kept by himotif, and in this window too in case himotif has stopped.
function keep() {
  const place = { done, ticks: [...ticks] };
  const text = JSON.stringify(place);
  localStorage.setItem(KEY, text);
  clearTimeout(timer);
  // one after the other: the last one stays
  timer = setTimeout(() => (sending = sending.then(() => send(place, text))), 200);
}

let sending = Promise.resolve();

async function send(place, text) {
  try {
    await ask("/place", place);
    // she may have gone on meanwhile
    if (localStorage.getItem(KEY) === text) localStorage.removeItem(KEY);
    $("alert").hidden = true;
  } catch (error) {
    complain(error);
  }
}

// ---- the disc

function shape(kind, attributes, text = "") {
  const element = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.textContent = text;
  return element;
}

const angle = (slot) => ((slot - 0.5) * 2 * Math.PI) / work.slots;
const at = (slot, radius) => [radius * Math.sin(angle(slot)), -radius * Math.cos(angle(slot))];

function slotsNow() {
  const slots = [...work.starts];
  for (const [strand, , to] of work.moves.slice(0, done)) slots[strand - 1] = to;
  return slots;
}

// How far the disc is turned so that the pair that is worked lies from top to bottom.
function turnedDeg() {
  const pair = Math.min(done, work.moves.length - 1);
  const [, from, to] = work.moves[pair - (pair % 2)] ?? work.moves[0];
  const [a, b] = [angle(from), angle(to) + Math.PI];
  const away = Math.atan2(Math.sin(b - a), Math.cos(b - a));
  return (-(a + away / 2) * 180) / Math.PI;
}

let shownDeg = null;

function draw() {
  const disc = $("disc");
  const group = shape("g", { class: "turns" });
  group.append(shape("circle", { class: "rim", r: 84 }), shape("circle", { class: "hole", r: 9 }));
  const upright = turnedDeg();
  // the short way round, so that it turns as her hands turn it
  shownDeg = shownDeg === null ? upright : shownDeg + ((((upright - shownDeg) % 360) + 540) % 360) - 180;
  const slots = slotsNow();
  const filled = new Map(slots.map((slot, strand) => [slot, strand + 1]));
  const text = (point, kind, words) => {
    const element = shape("text", { class: kind, x: point[0], y: point[1] }, words);
    element.setAttribute("transform", `rotate(${-shownDeg} ${point[0]} ${point[1]})`);
    return element;
  };
  for (let slot = 1; slot <= work.slots; slot += 1) {
    const [[x1, y1], [x2, y2]] = [at(slot, 78), at(slot, 84)];
    group.append(shape("line", { class: "slot", x1, y1, x2, y2 }));
  }
  const next = work.moves[done];
  for (const [slot, strand] of filled) {
    const own = shape("g", { class: next?.[0] === strand ? "moving" : "" });
    const [[x1, y1], [x2, y2], badge] = [at(slot, 9), at(slot, 96), at(slot, 101)];
    own.append(shape("line", { class: "cord", x1, y1, x2, y2 }));
    own.append(shape("circle", { class: "badge", cx: badge[0], cy: badge[1], r: 6.4 }));
    own.append(text(badge, "strand", String(strand)));
    group.append(own);
  }
  for (let slot = 1; slot <= work.slots; slot += 1) {
    group.append(text(at(slot, 71), `number ${filled.has(slot) ? "filled" : ""}`, String(slot)));
  }
  if (next) group.append(...move(next));
  group.style.transform = `rotate(${disc.dataset.deg ?? shownDeg}deg)`;
  disc.replaceChildren(group);
  disc.dataset.deg = shownDeg;
  requestAnimationFrame(() => (group.style.transform = `rotate(${shownDeg}deg)`));
}

function move([, from, to, bead]) {
  const [[x1, y1], [x2, y2]] = [at(from, 58), at(to, 58)];
  const [dx, dy] = [x2 - x1, y2 - y1];
  const long = Math.hypot(dx, dy);
  const [ux, uy] = [dx / long, dy / long];
  const head = `M${x2 - 9 * ux - 6 * uy} ${y2 - 9 * uy + 6 * ux}L${x2} ${y2}L${x2 - 9 * ux + 6 * uy} ${y2 - 9 * uy - 6 * ux}`;
  const dot = shape("circle", { class: "bead", cx: x1 + 0.32 * dx, cy: y1 + 0.32 * dy, r: 7.5 });
  dot.style.fill = `rgb(${work.palette[bead].rgb.join(" ")})`;
  return [shape("path", { class: "move", d: `M${x1} ${y1}L${x2} ${y2}${head}` }), dot];
}

// ---- what is next

function show() {
  const next = work.moves[done];
  const total = work.moves.length;
  $("far").textContent = `${done} of ${total} crossings, ${Math.floor(done / work.per_round)} rounds`;
  $("next").disabled = !next;
  $("back").disabled = !done;
  draw();
  if (!next) {
    $("bead").textContent = "Done";
    for (const part of ["order", "strand", "from", "to", "turn"]) $(part).textContent = "";
    $("said").textContent = "The braid is done.";
    return;
  }
  const [strand, from, to, row] = next;
  const bead = work.palette[row];
  const order = 1 + work.moves.slice(0, done).filter((one) => one[0] === strand).length;
  $("dot").style.background = `rgb(${bead.rgb.join(" ")})`;
  $("bead").textContent = `${bead.code} ${bead.name}`;
  $("order").textContent = `bead ${order} of strand ${strand}`;
  $("strand").textContent = `Strand ${strand}, slots`;
  $("from").textContent = from;
  $("to").textContent = to;
  $("turn").textContent = done % 2 ? "From the bottom up." : done ? "Turn the disc; from the top down." : "From the top down.";
  $("said").textContent = `Strand ${strand} from slot ${from} to ${to}, ${bead.name}.`;
  $("disc-words").textContent = $("said").textContent;
}

function go(to) {
  done = Math.max(0, Math.min(work.moves.length, to));
  show();
  keep();
}

$("next").addEventListener("click", () => go(done + 1));
$("back").addEventListener("click", () => go(done - 1));
document.addEventListener("keydown", (event) => {
  if (!work || document.querySelector("dialog[open]") || event.ctrlKey || event.metaKey || event.altKey) return;
  const next = event.key === " " || event.key === "ArrowRight";
  if (!next && event.key !== "ArrowLeft" && event.key !== "Backspace") return;
  if (event.key === " " && event.target.closest("button, a") && event.target !== $("next")) return;
  event.preventDefault();
  if (!event.repeat) go(done + (next ? 1 : -1));
});
// the key that was pressed has been heard already
$("next").addEventListener("keyup", (event) => event.key === " " && event.preventDefault());

// ---- lists to tick

function lists() {
  $("strands").replaceChildren(
    ...work.lists.map((runs, strand) => {
      const box = document.createElement("section");
      const head = document.createElement("h3");
      head.textContent = `Strand ${strand + 1}, slot ${work.starts[strand]}`;
      const list = document.createElement("ol");
      runs.forEach(([count, row, turned], k) => {
        const bead = work.palette[row];
        const label = document.createElement("label");
        const tick = document.createElement("input");
        tick.type = "checkbox";
        tick.checked = k < (ticks[strand] ?? 0);
        const dot = document.createElement("i");
        dot.className = "dot";
        dot.style.background = `rgb(${bead.rgb.join(" ")})`;
        const words = document.createElement("span");
        words.textContent = `${count} ${bead.code} ${bead.name}${turned && `, ${turned}`}`;
        label.append(tick, dot, words);
        // beads are strung in their order: what comes before is strung as well
        tick.addEventListener("change", () => {
          ticks[strand] = tick.checked ? k + 1 : k;
          list.querySelectorAll("input").forEach((one, n) => (one.checked = n < ticks[strand]));
          keep();
        });
        const item = document.createElement("li");
        item.append(label);
        list.append(item);
      });
      box.append(head, list);
      return box;
    }),
  );
}

$("lists-open").addEventListener("click", () => {
  lists();
  $("lists").showModal();
});
$("lost-open").addEventListener("click", () => $("lost").showModal());
for (const button of document.querySelectorAll("[data-close]")) {
  button.addEventListener("click", () => button.closest("dialog").close());
}

let foundAt = 0;
$("lost-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  let lines;
  try {
    const found = await ask("/where", { beads: $("used").value });
    foundAt = found.done;
    ({ lines } = found);
    $("go").hidden = false;
  } catch (error) {
    lines = [error.message];
    $("go").hidden = true;
  }
  $("found").replaceChildren(
    ...lines.map((line) => {
      const item = document.createElement("li");
      item.textContent = line.trim();
      return item;
    }),
  );
});
$("go").addEventListener("click", () => {
  $("lost").close();
  go(foundAt);
});

try {
  work = await ask("");
  const kept = JSON.parse(localStorage.getItem(KEY)) ?? work.place;
  done = Math.min(kept.done, work.moves.length);
  ticks = work.lists.map((_, strand) => kept.ticks[strand] ?? 0);
  $("name").textContent = `${work.name}, at the disc`;
  document.title = $("name").textContent;
  show();
  $("next").focus();
  document.documentElement.dataset.ready = "yes";
} catch (error) {
  complain(error);
}
