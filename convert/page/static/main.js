// The page: what is brought, what is wanted, what is seen, and how they hang together.

import { Bench } from "./state.js";
import { Sheet, View } from "./view.js";
import { beadAt, drawBraid } from "./braid.js";
import { beadNear, drawChart, neighbourTowards, outlineCells, patch } from "./chart.js";
import { SketchStrip, placeOf } from "./sketch.js";
import { css, inkOn } from "./bead.js";
import { Refused, ask, bring, fetchFile, picture, sample, start } from "./server.js";

const $ = (id) => document.getElementById(id);
const form = $("order");
const view = new View();
const FIELDS = [
  "strands", "lay", "bead_size", "bead_diameter", "bead_length", "wrist", "turn", "ease", "clasp",
  "caps", "fit", "width", "rotate", "repeat", "right", "up", "gap", "background", "kind", "most",
];
const SETTLE_MS = 350;

const bench = new Bench({
  picture: null,
  palette: null,
  off: [],
  order: { strands: "8", lay: "S", fit: "wrap", turn: "usual" },
  swatch: null,
  result: null,
  geometry: null,
  beads: null,
  edited: false,
});

let known = null;
let brush = 0;
let cursor = -1;
let images = { ghost: null, sketch: null, sketchKey: "" };
let designText = null;

// ---- words ---------------------------------------------------------------------------------------

function say(text) {
  $("status").textContent = text;
}

function busy(on) {
  $("progress").hidden = !on;
}

function complain(error) {
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

function calm() {
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

function unmarkFields() {
  for (const name of FIELDS) {
    form.elements[name]?.removeAttribute("aria-invalid");
    $(`error-${name}`)?.remove();
  }
  $("error-palette").hidden = true;
}

// ---- bringing things -----------------------------------------------------------------------------

async function guarded(work) {
  try {
    await work();
  } catch (error) {
    complain(error);
  }
}

function checkSize(file) {
  if (file.size > known.most_upload) {
    const most = Math.round(known.most_upload / 1024 ** 2);
    throw new Refused(
      `${file.name} has ${Math.round(file.size / 1024 ** 2)} MB; at most ${most} MB are taken. ` +
        "Save a smaller copy of it: 2000 pixels on the longer side are plenty.",
    );
  }
}

function bringPicture(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    say(`Reading ${file.name || "the sketch"} …`);
    await takePicture(await bring("picture", file));
  });
}

async function takePicture(taken) {
  const { now } = bench;
  // a place found for another sketch means nothing for this one
  const order = { ...now.order, right: "", up: "", width: "", rotate: "", background: "" };
  bench.change({ picture: taken, order });
  work();
  const ghost = await picture(`api/picture/${taken.id}.png`);
  ghost.forId = taken.id;
  images.ghost = ghost;
}

function bringPalette(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    takePalette(await bring("palette", file));
  });
}

function takePalette(taken) {
  bench.change({ palette: taken, off: [], order: { ...bench.now.order, background: "" } });
  work();
}

function bringSwatch(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    bench.change({ swatch: await bring("swatch", file) });
    work();
  });
}

function bringDesign(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    const opened = await bring("design", file);
    const { geometry, ...result } = opened;
    const braid = opened.braid;
    const settings = opened.settings;
    const order = {
      ...bench.now.order,
      strands: String(braid.strands),
      lay: braid.lay,
      turn: braid.turn,
      bead_size: opened.bead.size ?? "measured",
      bead_diameter: opened.bead.size ? "" : String(opened.bead.diameter_mm),
      bead_length: opened.bead.size ? "" : String(opened.bead.length_mm),
      wrist: settings.wrist_mm ? String(settings.wrist_mm) : bench.now.order.wrist,
      fit: settings.fit ?? "wrap",
      width: settings.width_mm ? String(settings.width_mm) : "",
      rotate: settings.rotate_deg ? String(settings.rotate_deg) : "",
      repeat: settings.repeat ? String(settings.repeat) : "",
      gap: settings.gap_rounds === undefined ? "" : String(settings.gap_rounds),
      background: settings.background ?? "",
      kind: settings.kind ?? "",
      most: settings.most ? String(settings.most) : "",
      right: settings.moved_mm ? String(settings.moved_mm[0]) : "",
      up: settings.moved_mm ? String(settings.moved_mm[1]) : "",
    };
    stopWork();
    bench.change({
      picture: null,
      palette: { id: opened.palette_id, name: file.name, beads: opened.palette, hard_to_tell_apart: [] },
      off: [],
      swatch: settings.swatch ? { name: file.name, readings: { schema: 1, ...settings.swatch } } : null,
      order,
      result,
      geometry,
      beads: Int16Array.from(result.beads),
      edited: false,
    });
    bench.saved = bench.now;
    view.show({ middleMm: middleOfMotif(bench.now), viewDeg: result.front_deg ?? 180 });
    say(`${file.name} is open.`);
    tally();
  });
}

function choose(accept, then) {
  const input = $("file");
  input.accept = accept;
  input.value = "";
  input.onchange = () => input.files[0] && then(input.files[0]);
  input.click();
}

function bringAny(file) {
  const name = file.name.toLowerCase();
  if (name.endsWith(".csv") || name.endsWith(".gpl")) return bringPalette(file);
  if (name.endsWith(".json")) {
    return file.text().then((text) => {
      if (/"(column_rounds|thickness_mm|reads_right)"/.test(text) && !/"beads"/.test(text)) {
        return bringSwatch(file);
      }
      return bringDesign(file);
    });
  }
  return bringPicture(file);
}

