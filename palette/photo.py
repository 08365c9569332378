"""Bead colours from a photograph: heaps in dishes, in tubes or loose on white paper.

1. The paper is the largest even area; a smooth surface through its light (a parabola of the
   logarithm, each channel for itself) is the uneven light, and its colour is the lamp's. Both are
   taken out: by the surface, and by the Bradford transform to D65.
2. What differs from paper in colour, or is as rough as beads are, is beads. The bead's size in
   pixels is the scale at which the lightness is roughest (T. Lindeberg, Feature detection with
   automatic scale selection, 1998: the normalised Laplacian). Areas are closed over the gaps
   between loose beads, and opened, so that rims and glass go.
3. Areas are cut where their colour changes, and alike neighbours are one heap.
4. Of each heap the pixels well inside beads count: of a coloured one those with half its colour,
   of a grey one those that are darker than the paper between them. Holes, shadows and highlights
   lie at the ends of their lightness, so its middle gives the hue, and a place above it the
   lightness.
5. A surface of glass mirrors white, metal its own colour (S. Shafer, Using color to separate
   reflection components, 1985): heaps with highlights of their own colour are metallic, and mirror
   the dark of the room as well.

A camera is no instrument: it mixes the wavelengths in its own way, and adds contrast. How near
drawn heaps of known colour come stands in `tests/benchmarks/photo_table.txt`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

import numpy as np
import numpy.typing as npt

from ..core.arrays import Bools, Float32Array, Floats, Ints
from ..core.errors import HimotifError
from ..core.srgb import Rgb, linear_to_srgb
from .colour import XYZ_FROM_LINEAR, linear_to_lab

PAPER_LIGHT = 0.86
"""Luminance of plain white paper beside a perfect white (common practice: L* 94)."""

BRIGHTER = 0.1
"""If so much of the picture is much brighter than the paper, it is not the paper."""

LIFT, METAL_LIFT = 1.08, 1.45
"""Over the lightness at 70 % of a heap, in linear light: what beads have where they face the light,
and the mean over a metallic one. Of drawn heaps, see `tests/benchmarks/photo.py`; no photograph
stands behind it. Beads in a pile lie in each other's shade, but two factors, chosen by how much the
beads cover, came no nearer on scenes that they were not made with."""

VEIL = 0.01
"""White that the surface of glass adds, in parts of paper's light: it mirrors 0.04 straight on
(Fresnel, n = 1.5), and of the room a quarter is bright; that share is a choice of this project,
checked on drawn heaps."""

COLOURED, ROUGH, DARK = 6.0, 5.0, 50.0
"""Unlike paper is what has more chroma, changes by more L* in a pixel, or is darker (L*), than
shadows on paper do; a choice of this project, checked on drawn photographs."""

LIT = 88.0
"""L* of paper in the shade between beads; as above."""

SMALLEST_PX = 4.0
"""A bead must be so many pixels across to have a colour of its own."""

LEAST_PHOTO_PX = 40
"""Shorter side of the smallest photograph: ten of the smallest beads."""

DARKEST_GREY = 0.05
"""Light of the darkest place to take for grey, in parts of the paper's: a grey card has 0.18
(common practice)."""

SAME_HEAP = 14.0
"""Neighbours this near in Lab, lightness halved, are one heap; as above."""

GREY, BESIDE = 8.0, 0.3
"""What has less chroma and lies beside a heap so many times as large belongs to the dish or tube;
as above."""

LEAST_BEADS = 4
"""A heap covers at least so many squares of a bead's size; 20 loose beads cover 16."""

HALO = 0.25
"""So far from the edge of a heap, in beads, lie the beads of one that is seen by its outlines."""

AS_COLOURED = 0.5
"""Beads have at least so much of their heap's chroma; paper, glass and highlights have less."""

DIM = 2.0
"""A lamp from aside makes a side of a ball 1.8 times as bright as its middle; what is so many times
as bright as 70 % of the beads is gloss or paper."""

