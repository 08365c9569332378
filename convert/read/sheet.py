"""A sheet of paper photographed on a table: found, straightened, evenly lit, its paper white.

1. *Photograph*: on the ground of a drawing made on a screen the light is the same everywhere, but
   for the noise of a file; under a lamp it never is. Only photographs and scans are looked at.
2. *Sheet*: the best quadrilateral that edges suggest (`sheet_sides`) with paper inside, or else the
   whole photograph if it is paper that something is drawn on.
3. *Straight*: the homography of its corners; its proportions follow from the perspective.
4. *Light*: paper is white whatever the lamp, shadows are gone (`sheet_light`).
5. *Inks*: strokes of wax and lead become areas of one colour (`inks`).

`tests/benchmarks/photographed.py` measures all of it on rendered scenes.
"""

from __future__ import annotations

from dataclasses import replace
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Float32Array, Floats
from ...core.errors import WrongUsage
from ...core.findings import Code, Finding, Remedy
from ...core.srgb import box_mean
from .inks import LUMA, in_inks
from .lighting import shifted, to_tones
from .picture import MOST_PX, Picture, read_picture
from .sheet_light import BARE_MARGIN, LIGHT_PX, drawing_on, evenly_lit, margin_share
from .sheet_sides import area, candidates, clockwise, convex

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    Corners = Sequence[tuple[float, float]]


def is_photograph(linear: Float32Array) -> bool:
    """Whether the light on its ground changes from place to place, as it does under any lamp.

    The ground is the commonest colour of tiles nearly as smooth as the smoothest tenth, but for
    black and white that are cut off. The noise of a file leaves each tile by itself; where light
    changes, neighbours go together.
    """
    tones = to_tones(linear).astype(np.float32)
    colour = box_mean(tones, DRIFT_PX)
    light = colour @ LUMA
    noise = box_mean((tones @ LUMA)[..., None] ** 2, DRIFT_PX)[..., 0] - light**2
    known = (colour.min(axis=-1) < 252) & (colour.max(axis=-1) > 3)
    if not known.any():
        return False
    smooth = known & (noise <= 2 * np.quantile(noise[known], 0.1) + 1)
    step = np.rint(colour[smooth] / NEARLY)
    steps, often = np.unique(step, axis=0, return_counts=True)
    ground = np.abs(colour - NEARLY * steps[np.argmax(often)]).max(axis=-1) <= NEARLY
    ground &= smooth
    apart = light - light[ground].mean()
    together = [
        (apart[less] * apart[more])[ground[less] & ground[more]]
        for less, more in (shifted(axis) for axis in (0, 1))
    ]
    both = np.concatenate(together)
    left = noise[ground].mean() / DRIFT_PX**2  # of the noise in the mean of a tile
    return bool(len(both) and both.mean() > left + LEAST_DRIFT)


DRIFT_PX, NEARLY = 16, 4
"""Side of a tile, in pixels: what JPEG codes together (8 or, for colour, 16) lies within one; how
far tiles of the ground are from the commonest, in tones."""

LEAST_DRIFT = 0.1
"""Covariance of neighbouring tiles of the ground, in tones squared, beyond the variance that noise
leaves in each: drawings have up to 0.06 with noise and JPEG, rendered photographs and scans 0.4 and
more."""

FOUND = 0.6
"""Score from which a quadrilateral with a bare margin is a sheet, see `candidates`: sheets in the
rendered scenes have 0.7 and more, photographs of other things up to 0.35, a brick wall 0.57."""

LARGER = 0.4
"""Weight of the size of a sheet, in parts of the photograph's: what lies within it is bare all
round, too. Without it a sheet on checks with a folded corner is lost."""

BARE_WEIGHT = 4.0
"""Weight of what of the margin of a sheet is not paper: of a strip of the table there is little in
the margin."""

MOST_UNSEEN = 0.5
"""How much of a sheet whose corners are given may be out of the frame; a choice of this project."""

TRIMMED = 0.012
"""Cut off all round, in parts of the longer side: the table beside an edge that is not straight."""