// ---- work: a first look at once, the search when the hand rests -----------------------------------

let wanted = 0;
let looking = false;
let lookAgain = false;
let settleTimer = 0;
let searching = null;

function request(quick) {
  const { now } = bench;
  return {
    picture: now.picture.id,
    palette: now.palette.id,
    off: now.off,
    order: { ...now.order, swatch: now.swatch?.readings ?? null },
    quick,
    have: now.geometry ? now.result.geometry_key : "",
  };
}

function stopWork() {
  wanted += 1;
  lookAgain = false;
  clearTimeout(settleTimer);
  settleTimer = 0;
  searching?.abort();
  searching = null;
  busy(false);
}

function work() {
  const { now } = bench;
  if (!now.palette) return;
  if (!now.picture) {
    if (now.result) say("Bring the sketch to work with these settings.");
    return;
  }
  stopWork();
  look();
}

async function look() {
  lookAgain = looking;
  if (looking) return;
  looking = true;
  const mine = wanted;
  try {
    const answer = await ask("work", request(true));
    if (mine === wanted) {
      accept(answer);
      say("A first look. Searching for the place where it reads best …");
      busy(true);
      settleTimer = setTimeout(search, SETTLE_MS);
    } else if (lookAgain && sketchStrip.drag) {
      accept(answer);
    }
  } catch (error) {
    if (mine === wanted) complain(error);
  } finally {
    looking = false;
    if (lookAgain) look();
  }
}

async function search() {
  const mine = wanted;
  settleTimer = 0;
  searching = new AbortController();
  try {
    const answer = await ask("work", request(false), searching.signal);
    if (mine !== wanted) return;
    accept(answer);
    const words = `${answer.placement.centres_mm.length} × the motif, ${answer.beads.length} beads.`;
    say(words);
    report();
  } catch (error) {
    if (mine === wanted) complain(error);
  } finally {
    if (mine === wanted) {
      searching = null;
      busy(false);
    }
  }
}

function accept(answer) {
  unmarkFields();
  calm();
  const { geometry, ...result } = answer;
  const first = !bench.now.result;
  const atFront = !first && Math.abs(view.viewDeg - bench.now.result.front_deg) < 0.5;
  const newSketch = first || bench.now.result.placement?.file !== result.placement.file;
  bench.put({
    result,
    geometry: geometry ?? bench.now.geometry,
    beads: Int16Array.from(result.beads),
    edited: false,
  });
  if (newSketch) view.show({ middleMm: middleOfMotif(bench.now), viewDeg: result.front_deg });
  else if (atFront) view.show({ viewDeg: result.front_deg });
  if (brush >= result.palette.length) setBrush(0);
  loadSketch(result.key);
  tally();
}

function middleOfMotif(state) {
  const centres = state.result.placement?.centres_mm ?? [];
  if (!centres.length) return state.geometry.length_mm / 2;
  return centres[Math.floor(centres.length / 2)][1];
}

async function loadSketch(key) {
  try {
    const image = await picture(`api/sketch/${key}.png`);
    if (bench.now.result?.key !== key) return;
    images.sketch = image;
    images.sketchKey = key;
    sheets.sketch.again();
  } catch {
    // an older look; the newer one has its own picture
  }
}

const settled = () => bench.now.result && (bench.now.edited || !bench.now.result.quick);

async function whenSettled() {
  while (!settled()) {
    if (!searching && !looking && !settleTimer) throw new Refused("Bring a sketch first.");
    await new Promise((resolve) => setTimeout(resolve, 100));
    if (!$("alert").hidden) throw new Refused("", { superseded: true });
  }
}

// ---- what follows from the beads -----------------------------------------------------------------

const edits = () => (bench.now.edited ? Array.from(bench.now.beads) : null);

let tallyTimer = 0;
let tallied = 0;

function tally() {
  clearTimeout(tallyTimer);
  tallyTimer = setTimeout(async () => {
    const mine = (tallied += 1);
    try {
      const told = await ask("tally", { key: bench.now.result.key, beads: edits() });
      if (mine !== tallied) return;
      showTally(told);
      const text = await fetchFile("design", { key: bench.now.result.key, beads: edits() });
      if (mine === tallied) designText = await text.blob.text();
    } catch (error) {
      if (mine === tallied) complain(error);
    }
  }, 120);
}

let reportTimer = 0;
let reported = 0;

function report() {
  clearTimeout(reportTimer);
  const mine = (reported += 1);
  if (!bench.now.result.made) {
    showReport(null, "This design came without its sketch.");
    return;
  }
  $("report-words").textContent = "Comparing sketch and beads …";
  $("report-words").hidden = false;
  reportTimer = setTimeout(async () => {
    try {
      const told = await ask("report", { key: bench.now.result.key, beads: edits() });
      if (mine === reported) showReport(told, "");
    } catch (error) {
      if (mine === reported && !error.superseded) showReport(null, error.message);
    }
  }, 200);
}

// ---- showing -------------------------------------------------------------------------------------

function item(text) {
  const li = document.createElement("li");
  li.textContent = text;
  return li;
}

function dot(rgb) {
  const span = document.createElement("span");
  span.className = "dot";
  span.style.background = css(rgb);
  return span;
}