PAPER_BETWEEN = 2.6
"""So many times as bright as grey beads is paper between them; crevices make less of a
difference. A choice of this project, checked on drawn heaps."""

HIGHLIGHT, METALLIC, METAL_SHARE = 1.8, 0.8, 0.05
"""Metal has places so many times as bright as its middle, that have at least so much of its colour,
on so much of it; as above."""

PLAIN = 0.15
"""Colour of a heap, as its distance from a grey of luminance 1 in linear light, from which on that
of its highlights can be seen; as above."""

_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""XYZ to the sharpened receptors of the Bradford transform (ICC.1:2010, annex E)."""

Points = npt.NDArray[np.float64]


class Heap(NamedTuple):
    """The beads of one colour.

    Attributes
    ----------
    rgb : (int, int, int)
        SRGB.
    middle : (float, float)
        In stored pixels, right and down from the top left corner.
    outline : float64 array (k, 2)
        Its longest outline in the same pixels; closed.
    """

    rgb: Rgb
    middle: tuple[float, float]
    outline: Points


@dataclass(frozen=True, eq=False)
class EvenedPhoto:
    """A photograph with its light evened and white as its paper.

    Parameters
    ----------
    linear : (h, w, 3) float32
        Linear light; white paper is at `PAPER_LIGHT`.
    paper : (h, w) bool
        Pixels that are paper for certain.
    clipped : (h, w) bool
        Pixels that the camera could not hold.
    unevenness : float
        Brightest over darkest light on the paper.
    """

    linear: Float32Array
    paper: Bools
    clipped: Bools
    unevenness: float


# -- the paper ---------------------------------------------------------------------------------


def even_light(linear: Float32Array, white: tuple[int, int] | None = None) -> EvenedPhoto:
    """Take uneven light and the lamp's colour out of a photograph on white paper.

    Parameters
    ----------
    linear : (h, w, 3) float32
        Linear light.
    white : (int, int), optional
        Column and row of a place that is white or grey; by default the paper is.

    Raises
    ------
    HimotifError
        If there is no paper to go by, or the place is nearly black.
    """
    height, width = linear.shape[:2]
    if min(height, width) < LEAST_PHOTO_PX:
        raise HimotifError(
            f"{width} × {height} px are too few to show beads; take a photograph with more, "
            f"{LEAST_PHOTO_PX} px at the least each way"
        )
    # a narrow picture has enough rows and columns for a parabola, too
    step = max(1, min(max(height, width) // 150, min(height, width) // 10))
    small = np.log(np.maximum(linear[::step, ::step], 1e-4)).astype(np.float64)
    terms = _terms(*small.shape[:2])
    coefficients, on_paper = _fit_paper(small, terms)
    light = np.exp(_terms(height, width) @ coefficients).astype(np.float32)
    relative = linear / light
    if (relative.mean(axis=-1) > 1.25).mean() > BRIGHTER:
        raise HimotifError(
            "much of the picture is brighter than what looks like paper; lay the beads on plain "
            "white paper that fills the picture"
        )
    clipped = np.asarray(linear.max(axis=-1) > 0.97)
    whole = np.kron(on_paper, np.ones((step, step), bool))[:height, :width]
    grey = light[whole].mean(axis=0)
    if white is not None:
        beside_paper = _patch(relative, white)
        if beside_paper.min() < DARKEST_GREY:
            raise HimotifError(
                f"the place {white[0]},{white[1]} is too dark to go by; name one that is white or "
                "grey"
            )
        grey = grey * beside_paper
    paper = light[whole].mean(axis=0)
    evened = to_d65(relative * paper, grey) * np.float32(PAPER_LIGHT / _luminance(paper))
    on_light = _luminance(light)
    return EvenedPhoto(evened, whole, clipped, float(on_light.max() / on_light.min()))


def _terms(height: int, width: int) -> Floats:
    """Terms of a parabola at every pixel, (h, w, 6)."""
    y, x = np.meshgrid(np.linspace(-1, 1, height), np.linspace(-1, 1, width), indexing="ij")
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _fit_paper(log: Floats, terms: Floats) -> tuple[Floats, Bools]:
    """Coefficients (6, 3) of the light on the paper, and which pixels are paper.

    The start is the parabola that four fifths of the pixels lie below, since paper is what is
    brightest; then what lies far from it, in lightness or colour, is left out in turn.
    """
    flat, rows = terms.reshape(-1, terms.shape[-1]), log.reshape(-1, 3)
    grey = rows.mean(axis=1)
    weights = np.ones(len(grey))
    for _ in range(30):
        weighted = flat * weights[:, None]
        start = np.linalg.solve(weighted.T @ flat, weighted.T @ grey)
        rest = grey - flat @ start
        weights = np.where(rest > 0, 0.8, 0.2) / np.maximum(np.abs(rest), 0.01)
    near = np.abs(rest) < 0.15
    colour = rows - grey[:, None]
    for width in (0.15, 0.1, 0.06, 0.06):
        if near.mean() < 0.05:
            raise HimotifError(
                "no paper is found round the beads; lay them on plain white paper, with some of it "
                "free on all sides"
            )
        solved = np.linalg.lstsq(flat[near], rows[near], rcond=None)[0]
        rest = np.abs(grey - flat @ solved.mean(axis=1))
        tint = np.abs(colour - flat @ (solved - solved.mean(axis=1, keepdims=True))).max(axis=1)
        near = (rest < width) & (tint < width)
    return solved, near.reshape(log.shape[:2])


def _luminance(linear: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.asarray(linear @ XYZ_FROM_LINEAR[1].astype(linear.dtype))


def to_d65(linear: Float32Array, white: npt.NDArray[Any]) -> Float32Array:
    """Return linear light (..., 3) as if `white`, linear (3,), were a grey under D65 (Bradford)."""
    receptors = _BRADFORD @ XYZ_FROM_LINEAR
    grey = np.full(3, _luminance(white))
    gain = receptors @ grey / (receptors @ white)
    matrix = np.linalg.inv(receptors) @ np.diag(gain) @ receptors
    return np.asarray(linear @ matrix.T.astype(np.float32), np.float32)


def _patch(linear: Float32Array, place: tuple[int, int]) -> npt.NDArray[Any]:
    """The median colour of a few pixels round a place."""
    x, y = place
    reach = _reach(linear)
    around = linear[max(y - reach, 0) : y + reach + 1, max(x - reach, 0) : x + reach + 1]
    return np.asarray(np.median(around.reshape(-1, 3), axis=0))


def _reach(linear: Float32Array) -> int:
    return max(2, int(max(linear.shape)) // 300)


# -- the heaps ---------------------------------------------------------------------------------


def find_heaps(photo: EvenedPhoto) -> tuple[Heap, ...]:
    """Find the heaps of beads, row by row from the top left.

    Returns
    -------
    tuple of Heap
        None where nothing but paper is seen.
    """
    from scipy import ndimage

    lab = np.asarray(linear_to_lab(np.clip(photo.linear / PAPER_LIGHT, 0, None)), np.float32)
    seen = _not_paper(photo, lab)
    if not seen.any():
        return ()
    bead_px = _bead_px(lab[..., 0], seen)
    # beads as grey as a shadow are seen by their outlines
    seen = _filled(seen, lab[..., 0], bead_px)
    solid = _opened(_closed(seen, 0.7 * bead_px), 0.45 * bead_px)
    pieces = _cut(lab, seen & solid, solid, bead_px)
    depth = np.asarray(ndimage.distance_transform_edt(seen), np.float32)
    heaps = []
    for number, place in enumerate(ndimage.find_objects(pieces), 1):
        own = pieces[place] == number
        if own.sum() < LEAST_BEADS * bead_px**2:
            continue
        held = own & ~photo.clipped[place]
        beads = _beads(lab[place], held, depth[place], HALO * bead_px)
        inside = ndimage.distance_transform_edt(beads)
        within = beads & (inside >= np.median(inside[beads]))
        if within.sum() >= bead_px**2 / 2:
            linear = photo.linear[place]
            corner = (place[1].start, place[0].start)
            heaps.append(_heap(body_colour(linear[within], linear[held]), own, corner))
    return tuple(_in_rows(heaps))


def _filled(seen: Bools, lightness: Float32Array, bead_px: float) -> Bools:
    """Fill what is no larger than a bead and darker than paper."""
    from scipy import ndimage

    holes, count = ndimage.label(~seen)
    numbers = np.arange(count + 1)
    small = ndimage.sum_labels(~seen, holes, numbers) < bead_px**2
    dark = ndimage.mean(lightness, holes, numbers) < LIT
    return np.asarray(seen | (small & dark)[holes])


def _beads(lab: Float32Array, own: Bools, depth: Float32Array, halo_px: float) -> Bools:
    """Which pixels of a heap show beads, rather than paper, glass and highlights.

    What lies deepest in beads gives a first colour; of a grey heap only the outlines are seen, and
    the darker of two kinds of pixels are beads, if the lighter are bright enough to be paper.
    """
    within, beads = own, own & (depth >= np.quantile(depth[own], 0.7))
    if np.hypot(*np.median(lab[beads, 1:], axis=0)) < GREY:
        within = beads = _grey_beads(lab[..., 0], own, halo_px)
    luminance = ((lab[..., 0] + 16) / 116) ** 3
    dim = within & (luminance < DIM * np.quantile(luminance[beads], 0.7))
    for _ in range(3):
        hue = np.median(lab[beads, 1:], axis=0)
        found = dim
        if np.hypot(*hue) > GREY:
            found = dim & (lab[..., 1:] @ hue > AS_COLOURED * (hue @ hue))
        if not found.any():
            break
        beads = found
    return beads


def _grey_beads(lightness: Float32Array, own: Bools, halo_px: float) -> Bools:
    from scipy import ndimage
    from skimage import filters

    inner = own & (ndimage.distance_transform_edt(np.pad(own, 1))[1:-1, 1:-1] > halo_px)
    if not inner.any():
        return own
    threshold = cast("Callable[[Float32Array], float]", filters.threshold_otsu)
    dark = inner & (lightness <= threshold(lightness[inner]))
    luminance = ((lightness + 16) / 116) ** 3
    light = inner & ~dark
    paper = light.any() and luminance[light].mean() > PAPER_BETWEEN * luminance[dark].mean()
    return np.asarray(dark if paper else inner)


def _not_paper(photo: EvenedPhoto, lab: Float32Array) -> Bools:
    """Where colour or lightness differs from paper by more than a shadow's edge or noise."""
    from scipy import ndimage

    smooth = ndimage.gaussian_filter(lab, (1, 1, 0))
    chroma = np.hypot(smooth[..., 1], smooth[..., 2])
    edge = ndimage.gaussian_gradient_magnitude(lab[..., 0], 1.0)
    coloured = chroma > max(COLOURED, 5 * float(np.median(chroma[photo.paper])))
    rough = edge > max(ROUGH, 5 * float(np.median(edge[photo.paper])))
    return np.asarray(coloured | rough | (smooth[..., 0] < DARK))