def read_drawing(
    source: str | Path | bytes, name: str | None = None, corners_px: Corners | None = None
) -> Picture:
    """Read a picture file; of a photographed sheet what is drawn on it.

    Parameters
    ----------
    source : str, Path or bytes
        As for `read_picture`.
    name : str, optional
    corners_px : four of (float, float), optional
        Corners of the sheet in the photograph, pixels from its top left corner; none of them if it
        is no sheet; found if left out.

    Raises
    ------
    HimotifError
        If there is no such picture, or the corners lie in no photograph of a sheet.
    """
    return drawing_of(read_picture(source, name), corners_px)


def drawing_of(picture: Picture, corners_px: Corners | None = None) -> Picture:
    """Return the drawing on a photographed sheet; the picture itself where none is found."""
    if corners_px is not None:
        if not corners_px:
            return picture
        corners = (clockwise(np.array(corners_px, dtype=np.float64))) * picture.scale - 0.5
        if not convex(corners[None])[0]:
            raise WrongUsage(
                "these are no corners of a sheet: give four, one after the other round it.",
                "paper_corners",
            )
        flat = _trimmed(straightened(picture.linear, corners))
        if np.isnan(flat).any(axis=-1).mean() > MOST_UNSEEN:
            raise WrongUsage(
                "most of this sheet lies outside the photograph: give its corners in pixels from "
                "the top left.",
                "paper_corners",
            )
        return _taken(picture, corners, _plainly_lit(flat))
    if (picture.alpha < 1).any() or min(picture.alpha.shape) < LEAST_SHEET_PX:
        return picture
    if not is_photograph(picture.linear):
        return picture
    for corners in _bare(picture):
        drawn = evenly_lit(_trimmed(straightened(picture.linear, corners)))
        if drawn is not None:
            return _taken(picture, corners, drawn)
    drawn = drawing_on(picture.linear)
    if drawn is None:
        return picture
    high, wide = picture.alpha.shape
    return _taken(picture, np.array([[0, 0], [wide, 0], [wide, high], [0, high]]) - 0.5, drawn)


def _bare(picture: Picture) -> Iterator[Floats]:
    """Yield quadrilaterals that may be the sheet, their margins bare, the best first."""
    size = np.sqrt(picture.alpha.size)
    # scores with the best margin there may be, until it is measured
    left = [
        (-score - LARGER * np.sqrt(area(corners)) / size, number, False, corners)
        for number, (score, corners) in enumerate(candidates(picture.linear))
        if score >= FOUND
    ]
    heapify(left)
    while left:
        worth, number, measured, corners = heappop(left)
        if measured:
            yield corners
            continue
        margin = _margin(picture.linear, corners)
        if margin >= BARE_MARGIN:
            heappush(left, (worth + BARE_WEIGHT * (1 - margin), number, True, corners))


def _margin(linear: Float32Array, corners: Floats) -> float:
    """How much of the margin of a quadrilateral is paper."""
    return margin_share(_trimmed(straightened(linear, corners, LIGHT_PX)))


def _trimmed(flat: Float32Array) -> Float32Array:
    edge = max(1, round(TRIMMED * max(flat.shape[:2])))
    return flat[edge:-edge, edge:-edge]


def _plainly_lit(flat: Float32Array) -> Float32Array:
    """The sheet in even light, or, where that cannot be found, as bright as its brightest tenth."""
    drawn = evenly_lit(flat)
    if drawn is not None:
        return drawn
    white = np.nanquantile(flat, 0.9, axis=(0, 1))
    return np.asarray(np.clip(np.nan_to_num(flat / white, nan=1.0), 0, 1), dtype=np.float32)


def _taken(picture: Picture, corners: Floats, drawn: Float32Array) -> Picture:
    """The drawing as a picture, with what was found."""
    linear = in_inks(drawn)
    high, wide = linear.shape[:2]
    at = ((corners + 0.5) / picture.scale).round().astype(int).tolist()
    said = Finding(
        Code.SHEET_FOUND, {"file": picture.name, "corners_px": at}, (Remedy("paper_corners", None),)
    )
    return replace(
        picture,
        size_px=(wide, high),
        linear=linear,
        alpha=np.ones((high, wide), dtype=np.float32),
        scale=1.0,
        findings=(*picture.findings, said),
        from_sheet=True,
    )


