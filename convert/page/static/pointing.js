// A photograph with marks on it, and a place to point at: by a click, or by arrow keys and Enter.
// Places are right and down in parts of the photograph's width and height.

import { make } from "./page.js";

const SVG = "http://www.w3.org/2000/svg";

export function shape(kind, attributes, text = "") {
  const element = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.textContent = text;
  return element;
}

const within = (value) => Math.min(1, Math.max(0, value));

// Marks have a thousand units to the photograph's width.
export class Pointed {
  constructor(box, words, act) {
    this.box = box;
    this.marks = shape("svg", { class: "marks", "aria-hidden": "true" });
    this.cross = shape("g", { class: "cross" });
    this.cross.append(shape("path", { d: "M-22 0H22M0 -22V22", class: "under" }), shape("path", { d: "M-22 0H22M0 -22V22" }));
    this.at = [0.5, 0.5];
    box.tabIndex = 0;
    box.setAttribute("role", "application");
    box.setAttribute("aria-label", words);
    box.addEventListener("click", (event) => {
      const { left, top, width, height } = this.marks.getBoundingClientRect();
      this.#move([(event.clientX - left) / width, (event.clientY - top) / height]);
      act(this.at);
    });
    box.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 0.05 : 0.005;
      const [right, down] =
        { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
      if (event.key === "Enter" || event.key === " ") act(this.at);
      else if (right || down) this.#move([this.at[0] + right * step, this.at[1] + down * step]);
      else return;
      event.preventDefault();
    });
  }

  show(image) {
    this.high = (1000 * image.naturalHeight) / image.naturalWidth;
    const shown = make("img", { src: image.src, alt: "" });
    this.marks.setAttribute("viewBox", `0 0 1000 ${this.high}`);
    this.box.style.setProperty("--shape", image.naturalWidth / image.naturalHeight);
    this.box.replaceChildren(shown, this.marks);
    this.box.hidden = false;
    this.mark([]);
  }

  mark(shapes) {
    this.marks.replaceChildren(...shapes, this.cross);
    this.#move(this.at);
  }

  point = ([x, y]) => [x * 1000, y * this.high];

  #move([x, y]) {
    this.at = [within(x), within(y)];
    this.cross.setAttribute("transform", `translate(${this.point(this.at)})`);
  }
}
