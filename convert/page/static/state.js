// What is on the bench, and the way back: every state is a snapshot that is never changed.

const MOST = 200;

export class Bench extends EventTarget {
  constructor(first) {
    super();
    this.now = Object.freeze(first);
    this.past = [];
    this.future = [];
    this.saved = this.now;
    this.mark = null;
  }

  // Go on to a new state. Changes of the same mark in a row are one step back.
  change(patch, mark = null) {
    if (mark === null || mark !== this.mark) {
      this.past.push(this.now);
      if (this.past.length > MOST) this.past.shift();
    }
    this.mark = mark;
    this.future = [];
    this.put(patch);
  }

  // Complete the present state: what himotif answered belongs to the step that asked for it.
  put(patch) {
    const before = this.now;
    this.now = Object.freeze({ ...before, ...patch });
    if (this.saved === before && !("beads" in patch)) this.saved = this.now;
    this.dispatchEvent(new CustomEvent("change", { detail: { before, now: this.now } }));
  }

  // The next change is a step of its own.
  settle() {
    this.mark = null;
  }

  undo() {
    this.#step(this.past, this.future);
  }

  redo() {
    this.#step(this.future, this.past);
  }

  // Undo as far as the newest state that is wanted.
  back(wanted) {
    const place = this.past.findLastIndex(wanted);
    if (place >= 0) this.#step(this.past, this.future, this.past.length - place);
  }

  #step(from, to, steps = 1) {
    if (!from.length) return;
    const before = this.now;
    for (let k = 0; k < steps; k += 1) {
      to.push(this.now);
      this.now = from.pop();
    }
    this.mark = null;
    this.dispatchEvent(
      new CustomEvent("change", { detail: { before, now: this.now, stepped: true } }),
    );
  }
}
