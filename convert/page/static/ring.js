// The bracelet closed round a wrist, to be turned. Every place comes from himotif; three.js draws
// it, fetched when a ring is first asked for. Without WebGL the folder's picture stands in.

import { stopColouring } from "./colour.js";
import { guarded } from "./line.js";
import { $, made } from "./page.js";
import { ask, fetchFile } from "./server.js";
import { askAbout, whenSettled } from "./work.js";

const LENS_DEG = 22; // far off, so that near beads are not much larger
const MOST_TIP_DEG = 60;
const REST_MS = 250;
const DEG = Math.PI / 180;

let three = null;
let drawn = null;
let open = false;
let shown = "";
let turned = 0;
let tip = 0;
let zoom = 1;
let timer = 0;

export const isRing = () => open;

const stateOf = () => `${made.result.key} ${made.byHand ? made.beads.join() : ""}`;

// Close the bracelet in the place of the braid, or lay it open again.
export function toggleRing(on = !open) {
  if (on === open || (on && !made.result?.closes)) return;
  open = on;
  $("ring").setAttribute("aria-pressed", String(open));
  $("stage").classList.toggle("ringed", open);
  $("ring-view").hidden = !open;
  if (!open) return;
  stopColouring();
  guarded(show);
}

async function show() {
  if (shown === stateOf()) return again();
  $("ring-view").setAttribute("aria-busy", "true");
  try {
    await whenSettled();
    const state = stateOf();
    const plain = await askAbout(ask, "ring");
    // what changed meanwhile asks for itself
    if (!open || state !== stateOf()) return;
    $("ring-words").textContent = plain.words.join(" ");
    shown = state;
    if (!(await draw(plain))) await standIn(plain);
  } finally {
    $("ring-view").removeAttribute("aria-busy");
  }
}

// What is asked for, or her colours, changed: the ring follows when the hand rests.
made.addEventListener("change", () => {
  $("ring").hidden = !made.result?.closes;
  clearTimeout(timer);
  if (!made.result?.closes) toggleRing(false);
  else if (open) timer = setTimeout(() => guarded(show), REST_MS);
});

async function standIn(plain) {
  const { blob } = await askAbout(fetchFile, "ring-picture");
  const image = $("ring-picture");
  URL.revokeObjectURL(image.src);
  image.src = URL.createObjectURL(blob);
  image.alt = plain.words.join(" ");
  image.hidden = false;
  $("ring-canvas").hidden = true;
  $("stage").classList.add("flat");
}

// ---- drawing

async function draw(plain) {
  const canvas = $("ring-canvas");
  if (canvas.hidden || !document.createElement("canvas").getContext("webgl2")) return false;
  three ??= await import("./vendor/three.module.min.js");
  drawn ??= begin(canvas);
  if (drawn.ring) drop(drawn.ring);
  drawn.ring = new three.Group();
  drawn.ring.matrixAutoUpdate = false;
  drawn.plain = plain;
  drawn.ring.add(...beads(plain), cords(plain), top(plain));
  if (plain.wrist_mm) drawn.ring.add(wrist(plain));
  drawn.world.add(drawn.ring);
  layOut();
  showTurn();
  return true;
}

function begin(canvas) {
  const renderer = new three.WebGLRenderer({ canvas, antialias: true, alpha: true });
  const world = new three.Scene();
  // the lamp stands by the viewer: what faces her has the colour of its bead
  const lamp = new three.DirectionalLight(0xffffff, 0.76 * Math.PI);
  lamp.position.set(-0.46, 0.52, 0.72);
  world.add(lamp, new three.AmbientLight(0xffffff, 0.45 * Math.PI));
  canvas.addEventListener("webglcontextlost", () => guarded(() => standIn(drawn.plain)));
  return { renderer, world, camera: new three.PerspectiveCamera(LENS_DEG), ring: null, reach: 0 };
}

function drop(group) {
  drawn.world.remove(group);
  for (const one of group.children) {
    one.geometry.dispose();
    one.material.dispose();
    one.dispose?.();
  }
}