LEAST_SHEET_PX = 200
"""Shorter side of the smallest photograph of a sheet that shows more than its edges."""


# -- straight --------------------------------------------------------------------------------------


def proportions(corners: Floats, size: tuple[int, int]) -> float:
    """Return how many times as wide as high a sheet is (Zhang & He 2007, equations 11 to 21).

    The focal length is the likeliest of what makes the sheet's corners square, as well as corners
    can be seen, and of what a telephone has.

    Parameters
    ----------
    corners : (4, 2) float
        Clockwise from the top left, in pixels.
    size : (int, int)
        Width and height of the photograph: its optical axis meets its middle.
    """
    long = max(size)
    at = (corners - np.array(size) / 2) / long
    focal = np.geomspace(*FOCAL_RANGE, 400)
    skew = _skew(at, focal)[0]
    moved = np.zeros_like(focal)
    for place in range(8):
        by = np.zeros(8)
        by[place] = SEEN_TO
        moved += (_skew(at + by.reshape(4, 2), focal)[0] - skew) ** 2
    unlikely = skew**2 / np.maximum(moved, 1e-12) + (np.log(focal / FOCAL) / FOCAL_SPREAD) ** 2
    return float(_skew(at, focal)[1][np.argmin(unlikely)])


def _skew(at: Floats, focal: Floats) -> tuple[Floats, Floats]:
    """Cosine of the angle at a sheet's corner, and its proportions, for focal lengths (n,)."""
    m1, m2, m4, m3 = np.c_[at, np.ones(4)]
    k2 = (np.cross(m1, m4) @ m3) / (np.cross(m2, m4) @ m3)
    k3 = (np.cross(m1, m4) @ m2) / (np.cross(m3, m4) @ m2)
    across, down = (
        np.stack([side[0] / focal, side[1] / focal, np.full_like(focal, side[2])])
        for side in (k2 * m2 - m1, k3 * m3 - m1)
    )
    wide, high = np.linalg.norm(across, axis=0), np.linalg.norm(down, axis=0)
    return (across * down).sum(axis=0) / (wide * high), wide / high


FOCAL, FOCAL_SPREAD, FOCAL_RANGE = 0.75, 0.25, (0.5, 3.0)
"""Focal length in longer sides of the picture: a telephone's 27 mm of 36 mm film, how far others
are from it, in natural logarithms, the least and the most; from memory."""

SEEN_TO = 0.002
"""How well corners are seen, in longer sides of the picture."""


def straightened(linear: Float32Array, corners: Floats, most_px: int = MOST_PX) -> Float32Array:
    """Return the sheet seen from above, (h, w, 3), not a number where it was not in the frame.

    Parameters
    ----------
    linear : (H, W, 3) float32
    corners : (4, 2) float
        Clockwise from the top left, in pixels.
    most_px : int
        Longest side of what is returned.
    """
    from skimage.transform import ProjectiveTransform, warp

    high, wide = linear.shape[:2]
    ratio = proportions(corners, (wide, high))
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    tall = min(max(sides[1], sides[3], max(sides[0], sides[2]) / ratio), most_px)
    tall = min(tall, most_px / ratio)
    size = np.array([max(8, round(tall * ratio)), max(8, round(tall))])
    ends = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size - 0.5
    seen = ProjectiveTransform(_homography(ends, corners))
    flat = warp(linear, seen, output_shape=tuple(size[::-1]), order=1, cval=np.nan)
    return np.asarray(flat, dtype=np.float32)


def _homography(ends: Floats, corners: Floats) -> Floats:
    """The homography (3, 3) from four points to four others."""
    rows = []
    for (x, y), (u, v) in zip(ends, corners, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    found = np.linalg.solve(np.array(rows), corners.ravel())
    return np.append(found, 1.0).reshape(3, 3)
