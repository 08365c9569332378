// What is asked for, and the way back: every state is a snapshot that is never changed.

const MOST = 100;

export class Bench extends EventTarget {
  constructor(first) {
    super();
    this.first = Object.freeze(first);
    this.now = this.first;
    this.past = [];
    this.future = [];
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

  // Complete the present state without a step of its own.
  put(patch) {
    this.#go({ ...this.now, ...patch }, {});
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

  // Begin with a work that was saved, or with nothing.
  begin({ now = this.first, past = [], future = [] }) {
    this.past = past.map((state) => Object.freeze({ ...this.first, ...state }));
    this.future = future.map((state) => Object.freeze({ ...this.first, ...state }));
    this.mark = null;
    this.#go({ ...this.first, ...now }, { begun: true });
  }

  #step(from, to) {
    if (!from.length) return;
    to.push(this.now);
    this.mark = null;
    this.#go(from.pop(), { stepped: true });
  }

  #go(now, more) {
    const before = this.now;
    this.now = Object.freeze(now);
    this.dispatchEvent(new CustomEvent("change", { detail: { before, now: this.now, ...more } }));
  }
}