// Beads, then caps and clasp: one ball, drawn as often as there are parts.
function beads(plain) {
  const { palette } = made.result;
  const [own, metal] = [[], []];
  plain.bead.forEach((bead, part) => (bead < plain.count ? own : metal).push(part));
  const fine = own.length > 6000 ? 6 : own.length > 1500 ? 12 : 22;
  const ball = () => new three.SphereGeometry(1, fine, Math.round(fine * 0.7));
  const steel = rounded({ specular: 0x909090, shininess: 40 });
  const kinds = palette.map(() => []);
  own.forEach((part) => kinds[made.beads[plain.bead[part]]].push(part));
  return [
    ...kinds.map((parts, kind) =>
      many(plain, parts, ball(), rounded(shine(palette[kind])), () => palette[kind].rgb)),
    many(plain, metal, ball(), steel, () => plain.metal),
  ];
}

// The highlight of a finish: sharp or wide, and how far in the bead's own colour.
function shine({ rgb, finish: { gloss, sheen, tint } }) {
  const own = new three.Color().setRGB(...rgb.map((code) => code / 255), three.SRGBColorSpace);
  const specular = new three.Color(0xffffff).lerp(own, tint).multiplyScalar(0.1 * (gloss + sheen));
  return { specular, shininess: gloss >= sheen ? 70 : 12 };
}

// Darker towards the outline, as on the folder's pictures.
function rounded(look) {
  const material = new three.MeshPhongMaterial(look);
  material.onBeforeCompile = (shader) => {
    shader.fragmentShader = shader.fragmentShader.replace(
      "#include <opaque_fragment>",
      `float edge = 1.0 - abs(dot(normalize(vViewPosition), normal));
      outgoingLight *= 1.0 - 0.45 * edge * edge;
      #include <opaque_fragment>`,
    );
  };
  return material;
}

function many(plain, parts, geometry, material, colourOf) {
  const mesh = new three.InstancedMesh(geometry, material, parts.length);
  const [place, way, turn] = [new three.Vector3(), new three.Vector3(), new three.Quaternion()];
  const [size, matrix, colour] = [new three.Vector3(), new three.Matrix4(), new three.Color()];
  const first = new three.Vector3(1, 0, 0);
  parts.forEach((part, k) => {
    const [across, along] = plain.half_mm.slice(2 * part, 2 * part + 2);
    place.fromArray(plain.centres, 3 * part);
    turn.setFromUnitVectors(first, way.fromArray(plain.axes, 3 * part).normalize());
    mesh.setMatrixAt(k, matrix.compose(place, turn, size.set(along, across, across)));
    const [red, green, blue] = colourOf(part);
    colour.setRGB(red / 255, green / 255, blue / 255, three.SRGBColorSpace);
    mesh.setColorAt(k, colour);
  });
  return mesh;
}

// A piece of a torus, as much to either side of the middle, which lies up.
function arc(radius, thick, degrees, material) {
  const mesh = new three.Mesh(new three.TorusGeometry(radius, thick, 12, 160, degrees * DEG), material);
  mesh.rotation.z = (90 - degrees / 2) * DEG;
  return mesh;
}

const cords = (plain) =>
  arc(plain.radius_mm, plain.core_mm, plain.core_deg, new three.MeshLambertMaterial({ color: 0x39342f }));

// A line beside what is seen from above.
function top(plain) {
  const ink = getComputedStyle(document.documentElement).getPropertyValue("--deep").trim();
  const material = new three.MeshBasicMaterial({ color: ink });
  return arc(plain.radius_mm + plain.thickness_mm / 2 + 2.5, 0.22, plain.seen_deg, material);
}

function wrist(plain) {
  const material = new three.MeshBasicMaterial({
    color: 0xb9957c, transparent: true, opacity: 0.13, side: three.DoubleSide, depthWrite: false,
  });
  const high = 2 * plain.thickness_mm + 12;
  const mesh = new three.Mesh(
    new three.CylinderGeometry(plain.wrist_mm, plain.wrist_mm, high, 96, 1, true),
    material,
  );
  mesh.rotation.x = Math.PI / 2;
  return mesh;
}

