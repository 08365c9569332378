// Bringing things: sketches, palettes, swatches and designs, chosen, dropped or pasted.

import { $, bench, shared, view } from "./page.js";
import { showSaid } from "./panels.js";
import { Refused, bring, picture, sample } from "./server.js";
import { layOut } from "./strips.js";
import { calm, complain, guarded, say, unmarkFields } from "./words.js";
import { middleOfMotif, stopWork, tally, work } from "./work.js";

function checkSize(file) {
  if (file.size > shared.known.most_upload) {
    const most = Math.round(shared.known.most_upload / 1024 ** 2);
    throw new Refused(
      `${file.name} has ${Math.round(file.size / 1024 ** 2)} MB; at most ${most} MB are taken. ` +
        "Save a smaller copy of it: 2000 pixels on the longer side are plenty.",
    );
  }
}

export function bringPicture(file) {
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
  shared.images.ghost = ghost;
}

export function bringPalette(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    takePalette(await bring("palette", file));
  });
}

export function takePalette(taken) {
  bench.change({ palette: taken, off: [], order: { ...bench.now.order, background: "" } });
  work();
}

export function bringSwatch(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    bench.change({ swatch: await bring("swatch", file) });
    work();
  });
}

export function bringDesign(file) {
  return guarded(async () => {
    calm();
    checkSize(file);
    const opened = await bring("design", file);
    const { geometry, ...result } = opened;
    const { settings } = opened;
    const order = { ...opened.order, wrist: opened.order.wrist || bench.now.order.wrist };
    stopWork();
    bench.change({
      picture: null,
      palette: { id: opened.palette_id, name: file.name, beads: opened.palette, hard_to_tell_apart: [] },
      off: [],
      swatch: settings.swatch ? { name: file.name, readings: { schema: 1, ...settings.swatch } } : null,
      order,
      result: { ...result, name: file.name },
      geometry,
      beads: Int16Array.from(result.beads),
      edited: false,
      asked: null,
      left: null,
    });
    unmarkFields();
    bench.saved = bench.now;
    view.show({ middleMm: middleOfMotif(bench.now), viewDeg: result.front_deg ?? 180 });
    showSaid(bench.now);
    tally();
  });
}

export function choose(accept, then) {
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

export function sampleButtons(box) {
  box.replaceChildren(
    ...shared.known.samples.map((name) => {
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