function showTally(told) {
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
  const notes = [...(bench.now.result.notes ?? []), ...told.cautions];
  $("notes").replaceChildren(...notes.map(item));
  $("notes-part").hidden = !notes.length;
}

function showReport(told, words) {
  $("report").replaceChildren(...(told?.words ?? []).map(item));
  $("report-words").textContent = words;
  $("report-words").hidden = !words;
  const image = $("report-picture");
  $("report-open").hidden = !told;
  if (told) {
    image.src = `api/report/${told.picture}.svg`;
    $("report-large").src = image.src;
  }
}

function showBeads(now) {
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
      button.setAttribute("aria-pressed", String(index !== undefined && index === brush));
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

function showPalette(now) {
  const names = new Map(known.palettes.map((name) => [name, name]));
  const select = $("palette");
  const options = known.palettes.map((name) => new Option(name.replace(/\..*$/, ""), name));
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
    new Option("Found from the sketch", ""),
    ...(now.palette?.beads ?? [])
      .filter((bead) => !now.off.includes(bead.code))
      .map((bead) => new Option(`${bead.code} ${bead.name}`, bead.code)),
  );
}

function showOrder(now) {
  for (const name of FIELDS) {
    const input = form.elements[name];
    const value = now.order[name] ?? "";
    if (input !== document.activeElement && input.value !== value) input.value = value;
    if (input.tagName === "SELECT" && input.selectedIndex < 0) input.selectedIndex = 0;
  }
  for (const field of form.querySelectorAll(".measured")) {
    field.hidden = now.order.bead_size !== "measured";
  }
  const { result } = now;
  form.elements.width.placeholder = result?.width_mm ? `${result.width_mm.toFixed(1)}, found` : "";
  $("swatch-words").textContent = now.swatch ? now.swatch.name : "";
  $("drop-swatch").hidden = !now.swatch;
  $("best").disabled = !now.picture || !(now.order.right || now.order.up);
}

function showPicture(now) {
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

function showActs(now) {
  const made = Boolean(now.result);
  $("undo").disabled = !bench.past.length;
  $("redo").disabled = !bench.future.length;
  for (const id of ["save-design", "print", "folder"]) $(id).disabled = !made;
  $("empty").hidden = made;
  for (const id of ["chart-figure", "braid-figure", "ruler", "tools", "under", "whole-figure"]) $(id).hidden = !made;
  $("sketch-figure").hidden = !made || !now.result.made;
}

bench.addEventListener("change", ({ detail: { before, now, stepped } }) => {
  if (now.palette !== before.palette || now.off !== before.off) showPalette(now);
  showOrder(now);
  showPicture(now);
  showActs(now);
  showBeads(now);
  if (now.geometry && now.geometry !== before.geometry) {
    cursor = -1;
    layOut();
  }
  if (stepped) {
    stopWork();
    unmarkFields();
    if (now.picture && (!now.result || now.result.quick)) work();
    else if (now.result) {
      images.sketchKey = "";
      if (now.result.made) loadSketch(now.result.key);
      tally();
      report();
    }
  }
  redraw();
});

// ---- the strips ----------------------------------------------------------------------------------

const sheets = {};
sheets.sketch = new Sheet($("sketch-strip"), drawSketch);
sheets.chart = new Sheet($("chart-strip"), drawBeads);
sheets.braid = new Sheet($("braid-strip"), drawTurning);
sheets.whole = new Sheet($("whole"), drawWhole);
sheets.ruler = new Sheet($("ruler"), drawRuler);
const sketchStrip = new SketchStrip(sheets.sketch, view);

function redraw() {
  for (const sheet of Object.values(sheets)) sheet.again();
}

function layOut() {
  const { geometry, result } = bench.now;
  const strips = $("strips");
  const room = strips.clientWidth - 16;
  const whole = sheets.whole.canvas.parentElement.clientWidth;
  if (!geometry) {
    sheets.whole.size(whole, 64);
    redraw();
    return;
  }
  const withSketch = Boolean(result.made);
  const round = geometry.circumference_mm;
  const thick = geometry.thickness_mm;
  const gaps = 44 + 14 * 3 + 10;
  const across = (withSketch ? 2 : 1) * round + thick * 1.25;
  const fitting = (room - gaps) / across;
  const most = 26 / geometry.pitch_mm;
  view.pxPerMm = Math.max(3, Math.min(fitting, most) * view.zoom);
  const high = Math.max(320, Math.min(820, window.innerHeight - 360));
  view.heightPx = high;
  const beyond = 3 * geometry.bead_mm[1];
  view.lowMm = -beyond;
  view.highMm = geometry.height_mm[geometry.count - 1] + beyond;
  sheets.ruler.size(44, high);
  sheets.sketch.size(Math.round(round * view.pxPerMm), high);
  sheets.chart.size(Math.round(round * view.pxPerMm), high);
  sheets.braid.size(Math.round(thick * 1.25 * view.pxPerMm), high);
  const length = view.highMm - view.lowMm;
  sheets.whole.size(whole, Math.max(30, Math.min(96, (whole / length) * thick * 1.1 + 8)));
  view.show({});
}

function drawSketch(context, width) {
  const { now } = bench;
  if (!now.result?.made) return;
  const { geometry, result } = now;
  context.fillStyle = css(result.palette[result.background].rgb);
  braidGround(context, width);
  const fresh = images.sketchKey === result.key || images.sketch;
  sketchStrip.draw(context, width, now, fresh ? images.sketch : null, ghostOf(now));
  context.lineWidth = 1;
  outlineCells(context, width, view, geometry, lineOn(result.palette[result.background].rgb, 0.13));
  frontLine(context, width);
  const [line, ground] = markColours();
  sketchStrip.drawFrame(context, width, { ...now, motif: motifInSight() }, line, ground);
}

function lineOn(rgb, strength) {
  return inkOn(rgb) === "#000" ? `rgb(20 30 36 / ${strength})` : `rgb(255 255 255 / ${strength * 1.4})`;
}

// Marks lie on the background beads, by day and by night.
function markColours() {
  const { result } = bench.now;
  const light = inkOn(result.palette[result.background].rgb) === "#000";
  return light ? ["#a03a10", "#fffdf9"] : ["#ffb87a", "#1f272c"];
}

const ghostOf = (now) => (images.ghost?.forId === now.picture?.id ? images.ghost : null);

function motifInSight() {
  const centres = bench.now.result.placement.centres_mm;
  let best = 0;
  centres.forEach(([, y], k) => {
    if (Math.abs(y - view.middleMm) < Math.abs(centres[best][1] - view.middleMm)) best = k;
  });
  return best;
}

function braidGround(context, width) {
  const { geometry } = bench.now;
  const top = view.rowPx(geometry.height_mm[geometry.count - 1] + geometry.rise_mm / 2);
  const bottom = view.rowPx(-geometry.rise_mm / 2);
  context.fillRect(0, top, width, bottom - top);
}

function frontLine(context, width) {
  const { result } = bench.now;
  const x = width / 2 + result.front_x_mm * view.pxPerMm;
  context.save();
  context.strokeStyle = markColours()[0];
  context.setLineDash([2, 5]);
  context.beginPath();
  context.moveTo(x, 0);
  context.lineTo(x, view.heightPx);
  context.stroke();
  context.restore();
}

function drawBeads(context, width) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  drawChart(context, width, view, geometry, beads, result.palette, {
    codes: $("codes").checked,
    line: "rgb(0 0 0 / 0.18)",
  });
  frontLine(context, width);
  if (cursor >= 0) markBead(context, width);
}

