// Draws single beads as small pictures, shaded once for each colour, size and facing.

const FACINGS = 8;
const LIGHT = normal([-0.46, 0.52, 0.72]);
const HALF = normal([LIGHT[0], LIGHT[1], LIGHT[2] + 1]);
const kept = new Map();

function normal(vector) {
  const length = Math.hypot(...vector);
  return vector.map((part) => part / length);
}

const toLinear = Array.from({ length: 256 }, (_, code) => {
  const value = code / 255;
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
});

function toCode(linear) {
  const value = Math.min(1, Math.max(0, linear));
  return 255 * (value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055);
}

// A bead of half-axes (acrossPx, alongPx); facing 1 looks at the viewer, 0 is at the rim. Finishes
// are drawn as in `core/show/light.py`.
export function beadPicture({ rgb, finish }, acrossPx, alongPx, facing) {
  const level = Math.round(Math.max(0, Math.min(1, facing)) * (FACINGS - 1));
  const wide = Math.max(2, Math.ceil(acrossPx * 2) + 2);
  const high = Math.max(2, Math.ceil(alongPx * 2) + 2);
  const look = Object.values(finish);
  const key = `${rgb} ${look} ${acrossPx.toFixed(2)} ${alongPx.toFixed(2)} ${level}`;
  let canvas = kept.get(key);
  if (canvas) return canvas;
  if (kept.size > 1500) kept.clear();
  canvas = document.createElement("canvas");
  canvas.width = wide;
  canvas.height = high;
  const context = canvas.getContext("2d");
  const image = context.createImageData(wide, high);
  shade(image, rgb, finish, [acrossPx, alongPx], level / (FACINGS - 1));
  context.putImageData(image, 0, 0);
  kept.set(key, canvas);
  return canvas;
}

// A highlight, less what of it would fall where the bead faces the viewer.
const lobe = (mirrored, power) => Math.max(0, mirrored ** power - HALF[2] ** power);

function shade(image, rgb, finish, [across, along], facing) {
  const { width, height, data } = image;
  const base = rgb.map((code) => toLinear[code]);
  const dim = 0.3 + 0.7 * facing;
  const front = 0.34 + 0.66 * LIGHT[2];
  const edge = 1 / Math.min(across, along);
  for (let row = 0; row < height; row += 1) {
    for (let column = 0; column < width; column += 1) {
      const x = (column + 0.5 - width / 2) / across;
      const y = -(row + 0.5 - height / 2) / along;
      const far = Math.hypot(x, y);
      const cover = Math.min(1, Math.max(0, (1 - far) / edge + 0.5));
      if (cover <= 0) continue;
      const z = Math.sqrt(Math.max(0, 1 - far * far));
      const cosine = Math.max(0, (x * LIGHT[0] + y * LIGHT[1] + z * LIGHT[2] + 0.25) / 1.25);
      let light = ((0.34 + 0.66 * cosine) / front) * (0.55 + 0.45 * z) * dim;
      const mirrored = Math.max(0, x * HALF[0] + y * HALF[1] + z * HALF[2]);
      const shine = (finish.gloss * lobe(mirrored, 64) + finish.sheen * lobe(mirrored, 8)) * dim;
      const rim = 1 - z;
      // what passes a clear bead has no shadow of its own
      light += 0.5 * finish.clear * (dim - light);
      light *= 1 - finish.lining * (1 - z ** 4);
      const white = shine * (1 - finish.tint) + finish.glass * rim * rim * Math.min(light, 1);
      light += shine * finish.tint;
      const at = 4 * (row * width + column);
      for (let part = 0; part < 3; part += 1) {
        const turn = 2 * Math.PI * (1.4 * rim + 0.25 * x + part / 3);
        const hues = finish.rainbow * rim * (0.5 + 0.5 * Math.cos(turn)) * dim;
        data[at + part] = toCode(base[part] * light + white + hues);
      }
      data[at + 3] = 255 * cover;
    }
  }
}

export const css = (rgb) => `rgb(${rgb[0]} ${rgb[1]} ${rgb[2]})`;

// Black or white, whichever is read better on a colour.
export function inkOn(rgb) {
  const [red, green, blue] = rgb.map((code) => toLinear[code]);
  const luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  return luminance > 0.18 ? "#000" : "#fff";
}