function layOut() {
  const canvas = $("ring-canvas");
  if (!drawn || canvas.hidden || !canvas.clientWidth) return;
  drawn.renderer.setPixelRatio(window.devicePixelRatio || 1);
  drawn.renderer.setSize(canvas.clientWidth, canvas.clientHeight, false);
  drawn.camera.aspect = canvas.clientWidth / canvas.clientHeight;
  again();
}
new ResizeObserver(layOut).observe($("ring-canvas"));

let waiting = false;
function again() {
  if (!drawn?.ring || waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    render();
  });
}

function render() {
  const { camera, plain, renderer, ring, world } = drawn;
  const [right, up, near] = [0, 3, 6].map((k) => plain.view.slice(k, k + 3));
  const matrix = new three.Matrix4().makeRotationX(tip * DEG);
  matrix.multiply(new three.Matrix4().set(...right, 0, ...up, 0, ...near, 0, 0, 0, 0, 1));
  matrix.multiply(new three.Matrix4().makeRotationZ(turned * DEG));
  ring.matrix.copy(matrix);
  // as near as the outline of the ring allows, as it is tipped
  const [, , , , , , , , leanX, leanY] = matrix.elements;
  const outline = (lean) =>
    plain.radius_mm * Math.sqrt(1 - Math.min(1, lean * lean)) + plain.thickness_mm / 2 + 6;
  const slope = Math.tan((LENS_DEG / 2) * DEG) * zoom;
  const far = Math.max(outline(leanX) / camera.aspect, outline(leanY)) / slope;
  camera.position.z = far + plain.radius_mm * 0.6;
  camera.near = camera.position.z / 50;
  camera.far = camera.position.z * 3;
  camera.updateProjectionMatrix();
  renderer.render(world, camera);
}

// ---- turning

function showTurn() {
  const away = Math.round(((turned % 360) + 360) % 360);
  const where = away === 0 ? "its middle is on top" : away === 180 ? "the join is on top" : "";
  $("cursor-words").textContent = `Turned ${away} degrees${where && `: ${where}`}.`;
  $("ring-canvas").dataset.turned = String(away);
  again();
}

const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

export function turnRing(deg) {
  const from = turned;
  const began = performance.now();
  const step = (now) => {
    const share = still() ? 1 : Math.min(1, (now - began) / 260);
    turned = from + deg * share * (2 - share);
    if (share < 1) requestAnimationFrame(step);
    showTurn();
  };
  step(began);
}

export function zoomRing(times) {
  zoom = Math.max(0.5, Math.min(5, zoom * times));
  again();
}

function tipRing(deg) {
  tip = Math.max(-MOST_TIP_DEG, Math.min(MOST_TIP_DEG, tip + deg));
  again();
}

function turnTo(deg) {
  turned = deg;
  tip = 0;
  showTurn();
}

const canvas = $("ring-canvas");

canvas.addEventListener("pointerdown", (event) => {
  if (event.button || !drawn) return;
  canvas.setPointerCapture(event.pointerId);
  canvas.classList.add("held");
  let [x, y] = [event.clientX, event.clientY];
  // put on the other way round, it turns the other way
  const side = drawn.plain.view[8] < 0 ? -1 : 1;
  const move = (next) => {
    turned -= (side * (next.clientX - x) * 200) / canvas.clientWidth / zoom;
    if (event.pointerType !== "touch") tipRing(((next.clientY - y) * 120) / canvas.clientHeight);
    [x, y] = [next.clientX, next.clientY];
    again();
  };
  const end = () => {
    canvas.classList.remove("held");
    for (const kind of ["pointerup", "pointercancel"]) canvas.removeEventListener(kind, end);
    canvas.removeEventListener("pointermove", move);
    showTurn();
  };
  canvas.addEventListener("pointermove", move);
  for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, end);
});

canvas.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const far = event.shiftKey ? 45 : 15;
  const acts = {
    ArrowLeft: () => turnRing(far),
    ArrowRight: () => turnRing(-far),
    ArrowUp: () => tipRing(-10),
    ArrowDown: () => tipRing(10),
    "+": () => zoomRing(1.25),
    "=": () => zoomRing(1.25),
    "-": () => zoomRing(0.8),
    Home: () => turnTo(0),
    End: () => turnTo(180),
  };
  if (!(event.key in acts)) return;
  event.preventDefault();
  acts[event.key]();
});