function markBead(context, width) {
  const { geometry } = bench.now;
  const chosen = new Set([cursor]);
  context.lineWidth = 5;
  outlineCells(context, width, view, geometry, "#fff", chosen);
  context.lineWidth = 2.5;
  outlineCells(context, width, view, geometry, "#000", chosen);
}

function drawTurning(context, width, height, ratio) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, {
    pxPerMm: view.pxPerMm,
    lowMm: view.heightMm(height),
    highMm: view.topMm,
    lying: false,
    at: (x, y) => [width / 2 + x * view.pxPerMm, view.rowPx(y)],
  });
  if (cursor >= 0 && document.activeElement !== sheets.whole.canvas) {
    const angle = ((geometry.azimuth_deg[cursor] - view.viewDeg) * Math.PI) / 180;
    if (Math.cos(angle) > 0) {
      const x = width / 2 - geometry.radius_mm * Math.sin(angle) * view.pxPerMm;
      const y = view.rowPx(geometry.height_mm[cursor]);
      for (const [line, colour] of [[4, "#fff"], [2, "#000"]]) {
        context.lineWidth = line;
        context.strokeStyle = colour;
        context.beginPath();
        context.ellipse(
          x, y, geometry.bead_mm[0] * view.pxPerMm, geometry.bead_mm[1] * view.pxPerMm, 0, 0, 7,
        );
        context.stroke();
      }
    }
  }
}

function wholeScale(width) {
  return width / (view.highMm - view.lowMm);
}

function drawWhole(context, width, height, ratio) {
  const { geometry, result, beads } = bench.now;
  if (!result) return;
  const scale = wholeScale(width);
  drawBraid(context, ratio, geometry, beads, result.palette, view.viewDeg, {
    pxPerMm: scale,
    lowMm: view.lowMm,
    highMm: view.highMm,
    lying: true,
    at: (x, y) => [(y - view.lowMm) * scale, height / 2 + x * scale],
  });
  const left = (view.heightMm(view.heightPx) - view.lowMm) * scale;
  const right = (view.topMm - view.lowMm) * scale;
  context.fillStyle = sheets.whole.colour("--bench");
  context.globalAlpha = 0.5;
  context.fillRect(0, 0, left, height);
  context.fillRect(right, 0, width - right, height);
  context.globalAlpha = 1;
  context.strokeStyle = sheets.whole.colour("--handle");
  context.lineWidth = 2;
  context.strokeRect(Math.max(1, left), 1, Math.min(width - 1, right) - Math.max(1, left), height - 2);
  const part = (view.middleMm - view.lowMm) / (view.highMm - view.lowMm);
  const canvas = sheets.whole.canvas;
  canvas.setAttribute("aria-valuenow", String(Math.round(100 * part)));
  canvas.setAttribute("aria-valuetext", `around ${Math.max(0, view.middleMm).toFixed(0)} mm`);
}

