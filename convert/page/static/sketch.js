// The sketch as it lies on the unrolled braid, and the handles that move, turn and size it.

const HANDLE = 9;

export class SketchStrip {
  constructor(sheet, view) {
    this.sheet = sheet;
    this.view = view;
    this.drag = null;
  }

  // While it is dragged the motif follows the hand at once; where it really lies is drawn by
  // himotif as soon as the hand rests.
  begin(place) {
    this.drag = { ...place };
  }

  draw(context, width, state, image, ghost) {
    const { geometry, result } = state;
    const { view } = this;
    const scale = view.pxPerMm;
    const round = geometry.circumference_mm;
    const left = width / 2 - (round / 2) * scale;
    context.save();
    context.beginPath();
    context.rect(left, 0, round * scale, view.heightPx);
    context.clip();
    const first = result.placement.centres_mm[0];
    for (const [x, y] of result.placement.centres_mm) {
      for (const turn of [-1, 0, 1]) {
        if (this.drag && ghost) {
          this.#ghost(context, width, x - first[0] + turn * round, y - first[1], ghost);
        } else if (image) {
          const wide = result.sketch_mm[0] * scale;
          const high = result.sketch_mm[1] * scale;
          const middle = width / 2 + (result.front_x_mm + x - first[0] + turn * round) * scale;
          context.drawImage(image, middle - wide / 2, view.rowPx(y) - high / 2, wide, high);
        }
      }
    }
    context.restore();
  }

  #ghost(context, width, moreX, moreY, ghost) {
    const { drag, view } = this;
    const scale = view.pxPerMm;
    context.save();
    context.globalAlpha = 0.85;
    context.translate(width / 2 + (drag.x + moreX) * scale, view.rowPx(drag.y + moreY));
    context.scale(1, drag.stretch);
    context.rotate((drag.rotate * Math.PI) / 180);
    const size = (1 / drag.pxPerMm) * scale;
    const [wide, high] = drag.sizePx.map((px) => px * size);
    const [left, top, right, bottom] = drag.part;
    const [w, h] = [ghost.naturalWidth || ghost.width, ghost.naturalHeight || ghost.height];
    const from = [left * w, top * h, (right - left) * w, (bottom - top) * h];
    context.drawImage(ghost, ...from, -wide / 2, -high / 2, wide, high);
    context.restore();
  }

  // The motif's frame: middle and corners on the canvas, and the knob that turns it.
  frame(width, state) {
    const place = this.drag ?? placeOf(state);
    const { view } = this;
    const scale = view.pxPerMm;
    const middle = [width / 2 + place.x * scale, view.rowPx(place.y)];
    const turn = (place.rotate * Math.PI) / 180;
    const [across, down] = place.sizePx.map((px) => ((px / place.pxPerMm) * scale) / 2);
    const at = (x, y) => [
      middle[0] + x * Math.cos(turn) - y * Math.sin(turn),
      middle[1] + (x * Math.sin(turn) + y * Math.cos(turn)) * place.stretch,
    ];
    return {
      middle,
      corners: [at(-across, -down), at(across, -down), at(across, down), at(-across, down)],
      knob: at(0, -down - 22),
      top: at(0, -down),
      inside: (x, y) => {
        const [dx, dy] = [x - middle[0], (y - middle[1]) / place.stretch];
        const a = dx * Math.cos(turn) + dy * Math.sin(turn);
        const b = -dx * Math.sin(turn) + dy * Math.cos(turn);
        return Math.abs(a) <= across + 4 && Math.abs(b) <= down + 4;
      },
    };
  }

  drawFrame(context, width, state, colour, ground) {
    const { corners, knob, top } = this.frame(width, state);
    context.lineWidth = 1.5;
    context.strokeStyle = colour;
    context.beginPath();
    corners.forEach(([x, y], k) => (k ? context.lineTo(x, y) : context.moveTo(x, y)));
    context.closePath();
    context.moveTo(...top);
    context.lineTo(...knob);
    context.stroke();
    for (const [x, y] of corners) {
      context.fillStyle = ground;
      context.fillRect(x - 5, y - 5, 10, 10);
      context.strokeRect(x - 5, y - 5, 10, 10);
    }
    context.beginPath();
    context.arc(...knob, 6.5, 0, 2 * Math.PI);
    context.fillStyle = ground;
    context.fill();
    context.stroke();
  }

  // What a pointer at a place would take hold of: "turn", "size", "move" or nothing.
  grip(x, y, width, state) {
    const frame = this.frame(width, state);
    const near = ([a, b]) => Math.hypot(a - x, b - y) <= HANDLE + 4;
    if (near(frame.knob)) return "turn";
    if (frame.corners.some(near)) return "size";
    return frame.inside(x, y) ? "move" : null;
  }
}

// Where the first motif that is in sight lies; which one is a matter of the view.
export function placeOf(state) {
  const { placement } = state.result;
  const centres = placement.centres_mm;
  const k = Math.max(0, Math.min(centres.length - 1, state.motif ?? 0));
  return {
    x: centres[k][0],
    y: centres[k][1],
    rotate: placement.rotate_deg,
    pxPerMm: placement.px_per_mm,
    sizePx: placement.size_px,
    stretch: placement.stretch,
    part: placement.part,
  };
}
