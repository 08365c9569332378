"use strict";
(() => {
  const data = JSON.parse(document.getElementById("design").textContent);
  const beadLine = document.getElementById("bead-line");
  const count = data.beads.length;
  const perStrand = new Map();
  for (const strand of data.strand) perStrand.set(strand, (perStrand.get(strand) || 0) + 1);

  // -- ticks that are kept ------------------------------------------------------
  const shelf = (() => {
    try {
      const test = "himotif-test";
      localStorage.setItem(test, test);
      localStorage.removeItem(test);
      return localStorage;
    } catch (refused) {
      document.getElementById("forgets").hidden = false;
      return null;
    }
  })();
  const shelfName = "himotif-" + data.name;
  const boxes = [...document.querySelectorAll("input[data-tick]")];
  const readTicks = () => {
    try {
      const kept = JSON.parse((shelf && shelf.getItem(shelfName)) || "[]");
      return new Set(Array.isArray(kept) ? kept : []);
    } catch (broken) {
      return new Set();
    }
  };
  const show = (box) => {
    const ten = box.closest(".ten");
    if (ten) ten.classList.toggle("done", box.checked);
  };
  const keepTicks = () => {
    if (!shelf) return;
    const on = boxes.filter((box) => box.checked).map((box) => box.dataset.tick);
    try { shelf.setItem(shelfName, JSON.stringify(on)); } catch (full) { /* nothing to be done */ }
  };
  const ticked = readTicks();
  for (const box of boxes) {
    box.checked = ticked.has(box.dataset.tick);
    show(box);
    box.addEventListener("change", () => { show(box); keepTicks(); });
  }
  document.getElementById("clear").addEventListener("click", () => {
    for (const box of boxes) { box.checked = false; show(box); }
    keepTicks();
  });

  // -- which bead is meant --------------------------------------------------------------------
  const listed = new Map();
  // in a repeat one bead stands for its crossing of each time
  for (const span of document.querySelectorAll(".b[data-n]")) {
    for (const n of span.dataset.n.split(" ")) listed.set(Number(n), span);
  }
  const charted = [...document.querySelectorAll("#chart polygon > title")].map((t) => t.parentNode);
  const numberOf = new Map(charted.map((cell, number) => [cell, number]));
  let pinned = -1;
  let shown = -1;

  const sentence = (n) => {
    const bead = data.palette[data.beads[n]];
    const order = Math.floor(n / data.strands);
    const strand = data.strand[n];
    const turned = data.turned[n] ? ", " + data.turned[n] : "";
    return `${bead.code}, ${bead.name}${turned}: strand ${strand}, bead ${order + 1} of ` +
      `${perStrand.get(strand)}. ` +
      `Round ${Math.floor(n / data.perRound) + 1}, crossing ${n + 1}.`;
  };
  const mark = (n, on) => {
    for (const element of [listed.get(n), charted[n]]) {
      if (element) element.classList.toggle("here", on);
    }
  };
  const point = (n) => {
    if (n === shown) return;
    if (shown >= 0) mark(shown, false);
    shown = n;
    if (n >= 0) {
      mark(n, true);
      beadLine.textContent = sentence(n);
    } else {
      beadLine.textContent = beadLine.dataset.empty;
    }
    draw();
  };
  const pin = (n) => { pinned = n === pinned ? -1 : n; point(n); };
  const leave = () => point(pinned);

  for (const span of new Set(listed.values())) {
    const n = parseInt(span.dataset.n, 10);
    span.addEventListener("mouseenter", () => point(n));
    span.addEventListener("mouseleave", leave);
    span.addEventListener("click", () => { pin(n); turnTo(n); });
  }
  const chart = document.getElementById("chart");
  const cellAt = (event) => {
    const cell = event.target.closest("polygon");
    return cell && numberOf.has(cell) ? numberOf.get(cell) : -1;
  };
  chart.addEventListener("mousemove", (event) => {
    const n = cellAt(event);
    if (n >= 0) point(n);
  });
  chart.addEventListener("mouseleave", leave);
  chart.addEventListener("click", (event) => {
    const n = cellAt(event);
    if (n >= 0) { pin(n); turnTo(n); }
  });

  // -- the braid, turned by hand --------------------------------------------------------------
  // Seen from azimuth `view`, newest beads on top: x = -R sin(azimuth - view) to the right,
  // R cos(azimuth - view) towards the viewer.
  const canvas = document.getElementById("braid");
  const pen = canvas.getContext("2d");
  const rad = Math.PI / 180;
  const azimuth = (n) => (data.stepDeg * Math.floor(n / 2) + 180 * (n % 2)) * rad;
  const height = (n) => data.stepMm * Math.floor(n / 2);
  const length = height(count - 1);
  let view = data.frontDeg * rad;
  let middle = 0;
  let zoom = 0.5;
  let drawn = [];
  let sprites = [];
  let spriteScale = 0;

  const scale = () => zoom * 0.8 * canvas.width / (2 * (data.radiusMm + data.acrossMm));
  const shade = (colour, amount) => colour.map((c) => Math.round(
    amount > 0 ? c + (255 - c) * amount : c * (1 + amount)));
  const css = (colour) => `rgb(${colour.join(",")})`;
  const makeSprites = (px) => {
    const w = Math.ceil(2 * data.acrossMm * px) + 2;
    const h = Math.ceil(2 * data.alongMm * px) + 2;
    sprites = data.palette.map((bead) => {
      const sprite = document.createElement("canvas");
      sprite.width = w;
      sprite.height = h;
      const brush = sprite.getContext("2d");
      brush.translate(w / 2, h / 2);
      brush.scale(data.acrossMm * px, data.alongMm * px);
      const light = brush.createRadialGradient(-0.3, -0.4, 0.05, 0, 0, 1);
      light.addColorStop(0, css(shade(bead.rgb, 0.5)));
      light.addColorStop(0.35, css(bead.rgb));
      light.addColorStop(1, css(shade(bead.rgb, -0.45)));
      brush.fillStyle = light;
      brush.beginPath();
      brush.arc(0, 0, 1, 0, 2 * Math.PI);
      brush.fill();
      return sprite;
    });
    spriteScale = px;
  };

  // A drop: its narrow end round the hole, its wide end outwards and aside along its lean.
  const drawDrop = (n, px, left, top) => {
    const [right, up, outwards, aside, narrow, wide] = data.drops[n];
    const turn = azimuth(n) - view;
    const dx = (-outwards * Math.sin(turn) + aside * right * Math.cos(turn)) * px;
    const dy = -aside * up * px;
    const reach = Math.hypot(dx, dy);
    const axis = Math.atan2(dy, dx);
    const colour = data.palette[data.beads[n]].rgb;
    // seen end on, the narrow end may lie within the wide one
    const half = reach > (wide - narrow) * px
      ? Math.acos((narrow - wide) * px / reach) : Math.PI;
    pen.beginPath();
    pen.arc(left + dx, top + dy, wide * px, axis - half, axis + half);
    if (half < Math.PI) pen.arc(left, top, narrow * px, axis + half, axis - half + 2 * Math.PI);
    pen.closePath();
    const light = pen.createRadialGradient(left + dx - 0.3 * wide * px, top + dy - 0.4 * wide * px,
      0.05 * wide * px, left + dx, top + dy, (wide + narrow) * px + reach);
    light.addColorStop(0, css(shade(colour, 0.5)));
    light.addColorStop(0.25, css(colour));
    light.addColorStop(1, css(shade(colour, -0.45)));
    pen.fillStyle = light;
    pen.fill();
    pen.strokeStyle = css(shade(colour, -0.45));
    pen.lineWidth = 1;
    pen.stroke();
  };

  const draw = () => {
    const px = scale();
    if (px !== spriteScale) makeSprites(px);
    const half = canvas.height / 2 / px + data.alongMm;
    const first = Math.max(0, 2 * Math.floor((middle - half) / data.stepMm));
    const last = Math.min(count - 1, 2 * Math.ceil((middle + half) / data.stepMm) + 1);
    drawn = [];
    for (let n = first; n <= last; n += 1) {
      const turn = azimuth(n) - view;
      // the wide end of a drop lies over its neighbours
      const nearer = data.drops[n] ? Math.cos(turn) * data.drops[n][2] / data.radiusMm : 0;
      drawn.push([Math.cos(turn) + nearer, -data.radiusMm * Math.sin(turn), height(n), n]);
    }
    drawn.sort((a, b) => a[0] - b[0]);
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.fillStyle = "#605852";
    const core = Math.max(0.3 * data.radiusMm, data.radiusMm - data.acrossMm) * px;
    const low = canvas.height / 2 + middle * px;
    pen.fillRect(canvas.width / 2 - core, low - length * px, 2 * core, length * px);
    for (const [, x, y, n] of drawn) {
      const sprite = sprites[data.beads[n]];
      const left = canvas.width / 2 + x * px;
      const top = canvas.height / 2 - (y - middle) * px;
      if (data.drops[n]) drawDrop(n, px, left, top);
      else pen.drawImage(sprite, left - sprite.width / 2, top - sprite.height / 2);
      if (n === shown) {
        pen.strokeStyle = "#c01c28";
        pen.lineWidth = 3;
        pen.beginPath();
        pen.ellipse(left, top, data.acrossMm * px, data.alongMm * px, 0, 0, 2 * Math.PI);
        pen.stroke();
      }
    }
  };
  const beadAt = (event) => {
    const frame = canvas.getBoundingClientRect();
    const px = scale();
    const x = ((event.clientX - frame.left) * canvas.width / frame.width - canvas.width / 2) / px;
    const y = middle -
      ((event.clientY - frame.top) * canvas.height / frame.height - canvas.height / 2) / px;
    for (let i = drawn.length - 1; i >= 0; i -= 1) {
      const [, bx, by, n] = drawn[i];
      if (((x - bx) / data.acrossMm) ** 2 + ((y - by) / data.alongMm) ** 2 <= 1) return n;
    }
    return -1;
  };
  const move = (turn, along) => {
    view += turn;
    middle = Math.min(length, Math.max(0, middle + along));
    draw();
  };
  const turnTo = (n) => {
    view = azimuth(n);
    middle = height(n);
    draw();
  };
  const front = () => { view = data.frontDeg * rad; draw(); };

  let grip = null;
  canvas.addEventListener("pointerdown", (event) => {
    grip = { x: event.clientX, y: event.clientY, moved: false };
    canvas.focus();
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!grip) { point(beadAt(event)); return; }
    const dx = event.clientX - grip.x;
    const dy = event.clientY - grip.y;
    if (!grip.moved && Math.hypot(dx, dy) < 4) return;
    grip = { x: event.clientX, y: event.clientY, moved: true };
    const perPixel = canvas.width / canvas.getBoundingClientRect().width / scale();
    // the beads in front follow the hand
    move(dx * perPixel / data.radiusMm, dy * perPixel);
  });
  canvas.addEventListener("pointerup", (event) => {
    if (grip && !grip.moved) { const n = beadAt(event); pinned = n; point(n); }
    grip = null;
  });
  canvas.addEventListener("pointercancel", () => { grip = null; });
  canvas.addEventListener("pointerleave", () => { if (!grip) leave(); });
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas) return;
    event.preventDefault();
    move(0, -Math.sign(event.deltaY) * 2 * data.riseMm);
  }, { passive: false });
  const act = {
    left: () => move(-15 * rad, 0), right: () => move(15 * rad, 0),
    up: () => move(0, 2 * data.riseMm), down: () => move(0, -2 * data.riseMm),
    nearer: () => { zoom = Math.min(4, zoom * 1.25); draw(); },
    farther: () => { zoom = Math.max(0.25, zoom / 1.25); draw(); },
    front,
    next: () => { pinned = Math.min(count - 1, Math.max(0, shown + 1)); point(pinned); turnTo(pinned); },
    back: () => { pinned = Math.max(0, shown - 1); point(pinned); turnTo(pinned); },
  };
  const keys = {
    ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
    "+": "nearer", "-": "farther", Home: "front", n: "next", b: "back",
  };
  canvas.addEventListener("keydown", (event) => {
    const name = keys[event.key];
    if (!name || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act[name]();
  });
  for (const button of document.querySelectorAll("button[data-act]")) {
    button.addEventListener("click", () => act[button.dataset.act]());
  }
  const fit = () => {
    const frame = canvas.getBoundingClientRect();
    const dense = window.devicePixelRatio || 1;
    canvas.width = Math.max(50, Math.round(frame.width * dense));
    canvas.height = Math.max(50, Math.round(frame.height * dense));
    draw();
  };
  window.addEventListener("resize", fit);
  fit();
  middle = Math.min(length / 2, canvas.height / 2 / scale() - 2 * data.alongMm);
  draw();
})();