function drawRuler(context, width, height) {
  const { geometry } = bench.now;
  if (!geometry) return;
  context.fillStyle = sheets.ruler.colour("--soft");
  context.strokeStyle = sheets.ruler.colour("--soft");
  context.font = "12px system-ui, sans-serif";
  context.textAlign = "right";
  context.textBaseline = "middle";
  context.lineWidth = 1;
  const low = Math.max(0, view.heightMm(height));
  const high = Math.min(geometry.length_mm, view.topMm);
  context.beginPath();
  for (let mm = Math.ceil(low); mm <= high; mm += 1) {
    const y = Math.round(view.rowPx(mm)) + 0.5;
    if (y < 8 || y > height - 8) continue;
    const long = mm % 10 === 0 ? 9 : mm % 5 === 0 ? 6 : view.pxPerMm > 5 ? 3 : 0;
    if (!long) continue;
    context.moveTo(width, y);
    context.lineTo(width - long, y);
    if (mm % 10 === 0) context.fillText(mm === 0 ? "0 mm" : String(mm), width - 12, y);
  }
  context.stroke();
}

view.addEventListener("change", () => {
  redraw();
  for (const button of document.querySelectorAll("[data-side]")) {
    const front = bench.now.result?.front_deg ?? 180;
    const away = (((view.viewDeg - front + 180) % 360) + 360) % 360 - 180;
    const side = Number(button.dataset.side);
    const near = Math.abs(((away + side + 540) % 360) - 180) < 1;
    button.setAttribute("aria-pressed", String(near));
  }
});

// ---- colouring -----------------------------------------------------------------------------------

const tool = () => document.querySelector('input[name="tool"]:checked').value;

function setTool(name) {
  document.querySelector(`input[name="tool"][value="${name}"]`).checked = true;
  $("bench").classList.toggle("colouring", name !== "turn");
}

function setBrush(index) {
  brush = index;
  showBrush();
  showBeads(bench.now);
}

function showBrush() {
  const bead = bench.now.result?.palette[brush];
  $("brush").replaceChildren(...(bead ? [dot(bead.rgb), `${bead.code} ${bead.name}`] : []));
}

function paint(chosen, mark) {
  const { now } = bench;
  const beads = Int16Array.from(now.beads);
  const { twins } = now.result;
  const alike = $("all").checked && twins.length;
  const places = new Set();
  for (const bead of chosen) {
    beads[bead] = brush;
    if (alike && twins[bead] >= 0) places.add(twins[bead]);
  }
  if (places.size) {
    for (let n = 0; n < beads.length; n += 1) if (places.has(twins[n])) beads[n] = brush;
  }
  if (beads.every((bead, n) => bead === now.beads[n])) return;
  if (searching || settleTimer) {
    // a search that ends now would take the edit away
    stopWork();
    say("The search has stopped, so that your beads stay as they are.");
  }
  bench.change({ beads, edited: true }, mark);
  tally();
  report();
}

function useTool(bead, mark) {
  if (bead < 0) return;
  if (tool() === "pick") {
    setBrush(bench.now.beads[bead]);
    setTool("colour");
  } else if (tool() === "fill") {
    if (bench.now.beads[bead] !== brush) paint(patch(bench.now.geometry, bench.now.beads, bead), null);
  } else if (tool() === "colour") {
    paint([bead], mark);
  }
}

function beadWords(bead) {
  const { geometry, result, beads } = bench.now;
  const row = result.palette[beads[bead]];
  return (
    `${row.code} ${row.name}: strand ${geometry.strand[bead]} (slot ${geometry.slots[geometry.strand[bead] - 1]}), ` +
    `bead ${geometry.order[bead]}, crossing ${bead + 1}, ${geometry.height_mm[bead].toFixed(0)} mm up`
  );
}

function pointAt(bead) {
  $("bead-words").textContent = bead >= 0 ? beadWords(bead) : "\u00a0";
}

function setCursor(bead) {
  cursor = bead;
  const { geometry } = bench.now;
  const row = view.rowPx(geometry.height_mm[bead]);
  if (row < 30 || row > view.heightPx - 30) view.show({ middleMm: geometry.height_mm[bead] });
  $("cursor-words").textContent = beadWords(bead);
  pointAt(bead);
  redraw();
}

function switchBead(code, on) {
  const off = bench.now.off.filter((other) => other !== code);
  if (!on) off.push(code);
  bench.change({ off });
  work();
}

// ---- hands ---------------------------------------------------------------------------------------

function onPointer(canvas, begin) {
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button || !bench.now.result) return;
    event.preventDefault();
    canvas.focus({ preventScroll: true });
    const moves = begin(event);
    if (!moves) return;
    canvas.setPointerCapture(event.pointerId);
    const move = (next) => moves.move?.(next);
    const end = (next) => {
      canvas.removeEventListener("pointermove", move);
      canvas.removeEventListener("pointerup", end);
      canvas.removeEventListener("pointercancel", end);
      moves.end?.(next);
    };
    canvas.addEventListener("pointermove", move);
    canvas.addEventListener("pointerup", end);
    canvas.addEventListener("pointercancel", end);
  });
}

function chartBead(event) {
  const [x, y] = sheets.chart.at(event);
  const { geometry } = bench.now;
  return beadNear(geometry, (x - sheets.chart.width / 2) / view.pxPerMm, view.heightMm(y));
}

function braidBead(event) {
  const [x, y] = sheets.braid.at(event);
  const { geometry } = bench.now;
  return beadAt(geometry, view.viewDeg, (x - sheets.braid.width / 2) / view.pxPerMm, view.heightMm(y));
}

function panning(event) {
  let last = event.clientY;
  return {
    move: (next) => {
      view.scroll((next.clientY - last) / view.pxPerMm);
      last = next.clientY;
    },
  };
}

