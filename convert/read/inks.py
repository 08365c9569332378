"""A drawing on evenly lit paper in its inks: strokes of wax and lead become areas of one colour.

1. *Specks*: bare paper in the hollows of wax is light with dark all round it; opening by
   reconstruction finds it (Vincent, IEEE Trans. Image Process. 2 (1993) 176-201).
2. *Areas*: few steps, all else smooth, by L0 gradient minimisation (Xu, Lu, Xu & Jia, "Image
   smoothing via L0 gradient minimization", ACM Trans. Graph. 30 (2011) 174).
3. *Zones*: what is connected by small steps (quasi-flat zones: Meyer, J. Vis. Commun. Image
   Represent. 9 (1998) 3-14). Zones as thin as a soft edge that are a mixture of what lies on either
   side are none.
4. *Inks*: the commonest colours of blocks of zones, with a valley between any two of them.
5. *Labels*: each pixel has the ink most like it and what is round it: the cost of an ink is a mean
   over a window (Rhemann et al., "Fast cost-volume filtering", CVPR 2011).
6. *Colours*: of areas of each ink see `_ink`, of thin strokes `_thin_ink`.

Tones are roots of linear light, 0 to 1. The numbers below were chosen by looking at the rendered
scenes 64 to 127 of `tests/benchmarks/photographed.py`; its tables show what they do together.
"""

from __future__ import annotations

import numpy as np

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.groups import linked_groups
from ...core.srgb import box_mean
from ...palette import linear_lab

DRAWN_PX = 360
"""The longest side, in pixels, of what is drawn: twenty and more across a bead of the widest."""

AROUND_PX = 8
"""Paper round what is drawn, in pixels."""