def _bead_px(lightness: Float32Array, seen: Bools) -> float:
    """The size of a bead, px across: where the normalised Laplacian is first largest.

    A disc of radius r answers most at r / √2; whole heaps answer again at a far larger scale.
    """
    from scipy import ndimage

    sigmas = SMALLEST_PX / (2 * np.sqrt(2)) * 1.2 ** np.arange(16)
    growth = np.array([])
    before = np.inf
    for sigma in sigmas[sigmas < max(seen.shape) / 20]:
        answer = ndimage.gaussian_laplace(lightness, sigma)[seen]
        here = float(sigma**2 * np.abs(answer).mean())
        growth = np.append(growth, here / before)
        before = here
        if len(growth) > 1 and growth[-1] < 1:
            break
    across_px = 2 * np.sqrt(2) * sigmas
    if growth[-1] < 1:
        return float(across_px[len(growth) - 2])
    # where heaps are so small that it only grows, it grows least at the bead
    within = across_px[: len(growth) - 1] < ndimage.distance_transform_edt(seen).max()
    return float(across_px[int(np.argmin(np.where(within, growth[1:], np.inf)))])


def _closed(mask: Bools, radius: float) -> Bools:
    from scipy import ndimage

    padded = np.pad(mask, int(radius) + 1)
    grown = ndimage.distance_transform_edt(~padded) <= radius
    shrunk = ndimage.distance_transform_edt(grown) > radius
    cut = slice(int(radius) + 1, -int(radius) - 1)
    return np.asarray(shrunk[cut, cut])


