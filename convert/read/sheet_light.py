"""The light on a straightened sheet of paper, and the sheet without it.

Paper is what can be reached from the margin without crossing an edge, on either side of a shadow's.
Elsewhere the light is filled in: it solves Laplace's equation, with less conductance across the
edges of what is drawn (as in Grady, "Random walks for image segmentation", IEEE Trans. Pattern
Anal. Mach. Intell. 28 (2006) 1768-1783). Divided by it, paper is white whatever the lamp.
"""

from __future__ import annotations

import numpy as np

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.srgb import box_mean
from .source import enlarged

LIGHT_PX = 256
"""The longest side, in pixels, of the picture in which the light is measured."""

DARKEST = 0.004
"""Linear light, added before logarithms: about one step of eight bits in the dark."""


def log_light(linear: Float32Array) -> Floats:
    """Return logarithms of linear light, which shadows shift alike everywhere."""
    return np.asarray(np.log(linear.astype(np.float64) + DARKEST))


def evenly_lit(flat: Float32Array) -> Float32Array | None:
    """Return what is drawn on a straightened sheet, white where it is bare.

    Parameters
    ----------
    flat : (h, w, 3) float32
        Not a number where nothing was seen.

    Returns
    -------
    (h, w, 3) float32 or None
        Linear, paper 1; None if it does not look like a sheet of paper.
    """
    times = max(1, -(-max(flat.shape[:2]) // LIGHT_PX))
    small = box_mean(flat, times)
    blind: Bools = np.asarray(np.isnan(small).any(axis=-1))
    logs = log_light(np.nan_to_num(small))
    paper = _paper(logs, blind)
    if paper is None or paper.mean() < LEAST_PAPER:
        return None
    drawn = ~paper & ~blind
    light = _light_everywhere(logs, paper, drawn | blind)
    return _divided(flat, light, times)


LEAST_PAPER = 0.3
"""Share of a sheet that is bare and reached from its margin."""

STEP = 0.05
"""Of an edge, in the logarithm of light from one pixel to the next; grain moves it up."""

SHADOW, TINGE = 1.7, 0.45
"""How far paper may be darker than most of it, in logarithms of light, and of another colour, in
those of ratios: deep shadow, filled by a blue sky, beside the light of a warm lamp; from memory."""


def margin_share(flat: Float32Array) -> float:
    """Return how much of the margin of a straightened sheet looks like paper, 0..1.

    Parameters
    ----------
    flat : (h, w, 3) float32
        Not a number where nothing was seen; reduced, see `LIGHT_PX`.
    """
    from scipy import ndimage

    blind: Bools = np.asarray(np.isnan(flat).any(axis=-1))
    paper = _paper(log_light(np.nan_to_num(flat)), blind)
    if paper is None:
        return 0.0
    # where a sheet reaches out of the photograph the frame is its side
    seen = np.pad(~blind, 1)
    rim = ndimage.distance_transform_edt(seen)[1:-1, 1:-1] <= _rim_px(blind.shape)
    rim &= ~blind & ~_missing_corners(paper)
    return float(paper[rim].mean()) if rim.any() else 0.0


def _missing_corners(paper: Bools) -> Bools:
    """What is no paper at a corner of a sheet and ends before the next: folded over, torn off."""
    from scipy import ndimage

    pieces, _ = ndimage.label(~paper)
    missing = np.zeros_like(paper)
    for by_row, by_column in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        turned = pieces[::by_row, ::by_column]
        if turned[0, 0]:
            rows, columns = np.nonzero(turned == turned[0, 0])
            if max(rows.max() / len(turned), columns.max() / turned.shape[1]) < MOST_MISSING:
                missing |= pieces == turned[0, 0]
    return missing


MOST_MISSING = 0.5
"""Part of a side that may be missing at a corner: beyond the middle it is the side that is not on
the edge of the sheet."""


def drawing_on(linear: Float32Array) -> Float32Array | None:
    """Return what is drawn on paper that fills a photograph, white where it is bare.

    Paper is smooth, white under some lamp, and bare at the margin; ink makes it darker, nothing
    makes it lighter. Gradients have no ink; gravel and wood are not smooth; of other things in
    front of an even ground a part is lighter than it.

    Parameters
    ----------
    linear : (h, w, 3) float32

    Returns
    -------
    (h, w, 3) float32 or None
        Linear, paper 1; None if it is no such photograph.
    """
    times = max(1, -(-max(linear.shape[:2]) // LIGHT_PX))
    logs = log_light(box_mean(linear, times))
    paper = _paper(logs, np.zeros(logs.shape[:2], dtype=bool))
    if paper is None or paper.mean() < LEAST_PAPER:
        return None
    bare = float(paper[_margin(paper.shape)].mean()) >= BARE_MARGIN
    white = np.ptp(np.median(logs[paper], axis=0)) < LAMP
    if not (bare and white and np.median(_steepness(_soft(logs))) < SMOOTH_STEP):
        return None
    light = _light_everywhere(logs, paper, ~paper)
    apart = logs - light
    ink = float((apart.min(axis=-1) < -CLEARLY).mean())
    lighter = float((apart.mean(axis=-1) > 2 * STEP).mean())
    if ink < LEAST_INK or lighter > MOST_LIGHTER * ink:
        return None
    return _divided(linear, light, times)


BARE_MARGIN = 0.9
"""How much of the margin of a sheet is paper, at least."""

LAMP = 0.85
"""How far a lamp tinges paper, in logarithms of ratios of light: white under one of 2700 K that is
not balanced out has 0.46 times as much blue as red, paper that is not quite white 0.94 times as
much as that; from memory."""

SMOOTH_STEP = 0.02
"""Of light, in logarithms, from one pixel to the next on half of the paper: in rendered photographs
it is 0.003 to 0.010, with gravel, grass, cloth and dark wood 0.03 and more."""

CLEARLY, LEAST_INK, MOST_LIGHTER = 0.3, 0.01, 0.2
"""How much darker ink is in one channel, in logarithms of light; the share of a photograph that is
ink; how much of it, in parts of that, may be lighter than paper. In rendered photographs up to 0.07
is, in one of the moon's craters 0.6."""


def _margin(shape: tuple[int, ...]) -> Bools:
    """A narrow frame."""
    margin = np.ones(shape, dtype=bool)
    rim = _rim_px(shape)
    margin[rim:-rim, rim:-rim] = False
    return margin


def _rim_px(shape: tuple[int, ...]) -> int:
    """Width of the margin of a sheet."""
    return max(2, round(0.03 * max(shape)))


def _paper(logs: Floats, blind: Bools) -> Bools | None:
    """What can be reached from the margin of a sheet without crossing an edge."""
    from scipy import ndimage

    soft = _soft(logs)
    steep = _steepness(soft)
    even = ~blind & (steep < max(STEP, 3 * float(np.median(steep[~blind]))))
    pieces, count = ndimage.label(even)
    if not count:
        return None
    margin = _margin(even.shape)
    at_margin = np.bincount(pieces[margin & even], minlength=count + 1)
    at_margin[0] = 0
    main = int(np.argmax(at_margin))
    usual = np.median(soft[pieces == main], axis=0)
    found = np.zeros_like(even)
    for piece in np.flatnonzero(at_margin >= 0.01 * margin.sum()):
        own = np.median(soft[pieces == piece], axis=0) - usual
        if abs(own.mean()) < SHADOW and np.ptp(own) < TINGE:
            found |= pieces == piece
    found = _shut_in(soft, pieces, found, pieces == main)
    return _over_shadow_edges(soft, found, blind)


def _soft(logs: Floats) -> Floats:
    from scipy import ndimage

    return np.asarray(ndimage.median_filter(logs, size=(3, 3, 1), mode="nearest"))


def _steepness(soft: Floats) -> Floats:
    """The largest step from each pixel to its four neighbours, (h, w), of any channel."""
    steep = np.zeros(soft.shape[:2])
    for axis, less, more in ((0, np.s_[:-1], np.s_[1:]), (1, np.s_[:, :-1], np.s_[:, 1:])):
        step = np.abs(np.diff(soft, axis=axis)).max(axis=-1)
        steep[less] = np.maximum(steep[less], step)
        steep[more] = np.maximum(steep[more], step)
    return steep


def _shut_in(soft: Floats, pieces: Ints, found: Bools, main: Bools) -> Bools:
    """Paper, with what of it is shut in by strokes and edges of shadows.

    That is as bright, beside the main part of it, as that part or another one at the margin.
    """
    from scipy import ndimage

    nearest = ndimage.distance_transform_edt(~main, return_distances=False, return_indices=True)
    apart = soft - soft[tuple(nearest)]
    every = np.unique(pieces[pieces > 0])
    size = np.bincount(pieces.ravel())
    medians = {k: np.median(apart[pieces == k], axis=0) for k in every if size[k] >= LEAST_PIECE_PX}
    known = np.array([at for k, at in medians.items() if found[pieces == k].any()])
    for k, at in medians.items():
        if (np.abs(known - at).max(axis=1) < SAME_SHADOW).any():
            found = found | (pieces == k)
    return found


LEAST_PIECE_PX = 6
"""Pixels, of the picture in which the light is measured, that tell how bright a piece of it is."""

SAME_SHADOW = 0.1
"""How far parts of the sheet in one shadow may differ, in logarithms of light."""


def _over_shadow_edges(soft: Floats, paper: Bools, blind: Bools) -> Bools:
    """Paper, and what lies between paper in the light and paper in the shadow beside it."""
    from scipy import ndimage

    for _ in range(2):
        low = ndimage.minimum_filter(np.where(paper[..., None], soft, np.inf), size=(7, 7, 1))
        high = ndimage.maximum_filter(np.where(paper[..., None], soft, -np.inf), size=(7, 7, 1))
        between = ((soft >= low - STEP) & (soft <= high + STEP)).all(axis=-1)
        paper = paper | (between & ~blind)
    return paper


def _light_everywhere(logs: Floats, paper: Bools, unknown: Bools) -> Floats:
    """Logarithm of the light on paper, filled in where something is drawn.

    Laplace's equation on the pixels that are not paper. Between two of them conductance falls with
    the step from one to the other, so that the edge of a shadow across a motif stays one.
    """
    from scipy import ndimage, sparse
    from scipy.sparse.linalg import spsolve
    from skimage.restoration import denoise_tv_chambolle

    if not unknown.any():
        return logs
    smooth = denoise_tv_chambolle(logs, weight=0.2, max_num_iter=60, channel_axis=-1)
    # the soft edge of a stroke is no edge of a shadow
    rim = ndimage.distance_transform_edt(~paper) <= SOFT_EDGE_PX
    number = np.full(paper.shape, -1)
    number[unknown] = np.arange(unknown.sum())
    count = int(unknown.sum())
    diagonal, right = np.full(count, 1e-9), np.zeros((count, 3))
    rows, columns, values = [], [], []
    for less, more in ((np.s_[:-1], np.s_[1:]), (np.s_[:, :-1], np.s_[:, 1:])):
        step = np.abs(smooth[less] - smooth[more]).max(axis=-1)
        for a, b in ((less, more), (more, less)):
            here, there = number[a], number[b]
            both = (here >= 0) & (there >= 0)
            across = np.where(rim[a][both] | rim[b][both], 0.0, step[both])
            weight = np.maximum(np.exp(-((across / STEP) ** 2)), 1e-4)
            np.add.at(diagonal, here[both], weight)
            rows.append(here[both])
            columns.append(there[both])
            values.append(-weight)
            beside = (here >= 0) & paper[b]
            np.add.at(diagonal, here[beside], 1.0)
            np.add.at(right, here[beside], logs[b][beside])
    system = sparse.csc_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), (count, count)
    ) + sparse.diags(diagonal, format="csc")
    light = logs.copy()
    light[unknown] = spsolve(system, right)
    return light


SOFT_EDGE_PX = 2.5
"""Between bare paper and the middle of a stroke's edge."""


def _divided(flat: Float32Array, light: Floats, times: int) -> Float32Array:
    """The sheet divided by its light; what is within the light of bare paper near by is white."""
    from scipy import ndimage

    shape = flat.shape[:2]
    seen = np.nan_to_num(flat)
    soft = ndimage.uniform_filter(seen, size=(3, 3, 1))
    bare = np.isnan(flat).any(axis=-1)
    low, high = (
        np.exp(found(light, size=(3, 3, 1)) + by).astype(np.float32) - np.float32(DARKEST)
        for found, by in ((ndimage.minimum_filter, -2 * STEP), (ndimage.maximum_filter, 2 * STEP))
    )
    inside = soft >= enlarged(low, times, shape)
    inside &= soft <= enlarged(high, times, shape)
    bare |= inside.all(axis=-1)
    lit = np.maximum(np.exp(light) - DARKEST, DARKEST).astype(np.float32)
    at = (np.indices(shape, dtype=np.float32) + np.float32(0.5)) / times - np.float32(0.5)
    part = seen
    for channel in range(3):
        part[..., channel] /= ndimage.map_coordinates(
            lit[..., channel], at, order=1, mode="nearest"
        )
    np.clip(part, 0, 1, out=part)
    part[bare | _torn(bare)] = 1
    return part


def _torn(bare: Bools) -> Bools:
    """What is seen where a corner of the sheet is missing or hidden."""
    from scipy import ndimage

    pieces, _ = ndimage.label(~bare)
    ends = pieces[[0, 0, -1, -1], [0, -1, 0, -1]]
    return np.asarray(np.isin(pieces, ends[ends > 0]))