let stroke = 0;

function colouring(event, beadOf) {
  stroke += 1;
  const mark = `stroke ${stroke}`;
  useTool(beadOf(event), mark);
  return {
    move: (next) => {
      if (tool() !== "colour") return;
      const steps = next.getCoalescedEvents?.() ?? [];
      for (const step of steps.length ? steps : [next]) useTool(beadOf(step), mark);
    },
    end: () => bench.settle(),
  };
}

onPointer(sheets.chart.canvas, (event) => {
  cursor = -1;
  return tool() === "turn" ? panning(event) : colouring(event, chartBead);
});

onPointer(sheets.braid.canvas, (event) => {
  cursor = -1;
  if (tool() !== "turn" && braidBead(event) >= 0) return colouring(event, braidBead);
  let [x, y] = [event.clientX, event.clientY];
  sheets.braid.canvas.classList.add("held");
  return {
    move: (next) => {
      const turned = (next.clientX - x) / view.pxPerMm / bench.now.geometry.radius_mm;
      view.viewDeg += (turned * 180) / Math.PI;
      view.scroll((next.clientY - y) / view.pxPerMm);
      [x, y] = [next.clientX, next.clientY];
    },
    end: () => sheets.braid.canvas.classList.remove("held"),
  };
});

onPointer(sheets.whole.canvas, (event) => {
  const go = (next) => {
    const [x] = sheets.whole.at(next);
    view.show({ middleMm: view.lowMm + x / wholeScale(sheets.whole.width) });
  };
  go(event);
  return { move: go };
});

onPointer(sheets.sketch.canvas, (event) => {
  const { now } = bench;
  if (!now.result.made) return null;
  const [x, y] = sheets.sketch.at(event);
  const width = sheets.sketch.width;
  const state = { ...now, motif: motifInSight() };
  const grip = sketchStrip.grip(x, y, width, state);
  if (!grip) return panning(event);
  const place = placeOf(state);
  const first = now.result.placement.centres_mm[0];
  const base = { ...place, x: first[0], y: first[1] };
  const { middle } = sketchStrip.frame(width, state);
  const from = Math.hypot(x - middle[0], y - middle[1]);
  const angle = Math.atan2(y - middle[1], x - middle[0]);
  sketchStrip.drag = { ...place };
  stroke += 1;
  const mark = `place ${stroke}`;
  let changed = false;
  // placed by hand, it stays as large and as it is turned now
  const shown = {
    width: now.result.width_mm.toFixed(1),
    rotate: String(Math.round(place.rotate)),
    ...moved(base, 0, 0),
  };
  return {
    move: (next) => {
      const [a, b] = sheets.sketch.at(next);
      const drag = sketchStrip.drag;
      if (grip === "move") {
        drag.x = place.x + (a - x) / view.pxPerMm;
        drag.y = place.y - (b - y) / view.pxPerMm;
        Object.assign(shown, moved(base, drag.x - place.x, drag.y - place.y));
      } else if (grip === "size") {
        const times = Math.max(0.2, Math.hypot(a - middle[0], b - middle[1]) / Math.max(8, from));
        drag.pxPerMm = place.pxPerMm / times;
        shown.width = (now.result.width_mm * times).toFixed(1);
      } else {
        const turned = ((Math.atan2(b - middle[1], a - middle[0]) - angle) * 180) / Math.PI;
        let rotate = place.rotate + turned;
        const upright = Math.round(rotate / 45) * 45;
        if (Math.abs(rotate - upright) < 3) rotate = upright;
        drag.rotate = rotate;
        shown.rotate = String(Math.round((((rotate + 180) % 360) + 360) % 360 - 180));
      }
      changed = true;
      bench.change({ order: { ...bench.now.order, ...shown } }, mark);
      sheets.sketch.again();
      work();
    },
    end: () => {
      sketchStrip.drag = null;
      bench.settle();
      if (changed) work();
      sheets.sketch.again();
    },
  };
});

// Where the motif is to lie, in mm from where it would lie by itself.
function moved(base, right, up) {
  const middle = bench.now.result.unmoved_mm;
  return {
    right: (base.x + right).toFixed(1),
    up: (base.y + up - middle).toFixed(1),
  };
}

function nudge(patchOf, mark) {
  const { now } = bench;
  if (!now.result?.made || !now.picture) return;
  bench.change({ order: { ...now.order, ...patchOf(now) } }, mark);
  work();
}

sheets.sketch.canvas.addEventListener("keydown", (event) => {
  const far = event.shiftKey ? 4 : 1;
  const shift = (right, up) =>
    nudge((now) => {
      const centre = now.result.placement.centres_mm[0];
      const have = now.order.right || now.order.up;
      const x = have ? Number(now.order.right || 0) : centre[0];
      const y = have ? Number(now.order.up || 0) : centre[1] - now.result.unmoved_mm;
      return {
        width: now.order.width || now.result.width_mm.toFixed(1),
        rotate: now.order.rotate || String(Math.round(now.result.placement.rotate_deg)),
        right: (x + right).toFixed(1),
        up: (y + up).toFixed(1),
      };
    }, "key move");
  const size = (times) =>
    nudge((now) => {
      const width = Number(now.order.width) || now.result.width_mm;
      return { width: (width * times).toFixed(1) };
    }, "key size");
  const turn = (deg) => nudge((now) => ({ rotate: String(Number(now.order.rotate || 0) + deg) }), "key turn");
  const acts = {
    ArrowLeft: () => shift(-0.5 * far, 0),
    ArrowRight: () => shift(0.5 * far, 0),
    ArrowUp: () => shift(0, 0.5 * far),
    ArrowDown: () => shift(0, -0.5 * far),
    "+": () => size(1.05),
    "=": () => size(1.05),
    "-": () => size(1 / 1.05),
    "[": () => turn(-5 * far),
    "]": () => turn(5 * far),
    "{": () => turn(-15),
    "}": () => turn(15),
  };
  act(event, acts);
});