def _opened(mask: Bools, radius: float) -> Bools:
    return ~_closed(~mask, radius)


def _cut(lab: Float32Array, seen: Bools, solid: Bools, bead_px: float) -> Ints:
    """Number the areas of one colour."""
    from scipy import ndimage
    from skimage import segmentation

    cover = ndimage.gaussian_filter(seen.astype(np.float32), bead_px)
    smooth = ndimage.gaussian_filter(lab * seen[..., None], (bead_px, bead_px, 0))
    smooth /= np.maximum(cover, 1e-3)[..., None]
    smooth[..., 0] *= 0.5
    slope = np.sqrt(sum(ndimage.sobel(smooth, axis) ** 2 for axis in (0, 1)).sum(axis=-1))
    step = max(1, round(bead_px / 3))
    low = slope <= ndimage.minimum_filter(slope, 2 * step + 1)
    seeds, _ = ndimage.label(low & solid)
    watershed = cast("Callable[..., Ints]", segmentation.watershed)
    areas = watershed(slope, seeds, mask=solid)
    return _merged(areas, smooth, bead_px)


def _merged(areas: Ints, smooth: Float32Array, bead_px: float) -> Ints:
    """Join areas that are alike and lie next to each other, the most alike first."""
    from scipy import ndimage

    count = int(areas.max())
    numbers = np.arange(1, count + 1)
    size = ndimage.sum_labels(np.ones(areas.shape), areas, numbers)
    colour = np.stack([ndimage.mean(smooth[..., k], areas, numbers) for k in range(3)], axis=-1)
    pairs = _neighbours(areas, bead_px)
    root = np.arange(count)
    while len(pairs):
        apart = np.linalg.norm(colour[pairs[:, 0]] - colour[pairs[:, 1]], axis=1)
        at = int(np.argmin(apart))
        if apart[at] > SAME_HEAP:
            break
        one, other = pairs[at]
        total = size[one] + size[other]
        colour[one] = (colour[one] * size[one] + colour[other] * size[other]) / total
        size[one] = total
        root[root == other] = one
        pairs[pairs == other] = one
        pairs = np.unique(np.sort(pairs[pairs[:, 0] != pairs[:, 1]], axis=1), axis=0)
    # a cap, a rim or a shadow beside the beads
    greys = np.hypot(colour[:, 1], colour[:, 2]) < GREY
    for one, other in pairs:
        small, large = (one, other) if size[one] < size[other] else (other, one)
        if greys[small] and size[small] < BESIDE * size[large]:
            root[root == small] = -1
    _, number = np.unique(np.append(-1, root), return_inverse=True)
    return np.append(0, number[1:])[areas]


