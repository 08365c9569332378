// Which part of the braid is seen, how large, and from which side.

export class View extends EventTarget {
  constructor() {
    super();
    this.pxPerMm = 10;
    this.zoom = 1;
    this.middleMm = 0;
    this.heightPx = 600;
    this.lowMm = 0;
    this.highMm = 1;
    this.viewDeg = 180;
    // 0: the braid, round; 1: rolled out flat
    this.rolled = 0;
  }

  get topMm() {
    return this.middleMm + this.heightPx / this.pxPerMm / 2;
  }

  rowPx(heightMm) {
    return (this.topMm - heightMm) * this.pxPerMm;
  }

  heightMm(rowPx) {
    return this.topMm - rowPx / this.pxPerMm;
  }

  show(patch) {
    Object.assign(this, patch);
    const half = this.heightPx / this.pxPerMm / 2;
    const low = this.lowMm + half;
    const high = this.highMm - half;
    this.middleMm =
      low > high ? (this.lowMm + this.highMm) / 2 : Math.min(high, Math.max(low, this.middleMm));
    this.viewDeg = ((this.viewDeg % 360) + 360) % 360;
    this.dispatchEvent(new Event("change"));
  }

  scroll(mm) {
    this.show({ middleMm: this.middleMm + mm });
  }

  turn(deg) {
    this.show({ viewDeg: this.viewDeg + deg });
  }
}

// A canvas that is as sharp as the screen and drawn at most once a frame.
export class Sheet {
  constructor(canvas, draw) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d");
    this.width = 0;
    this.height = 0;
    this.draw = draw;
    this.waiting = false;
    this.style = getComputedStyle(document.documentElement);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.again());
  }

  size(width, height) {
    const ratio = window.devicePixelRatio || 1;
    this.width = width;
    this.height = height;
    const wide = Math.max(1, Math.round(width * ratio));
    const high = Math.max(1, Math.round(height * ratio));
    if (this.canvas.width !== wide || this.canvas.height !== high) {
      this.canvas.width = wide;
      this.canvas.height = high;
    }
    this.canvas.style.width = `${width}px`;
    this.canvas.style.height = `${height}px`;
    this.again();
  }

  again() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.now();
    });
  }

  now() {
    const ratio = this.canvas.width / Math.max(1, this.width);
    this.context.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.context.clearRect(0, 0, this.width, this.height);
    this.draw(this.context, this.width, this.height, ratio);
  }

  colour(name) {
    return this.style.getPropertyValue(name).trim();
  }

  at(event) {
    const box = this.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }
}