sheets.chart.canvas.addEventListener("keydown", (event) => {
  const { now } = bench;
  if (!now.result) return;
  const go = (right, up) => () => {
    if (cursor < 0) setCursor(beadNear(now.geometry, now.result.front_x_mm, view.middleMm));
    else setCursor(neighbourTowards(now.geometry, cursor, right, up));
  };
  const on = (work) => () => {
    if (cursor < 0) return;
    work();
    $("cursor-words").textContent = beadWords(cursor);
    pointAt(cursor);
  };
  act(event, {
    ArrowLeft: go(-1, 0),
    ArrowRight: go(1, 0),
    ArrowUp: go(0, 1),
    ArrowDown: go(0, -1),
    " ": on(() => paint([cursor], null)),
    Enter: on(() => paint([cursor], null)),
    f: on(() => paint(patch(bench.now.geometry, bench.now.beads, cursor), null)),
    p: on(() => setBrush(bench.now.beads[cursor])),
    Escape: () => {
      cursor = -1;
      pointAt(-1);
      redraw();
    },
  });
});

sheets.braid.canvas.addEventListener("keydown", (event) => {
  const far = event.shiftKey ? 45 : 15;
  act(event, {
    ArrowLeft: () => turnBy(-far),
    ArrowRight: () => turnBy(far),
    ArrowUp: () => view.scroll(5),
    ArrowDown: () => view.scroll(-5),
    PageUp: () => view.scroll(view.heightPx / view.pxPerMm),
    PageDown: () => view.scroll(-view.heightPx / view.pxPerMm),
    Home: () => turnTo(0),
  });
});

sheets.whole.canvas.addEventListener("keydown", (event) => {
  const page = view.heightPx / view.pxPerMm;
  act(event, {
    ArrowRight: () => view.scroll(5),
    ArrowUp: () => view.scroll(5),
    ArrowLeft: () => view.scroll(-5),
    ArrowDown: () => view.scroll(-5),
    PageUp: () => view.scroll(page),
    PageDown: () => view.scroll(-page),
    Home: () => view.show({ middleMm: view.lowMm }),
    End: () => view.show({ middleMm: view.highMm }),
  });
});

function act(event, acts) {
  const wanted = acts[event.key];
  if (!wanted || event.ctrlKey || event.metaKey || event.altKey || !bench.now.result) return;
  event.preventDefault();
  wanted();
}

function turnBy(deg) {
  view.turn(deg);
  const front = bench.now.result.front_deg ?? 180;
  const away = Math.round((((view.viewDeg - front) % 360) + 360) % 360);
  $("cursor-words").textContent = `Turned ${away} degrees from the front.`;
}

function turnTo(side) {
  view.show({ viewDeg: (bench.now.result?.front_deg ?? 180) - side });
}

for (const sheet of [sheets.chart, sheets.braid, sheets.sketch]) {
  sheet.canvas.addEventListener(
    "wheel",
    (event) => {
      if (!bench.now.result) return;
      event.preventDefault();
      if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
        view.turn((event.deltaX || event.deltaY) * 0.3);
      } else view.scroll(-event.deltaY / view.pxPerMm);
    },
    { passive: false },
  );
}

sheets.chart.canvas.addEventListener("pointermove", (event) => bench.now.result && pointAt(chartBead(event)));
sheets.braid.canvas.addEventListener("pointermove", (event) => bench.now.result && pointAt(braidBead(event)));
sheets.sketch.canvas.addEventListener("pointermove", (event) => {
  if (!bench.now.result?.made || event.buttons) return;
  const grip = sketchStrip.grip(
    ...sheets.sketch.at(event), sheets.sketch.width, { ...bench.now, motif: motifInSight() },
  );
  sheets.sketch.canvas.style.cursor =
    { turn: "crosshair", size: "nwse-resize", move: "move" }[grip] ?? "grab";
});

// ---- the form and the buttons --------------------------------------------------------------------

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", (event) => {
  const { name, value } = event.target;
  if (!FIELDS.includes(name)) return;
  bench.change({ order: { ...bench.now.order, [name]: value } }, `field ${name}`);
  clearTimeout(typing);
  typing = setTimeout(work, event.target.tagName === "SELECT" ? 0 : 250);
});
form.addEventListener("focusout", () => bench.settle());
let typing = 0;