def _neighbours(areas: Ints, bead_px: float) -> Ints:
    """Pairs (k, 2), counted from 0, of areas at most two beads from each other."""
    from scipy import ndimage

    far, nearest = ndimage.distance_transform_edt(areas == 0, return_indices=True)
    grown = np.where(far <= bead_px, areas[tuple(nearest)], 0)
    found = []
    for one, other in (
        (grown[1:], grown[:-1]),
        (grown[:, 1:], grown[:, :-1]),
    ):
        meet = (one != other) & (one > 0) & (other > 0)
        found.append(np.stack([one[meet], other[meet]], axis=-1))
    pairs = np.sort(np.concatenate(found), axis=1) - 1
    return np.unique(pairs, axis=0)


def _heap(colour: Floats, own: Bools, corner: tuple[int, int]) -> Heap:
    """A heap, of its pixels in a piece of the picture; `corner` is the piece's, column and row."""
    from skimage import measure

    find_contours = cast("Callable[..., list[Floats]]", measure.find_contours)
    outlines = find_contours(np.pad(own, 1).astype(np.float32), 0.5)
    outline = max(outlines, key=len)[:, ::-1] - 0.5 + corner
    down, across = np.nonzero(own)
    middle = (float(across.mean()) + corner[0] + 0.5, float(down.mean()) + corner[1] + 0.5)
    return Heap(_rgb(colour), middle, outline)