def in_inks(drawn: Float32Array) -> Float32Array:
    """Return a flat drawing in its own inks, any other without grain; reduced to what is of use.

    Parameters
    ----------
    drawn : (h, w, 3) float32
        Linear, paper 1.

    Returns
    -------
    (h', w', 3) float32
        Linear.
    """
    rows, columns = np.nonzero((drawn < 0.8).any(axis=-1))
    if not len(rows):
        return drawn
    times = max(1, round((max(np.ptp(rows), np.ptp(columns)) + 1) / DRAWN_PX))
    light = box_mean(drawn, times)
    top, left = (max(0, int(v.min()) // times - AROUND_PX) for v in (rows, columns))
    bottom, right = (int(v.max()) // times + AROUND_PX + 1 for v in (rows, columns))
    own = np.s_[top:bottom, left:right]
    bare: Bools = np.asarray((light[own] > BARE_LIGHT).all(axis=-1))
    given = without_specks(np.sqrt(light[own]))
    smooth = smooth_areas(given)
    found = _labels(smooth, given, bare)
    light = np.where((light > BARE_LIGHT).all(axis=-1, keepdims=True), np.float32(1), light)
    if found is None:
        light[own] = np.clip(smooth, 0, 1) ** 2
        return light
    fine = np.s_[top * times : bottom * times, left * times : right * times]
    light[:] = 1
    light[own] = _colours(drawn[fine], *found, times)[found[0]]
    return light


BARE_LIGHT = 0.99
"""Linear light of paper; what is divided by its light is exactly 1 where it is bare."""


# -- areas -----------------------------------------------------------------------------------------


def without_specks(tones: Float32Array) -> Float32Array:
    """Return tones (h, w, 3) with small light specks as dark as what is round them."""
    from scipy import ndimage
    from skimage.morphology import reconstruction

    light = tones.mean(axis=-1)
    dark = ndimage.minimum_filter(light, SPECK_PX)
    speck = light - reconstruction(dark, light) > SPECK_DARKER
    around = ndimage.minimum_filter(tones, (SPECK_PX, SPECK_PX, 1))
    return np.asarray(np.where(speck[..., None], around, tones))


SPECK_PX, SPECK_DARKER = 5, 0.05
"""Side, in pixels, of the largest speck, and by how many tones it is lighter at least."""


def smooth_areas(tones: Float32Array) -> Float32Array:
    """Return tones (h, w, 3) with as few steps as L0 gradient minimisation leaves.

    Half-quadratic splitting, as its authors do it; the price of a step is 0.015 (theirs: 0.02).
    """
    from scipy import fft

    high, wide = (fft.next_fast_len(n + AROUND_PX, real=True) for n in tones.shape[:2])
    pad = ((0, high - tones.shape[0]), (0, wide - tones.shape[1]), (0, 0))
    smooth = np.pad(tones.astype(np.float32), pad, mode="edge")
    given = fft.rfft2(smooth, axes=(0, 1))
    down = 2 - 2 * np.cos(2 * np.pi * np.arange(high) / high)
    across = 2 - 2 * np.cos(2 * np.pi * np.arange(wide // 2 + 1) / wide)
    bend = (down[:, None] + across[None]).astype(np.float32)[..., None]
    coupling = 2 * STEP_PRICE
    while coupling < MOST_COUPLING:
        x, y = np.roll(smooth, -1, 1) - smooth, np.roll(smooth, -1, 0) - smooth
        step = (x * x + y * y).sum(axis=-1, keepdims=True) >= STEP_PRICE / coupling
        x *= step
        y *= step
        inward = np.roll(x, 1, 1) - x + np.roll(y, 1, 0) - y
        wanted = given + coupling * fft.rfft2(inward, axes=(0, 1))
        smooth = fft.irfft2(wanted / (1 + coupling * bend), s=(high, wide), axes=(0, 1))
        coupling *= 3
    return np.asarray(smooth[: tones.shape[0], : tones.shape[1]], dtype=np.float32)


STEP_PRICE, MOST_COUPLING = 0.015, 2e3
"""Price of a step, squared tones; the weight, tripled each time, up to which steps are made
sharper."""


# -- zones and inks --------------------------------------------------------------------------------


def _zones(smooth: Float32Array, bare: Bools) -> tuple[Ints, Ints]:
    """Number of the zone of each pixel, and how many pixels each zone has."""
    number = np.arange(bare.size).reshape(bare.shape)
    rows, columns = [], []
    for less, more in ((np.s_[:-1], np.s_[1:]), (np.s_[:, :-1], np.s_[:, 1:])):
        step = np.abs(smooth[less] - smooth[more]).max(axis=-1)
        linked = (step < ZONE_STEP) & (bare[less] == bare[more])
        rows.append(number[less][linked])
        columns.append(number[more][linked])
    zone = linked_groups(np.concatenate(rows), np.concatenate(columns), bare.size)
    return zone.reshape(bare.shape), np.bincount(zone)


ZONE_STEP, ZONE_PX = 0.02, 8
"""Tones from one pixel of a zone to the next, at most; pixels of the smallest zone."""


def _labels(
    smooth: Float32Array, given: Float32Array, bare: Bools
) -> tuple[Ints, Float32Array] | None:
    """Return the ink of each pixel, 0 for paper, and the tones of the inks, paper first.

    None if a few inks do not explain what is drawn.
    """
    from scipy import ndimage

    whole = linear_lab((smooth**2).astype(np.float32))
    bare = bare | (((whole - PAPER_LAB) ** 2).sum(axis=-1) < NEAR_PAPER_LAB**2)
    zone, size = _zones(smooth, bare)
    solid = ndimage.minimum_filter(zone, 3) == ndimage.maximum_filter(zone, 3)
    broad = np.bincount(zone[solid], minlength=len(size)) > 0
    mixed = _mixtures(zone, size, _means(zone, size, smooth), broad)[zone]
    used = ~bare & ~mixed & (solid | ~broad[zone]) & (size[zone] >= ZONE_PX)
    if not used.any():
        return None
    row, column = np.indices(zone.shape) // BLOCK_PX
    block = np.where(broad[zone], row * (column.max() + 1) + column, 0)
    piece = np.unique(zone[used] * (block.max() + 1) + block[used], return_inverse=True)[1]
    weight = np.bincount(piece)
    lab = linear_lab((_means(piece, weight, given[used]) ** 2).astype(np.float32))
    modes = _modes(lab, weight.astype(np.float64))
    if not 0 < len(modes) <= MOST_INKS:
        return None
    modes = np.concatenate([PAPER_LAB[None], modes])
    label = np.where(used, _most_like(whole, modes, used), -1)
    if not _explained(whole, label):
        return None
    label[bare] = 0
    inks = np.unique(label[label > 0])
    if not len(inks):
        return None
    label = np.where(label > 0, np.searchsorted(inks, label) + 1, label)
    tones = [np.ones(3), *(np.median(given[label == k + 1], axis=0) for k in range(len(inks)))]
    return _with_edges(smooth, label, np.array(tones, dtype=np.float32))


BLOCK_PX = 12
"""Side, in pixels, of the blocks whose means tell inks: grain is finer, half a bead is not."""

MOST_INKS = 12
"""A drawing with more inks is shaded."""


def _explained(lab: Float32Array, label: Ints) -> bool:
    """Whether inks explain a drawing: by how much pixels stray from theirs, -1 for none, evens out.

    Over a part of the drawing the grain of pencil does, however coarse, and shades do not.
    """
    used = label >= 0
    middle = np.zeros((int(label.max()) + 1, 3), dtype=np.float32)
    for number in np.unique(label[used]):
        middle[number] = np.median(lab[label == number], axis=0)
    row, column = np.indices(label.shape) // PART_PX
    part = (row * (column.max() + 1) + column)[used]
    size = np.bincount(part)
    astray = np.linalg.norm(_means(part, size, lab[used] - middle[label[used]]), axis=1)
    return bool(size[astray < ASTRAY_LAB].sum() >= EXPLAINED * size.sum())


PART_PX, ASTRAY_LAB, EXPLAINED = 36, 10.0, 0.9
"""Side of a part, in pixels; how far it may be from its inks (CIE Lab); how much of a drawing may
not be farther: in rendered scenes, with pencil as coarse as a tenth of the drawing, 0.95 and more
are not, of a shaded ball and of a ramp in felt-pen or pencil up to 0.85."""


def _means(number: Ints, size: Ints, values: Float32Array) -> Floats:
    every = number.ravel()
    sums = [np.bincount(every, v.ravel(), minlength=len(size)) for v in np.moveaxis(values, -1, 0)]
    return np.asarray(np.stack(sums, axis=1) / np.maximum(size, 1)[:, None])


def _mixtures(zone: Ints, size: Ints, means: Floats, broad: Bools) -> Bools:
    """Which zones are nowhere broader than a soft edge, and mixtures of what is on either side."""
    from scipy import ndimage

    mixed = np.zeros(len(size), dtype=bool)
    boxes = ndimage.find_objects(zone + 1)
    for k in np.flatnonzero(~broad & (size >= ZONE_PX)):
        rows, columns = (slice(max(one.start - 3, 0), one.stop + 3) for one in boxes[k])
        near = zone[rows, columns]
        beside = np.unique(near[ndimage.binary_dilation(near == k, iterations=3)])
        beside = beside[broad[beside] & (size[beside] >= INK_PX)]
        for one in beside:
            line = means[beside] - means[one]
            long = (line**2).sum(axis=1)
            part = ((means[k] - means[one]) * line).sum(axis=1) / np.maximum(long, 1e-9)
            off = np.linalg.norm(means[k] - means[one] - part[:, None] * line, axis=1)
            between = (part > 0) & (part < 1) & (off < OFF_TONES)
            mixed[k] |= bool(between.any())
    return mixed


INK_PX, OFF_TONES = 24, 0.06
"""Pixels of the smallest part that may have an ink of its own; how far from the line between two
colours their mixtures are at most, in tones."""


def _modes(lab: Float32Array, weight: Floats) -> Floats:
    """Lab of the commonest colours, none too like another, none like paper."""
    apart = np.linalg.norm(lab[:, None] - lab[None], axis=2)
    left = np.linalg.norm(lab - PAPER_LAB, axis=1) > NEAR_PAPER_LAB
    modes: list[Floats] = []
    while left.any():
        dense = ((apart < ALIKE_LAB / 2) * (weight * left)).sum(axis=1) * left
        top = int(np.argmax(dense))
        near = (apart[top] < ALIKE_LAB / 2) & left
        centre = np.average(lab[near], axis=0, weights=weight[near])
        own = (np.linalg.norm(lab - centre, axis=1) < ALIKE_LAB) & left
        own[top] = True
        left &= ~own
        alone = all(np.linalg.norm(centre - other) >= ALIKE_LAB for other in modes)
        if alone and weight[own].sum() >= INK_PX:
            modes.append(centre)
    return _with_valleys(np.array(modes).reshape(-1, 3), lab, weight)


ALIKE_LAB = 7.0
"""Colours nearer to each other (CIE Lab) are one ink."""

PAPER_LAB = np.array([100.0, 0.0, 0.0], np.float32)
NEAR_PAPER_LAB = 10.0
"""Colours nearer to paper are none: a file with colour at half the resolution of lightness tinges
the paper beside strokes of a strong colour by up to 8."""


def _with_valleys(modes: Floats, lab: Float32Array, weight: Floats) -> Floats:
    """Modes, the commonest first, with fewer colours half way between two than at either."""
    kept = list(range(len(modes)))
    for k in range(len(modes) - 1, 0, -1):
        for j in range(k):
            line = modes[k] - modes[j]
            long = float(np.linalg.norm(line))
            if long > 2 * ALIKE_LAB + 2:
                continue
            part = (lab - modes[j]) @ line / long**2
            on = np.linalg.norm(lab - modes[j] - part[:, None] * line, axis=1) < ALIKE_LAB
            low, middle, high = (
                weight[on & (np.abs(part - at) < 1 / 6)].sum() for at in (0, 0.5, 1)
            )
            if middle > VALLEY * min(low, high):
                kept.remove(k)
                break
    return np.asarray(modes[kept])


VALLEY = 0.7
"""Part of the lesser of two modes that may lie in the third between them. In the rendered scenes it
is up to 0.66 between two mauves in pencil, and from 0.73 up between shades of one ink."""


# -- labels and colours ----------------------------------------------------------------------------


def _most_like(lab: Float32Array, modes: Floats, used: Bools) -> Ints:
    """The number of the mode that is most like each pixel and those used round it."""
    from scipy import ndimage

    apart = [
        ndimage.uniform_filter(((lab - mode) ** 2).sum(axis=-1) * used, EVEN_PX)
        for mode in modes.astype(np.float32)
    ]
    return np.asarray(np.argmin(apart, axis=0))


EVEN_PX = 5
"""Side, in pixels, of the window over which the cost of an ink is averaged."""


def _with_edges(
    smooth: Float32Array, label: Ints, tones: Float32Array
) -> tuple[Ints, Float32Array]:
    """Give edge pixels the most similar ink near by, and fill small gaps."""
    from scipy import ndimage

    near = np.stack(
        [ndimage.maximum_filter(label == k, NEAR_PX) for k in range(len(tones))], axis=-1
    )
    # a thin stroke by itself may be of any ink, the edge of an area only of those beside it
    near |= ~near[..., 1:].any(axis=-1, keepdims=True)
    apart = np.stack([((smooth - tone) ** 2).sum(axis=-1) for tone in tones], axis=-1)
    apart[~near] = np.inf
    chosen = np.where(label >= 0, label, apart.argmin(axis=-1))
    drawn = chosen > 0
    pieces, _ = ndimage.label(~drawn)
    gaps = ~drawn & (np.bincount(pieces.ravel()) < INK_PX)[pieces]
    chosen[gaps] = 1 + apart[gaps, 1:].argmin(axis=-1)
    return chosen, tones


NEAR_PX = 7
"""Side, in pixels, of the window in which an ink is near: a soft edge is half as broad."""


def _colours(drawn: Float32Array, label: Ints, tones: Float32Array, times: int) -> Float32Array:
    """Linear colours of the inks."""
    from scipy import ndimage

    fine = label.repeat(times, axis=0).repeat(times, axis=1)
    fine = fine[: drawn.shape[0], : drawn.shape[1]]
    colours = tones**2
    for number in range(1, len(colours)):
        own = fine == number
        inside = ndimage.minimum_filter(own, 2 * INSIDE_PX + 1)
        if inside.sum() > LEAST_INSIDE * own.sum():
            colours[number] = _ink(drawn[inside])
        elif own.any():
            colours[number] = _thin_ink(drawn, fine, number)
    return colours


INSIDE_PX, LEAST_INSIDE = 3, 0.05
"""The soft edge of an area, in pixels, and the part of an ink that lies within at least: less than
this are a few crossings of thin strokes, which are not like the strokes."""


def _ink(drawn: Float32Array) -> Floats:
    """Linear colour of the ink of an area, (3,), of its pixels (n, 3).

    In pencil and felt-pen pixels stray to both sides of it alike: it is their median. Through wax
    paper shows, a lens spreads it, and all is lighter than the wax but for noise: then the ink lies
    beyond the median, as far as the mean falls short of it, but not beyond the darkest quarter.
    """
    darker, middle = np.quantile(drawn, (0.25, 0.5), axis=0)
    return np.asarray(np.maximum(2 * middle - drawn.mean(axis=0), darker))


def _thin_ink(drawn: Float32Array, label: Ints, number: int) -> Floats:
    """Linear colour of an ink that is only drawn in thin strokes.

    A JPEG has colour at half the resolution of lightness (ITU-T T.81 with 4:2:0 sampling): it is
    spread over a stroke and its fringe, but its sum is kept. The lightness (ITU-R BT.601) of each
    pixel tells how much of it is covered, that along the crests of strokes, where blur lightens
    them least, how dark the ink is; its hue is the one with which all that is covered would have
    the sum that is seen.
    """
    from scipy import ndimage

    own = label == number
    wide = ndimage.maximum_filter(own, 2 * FRINGE_PX + 1)
    wide &= ~ndimage.maximum_filter((label != number) & (label > 0), 2 * FRINGE_PX + 1)
    if not (own & wide).any():
        wide = own
    missing = 1 - np.sqrt(drawn.astype(np.float64))
    dark = missing @ LUMA
    inward = ndimage.distance_transform_edt(own)
    crest = own & (inward >= ndimage.maximum_filter(inward, 3))
    deep = float(np.quantile(dark[crest], DEEPEST))
    count, edges = np.histogram(dark[wide], 256)
    dark_at, seen = (edges[1:] + edges[:-1]) / 2, missing[wide].sum(axis=0)
    cover = np.linspace(0, MOST_COVER, 256)[:, None]
    ink = np.full(3, deep)
    for _ in range(HUE_STEPS):
        mixed = 1 - np.sqrt(np.maximum(1 - cover * (1 - (1 - ink) ** 2), 0))
        expected = [
            count @ np.interp(dark_at, mixed @ LUMA, mixed[:, channel]) for channel in range(3)
        ]
        ink = ink * seen / np.maximum(expected, 1e-9)
        ink = np.clip(ink * deep / max(float(ink @ LUMA), 1e-9), 0, 1)
    return np.asarray((1 - ink) ** 2)


LUMA = np.array([0.299, 0.587, 0.114])
"""Weights of red, green and blue in lightness (ITU-R BT.601), as in a JPEG."""

MOST_COVER, HUE_STEPS = 1.2, 3
"""Pixels darker than the ink count as covered more than whole, up to so much; after so many steps
linear light is within 0.001 of where it ends."""

FRINGE_PX, DEEPEST = 4, 0.6
"""Pixels beside a stroke over which its colour is spread; the quantile of the darkness of crests
that is neither lightened by blur nor darkened by grain: in thin strokes of felt-pen and biro of the
rendered scenes it is off by CIE L* 1.6 at most and by -0.5 on the mean, in five held-out scenes of
biro by 2.5 at most."""