$("palette").addEventListener("change", (event) => {
  const name = event.target.value;
  if (name === "own") return;
  guarded(async () => takePalette({ ...(await sample("palette", name)), sample: name }));
});
$("choose-picture").addEventListener("click", () => choose("image/*", bringPicture));
$("choose-palette").addEventListener("click", () => choose(".csv,.gpl,text/csv", bringPalette));
$("choose-swatch").addEventListener("click", () => choose(".json,application/json", bringSwatch));
$("drop-swatch").addEventListener("click", () => {
  bench.change({ swatch: null });
  work();
});
$("open-design").addEventListener("click", () => choose(".json,application/json", bringDesign));
$("best").addEventListener("click", () => {
  bench.change({ order: { ...bench.now.order, right: "", up: "", width: "", rotate: "" } });
  work();
});
$("report-open").addEventListener("click", () => $("large").showModal());
$("undo").addEventListener("click", () => bench.undo());
$("redo").addEventListener("click", () => bench.redo());
$("codes").addEventListener("change", () => sheets.chart.again());
for (const input of document.querySelectorAll('input[name="tool"]')) {
  input.addEventListener("change", () => setTool(input.value));
}
for (const button of document.querySelectorAll("[data-side]")) {
  button.addEventListener("click", () => turnTo(Number(button.dataset.side)));
}
$("larger").addEventListener("click", () => zoom(1.25));
$("smaller").addEventListener("click", () => zoom(0.8));

function zoom(times) {
  view.zoom = Math.max(0.3, Math.min(3, view.zoom * times));
  layOut();
}

function give(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

function making(button, words, what, then) {
  $(button).addEventListener("click", () =>
    guarded(async () => {
      $(button).setAttribute("aria-busy", "true");
      try {
        calm();
        await whenSettled();
        say(words);
        busy(true);
        const { key } = bench.now.result;
        const file = await fetchFile(what, { key, beads: edits() });
        then(file);
      } finally {
        busy(false);
        $(button).removeAttribute("aria-busy");
      }
    }),
  );
}

making("folder", "Laying out the sheet and packing the folder …", "folder", ({ blob, name }) => {
  give(blob, name);
  bench.saved = bench.now;
  say(`${name} is made: lists, sheet, chart, preview and design.`);
});

making("print", "Laying out the sheet …", "sheet", ({ blob, name }) => {
  const address = URL.createObjectURL(blob);
  if (window.open(address)) say("The sheet is open in a tab of its own; print it from there.");
  else {
    give(blob, name);
    say(`${name} is made; open and print it.`);
  }
});

$("save-design").addEventListener("click", () =>
  guarded(async () => {
    const { key } = bench.now.result;
    try {
      const { blob, name } = await fetchFile("design", { key, beads: edits() });
      give(blob, name);
      say(`${name} is saved.`);
    } catch (error) {
      if (!error.lost || !designText) throw error;
      // himotif is gone, but the design is here: what it wrote last, with the beads as they are
      const plain = JSON.parse(designText);
      plain.beads = Array.from(bench.now.beads);
      give(new Blob([JSON.stringify(plain, null, 1)], { type: "application/json" }), "design.json");
      say("The design is saved as design.json. Start himotif page again and open it there.");
    }
    bench.saved = bench.now;
  }),
);

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches("input:not([type=checkbox], [type=radio])")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) bench.undo();
  else if (key === "y" || (key === "z" && event.shiftKey)) bench.redo();
  else return;
  event.preventDefault();
});

// ---- dropping and pasting ------------------------------------------------------------------------

let over = 0;
document.addEventListener("dragenter", (event) => {
  event.preventDefault();
  over += 1;
  document.body.classList.add("over");
});
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("dragleave", () => {
  over = Math.max(0, over - 1);
  document.body.classList.toggle("over", over > 0);
});
document.addEventListener("drop", async (event) => {
  event.preventDefault();
  over = 0;
  document.body.classList.remove("over");
  const files = [...event.dataTransfer.files];
  if (!files.length) {
    complain(new Refused("That is no file. Save the picture first, then drop its file here."));
    return;
  }
  for (const file of files.slice(0, 3)) await bringAny(file);
});
document.addEventListener("paste", (event) => {
  const file = [...(event.clipboardData?.files ?? [])][0];
  if (!file) return;
  event.preventDefault();
  bringAny(file);
});

window.addEventListener("beforeunload", (event) => {
  if (bench.now.edited && bench.saved !== bench.now) event.preventDefault();
});
new ResizeObserver(layOut).observe($("bench"));

// ---- beginning -----------------------------------------------------------------------------------

function sampleButtons(box) {
  box.replaceChildren(
    ...known.samples.map((name) => {
      const button = document.createElement("button");
      button.type = "button";
      const image = document.createElement("img");
      image.src = `samples/${encodeURIComponent(name)}`;
      image.alt = "";
      image.loading = "lazy";
      const words = document.createElement("span");
      words.textContent = name.replace(/\..*$/, "").replaceAll("_", " ");
      button.append(image, words);
      button.addEventListener("click", () => {
        say(`Reading ${name} …`);
        guarded(async () => takePicture(await sample("picture", name)));
      });
      return button;
    }),
  );
}

guarded(async () => {
  known = await start();
  form.elements.strands.replaceChildren(...known.strands.map((count) => new Option(count, count)));
  form.elements.bead_size.replaceChildren(
    new Option("Palette’s own", ""),
    ...known.bead_sizes.map((size) => new Option(size.name, size.name)),
    new Option("Measured", "measured"),
  );
  sampleButtons($("sample-list"));
  sampleButtons($("first-samples"));
  const palette = { ...(await sample("palette", known.palettes[0])), sample: known.palettes[0] };
  bench.put({ palette, order: { ...bench.now.order, wrist: String(known.wrist_mm) } });
  bench.saved = bench.now;
  layOut();
  say("Ready. Drop a sketch.");
  document.documentElement.dataset.ready = "yes";
});