def bead_at(photo: EvenedPhoto, place: tuple[int, int]) -> Heap:
    """Return the colour at a place, column and row: the median of a few pixels round it."""
    x, y = place
    reach = _reach(photo.linear)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]) * reach
    outline = corners + np.array(place) + 0.5
    return Heap(_rgb(_patch(photo.linear, place)), (x + 0.5, y + 0.5), outline)


def body_colour(beads: npt.NDArray[Any], heap: npt.NDArray[Any]) -> Floats:
    """Return the colour of beads.

    Parameters
    ----------
    beads : (k, 3) float
        Linear light well inside beads.
    heap : (n, 3) float
        Of the whole heap, with its highlights.

    Returns
    -------
    (3,) float64
        Linear light.
    """
    light = _luminance(beads)
    low, level = np.quantile(light, (0.4, 0.7))
    middle = np.median(beads[(light >= low) & (light <= level)], axis=0).astype(np.float64)
    veil, lift = (0.0, METAL_LIFT) if _metallic(middle, light, heap) else (VEIL, LIFT)
    middle = np.maximum(middle - veil, 1e-4)
    return np.asarray(middle / _luminance(middle) * max(level - veil, 1e-3) * lift)


def _metallic(middle: Floats, light: npt.NDArray[Any], heap: npt.NDArray[Any]) -> bool:
    """Whether highlights have the colour of the beads, whose light is `light`."""
    hue = middle / max(float(_luminance(middle)), 1e-6) - 1
    if np.linalg.norm(hue) < PLAIN:
        return False
    bright = np.maximum(_luminance(heap), 1e-3)
    coloured = (heap / bright[:, None] - 1) @ hue / (hue @ hue)
    # less than 0.4 of its colour is paper, or a highlight on glass
    own = coloured > 0.4
    lit = own & (bright > HIGHLIGHT * np.median(light))
    return bool(lit.sum() > METAL_SHARE * own.sum() and np.median(coloured[lit]) > METALLIC)


def _rgb(linear: Floats) -> Rgb:
    codes = linear_to_srgb(np.clip(linear, 0, 1).astype(np.float32))
    return int(codes[0]), int(codes[1]), int(codes[2])


def _in_rows(heaps: list[Heap]) -> list[Heap]:
    """Row by row: a heap is in the row of the uppermost left if that one's outline reaches it."""
    left, ordered = sorted(heaps, key=lambda heap: heap.middle[1]), []
    while left:
        bottom = left[0].outline[:, 1].max()
        row = [heap for heap in left if heap.middle[1] <= bottom]
        ordered += sorted(row, key=lambda heap: heap.middle[0])
        left = [heap for heap in left if heap.middle[1] > bottom]
    return ordered
