"""Which beads may stand for the colours of a sketch, and which one is its ground."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Float32Array, Ints
from ...palette import linear_lab
from ..read import Sketch, ink_labels, is_paper, match_linear
from .features import SPECK

if TYPE_CHECKING:
    from ...core.design import SketchKind
    from ...palette import Palette
    from ..options import Order
    from ..read import Picture


DROP_TWIN_DE00 = 10.0
"""CIEDE2000; a drop is not chosen by mere colour where a round bead is this near to it."""


@dataclass(frozen=True, eq=False)
class BeadChoice:
    """The beads that a sketch may be worked in; all numbers are places in the whole palette.

    Parameters
    ----------
    palette : Palette
    by_colour : (n,) int
        Beads that may be chosen by their colour, ascending.
    usable : (k,) int
        Those of them that are used, ascending; all of them unless few are asked for.
    ground : int
    left_out : tuple of int
        Drop beads that are not chosen by colour and that nobody asked for.
    """

    palette: Palette
    by_colour: Ints
    usable: Ints
    ground: int
    left_out: tuple[int, ...]

    def nearest_beads(self, linear: npt.NDArray[Any]) -> Ints:
        """Return the nearest of the beads that are used, by colour, for linear colours (k, 3)."""
        return self.usable[match_linear(linear, self.palette.subset(self.usable))]


def choose_inks(
    sketch: Sketch,
    picture: Picture,
    palette: Palette,
    order: Order,
    ground: int | None = None,
) -> BeadChoice:
    """Decide once which beads may be used and which one is the ground.

    Parameters
    ----------
    sketch : Sketch
        Of the picture.
    picture : Picture
    palette : Palette
    order : Order
        `background`, `keep`, `most` and `scatter` count.
    ground : int, optional
        Place in the palette, if it is known: found with the margins that are cut off by now.
    """
    asked = {*order.keep, *([order.background] if order.background else [])}
    by_colour = np.array(beads_by_colour(palette, sketch.kind, asked), dtype=np.intp)
    if ground is None:
        ground = _ground(sketch, picture, palette, order.background)
    by_colour = np.union1d(by_colour, [ground])
    left_out = tuple(
        place
        for place, bead in enumerate(palette.beads)
        if place not in by_colour and bead.code not in order.scatter
    )
    usable = _usable(sketch, palette, by_colour, ground, order)
    return BeadChoice(palette, by_colour, usable, ground, left_out)


def bead_labels(sketch: Sketch, choice: BeadChoice) -> Ints:
    """Return the bead that stands for each pixel of a flat sketch, (h, w): places in the palette.

    Parameters
    ----------
    sketch : Sketch
        A flat one.
    choice : BeadChoice
    """
    planes = sketch.source.planes
    matched = choice.nearest_beads(sketch.colours.linear)
    beads, ink = np.unique(np.append(matched, choice.ground), return_inverse=True)
    shares = np.zeros((*planes.shape[:2], len(beads)), dtype=np.float32)
    for colour, number in enumerate(ink[:-1]):
        shares[..., number] += planes[..., 4 + colour]
    labels = beads[ink_labels(shares, planes[..., 3], int(ink[-1]))]
    return _without_specks(labels, choice.ground)


def _without_specks(labels: Ints, ground: int) -> Ints:
    """Labels without dust: what is far smaller than the largest thing that is drawn."""
    from scipy import ndimage

    pieces, count = ndimage.label(labels != ground, np.ones((3, 3)))
    if not count:
        return labels
    size = np.bincount(pieces.ravel())
    size[0] = size[1:].max()
    return np.where(size[pieces] < SPECK * size[0], ground, labels)


def beads_by_colour(palette: Palette, kind: SketchKind, asked: Collection[str]) -> list[int]:
    """Return the places of the beads that may be chosen by their colour alone.

    A drop bead stands out of the braid. It is used for a flat colour that no round bead has;
    otherwise, and in shaded pictures, it is left to the maker to ask for it.

    Parameters
    ----------
    palette : Palette
    kind : 'flat' or 'shaded'
        Of the picture.
    asked : collection of str
        Codes that she asks for.
    """
    from ...palette import ciede2000_matrix

    drop = _drops(palette)
    if drop.all() or not drop.any():
        return list(range(len(palette)))
    alone = ciede2000_matrix(palette.lab, palette.lab[~drop]).min(axis=1) > DROP_TWIN_DE00
    return [
        place
        for place, bead in enumerate(palette.beads)
        if not drop[place] or (alone[place] and kind == "flat") or bead.code in asked
    ]


def _drops(palette: Palette) -> Bools:
    return np.array([bead.shape == "drop" for bead in palette.beads])


def _usable(sketch: Sketch, palette: Palette, by_colour: Ints, ground: int, order: Order) -> Ints:
    """Places of the beads that may be used, ascending."""
    from ...palette import choose_beads, grey_beads

    few = by_colour
    if sketch.kind == "flat" and order.most is None:
        return few
    keep = tuple(dict.fromkeys((palette.codes[ground], *order.keep)))
    lab, weights = colours_of(sketch)
    if sketch.kind == "shaded" and _colourless(lab):
        few = few[grey_beads(palette.subset(few), keep)]
    if order.most is None:
        return few
    return few[choose_beads(lab, palette.subset(few), order.most, weights, keep)]


def colours_of(sketch: Sketch) -> tuple[Float32Array, Float32Array]:
    """Return the colours of a sketch, Lab (k, 3), and how much each counts (k,)."""
    if sketch.kind == "flat":
        return sketch.colours.lab, np.sqrt(sketch.colours.share)
    planes = sketch.source.reduced(max(sketch.source.planes.shape[:2]) / 24).planes
    solid = planes[..., 3] >= 0.5
    lab = linear_lab(planes[solid][:, :3] / planes[solid][:, 3:4])
    return lab, np.ones(len(lab), np.float32)


def _colourless(lab: Float32Array) -> bool:
    """Whether a picture is but light and dark; paper and lamps may make it yellowish."""
    if not len(lab):
        return False
    across, yellow = np.median(lab[:, 1:], axis=0)
    apart = np.hypot(lab[:, 1] - across, lab[:, 2] - yellow)
    return bool(abs(across) < 8 and -6 < yellow < 22 and np.quantile(apart, 0.995) < 12)


# -- the ground --------------------------------------------------------------------------------


MUCH_OF_BORDER, OFTEN = 0.2, 0.6
"""What has less of the border than this is no ground, nor what there is less of in all, in parts
of the commonest that has as much."""

SOME_OF_BORDER = 0.1
"""What is nothing or paper may have as little of it; a letter E tight to its frame leaves 0.18."""


def _ground(sketch: Sketch, picture: Picture, palette: Palette, code: str | None) -> int:
    """The ground's bead; one of drops would cover the skin side, too: only on her word."""
    if code is not None:
        return palette.index(code)
    drop = _drops(palette)
    may = np.arange(len(palette)) if drop.all() else np.flatnonzero(~drop)
    return int(may[background_index(sketch, picture, palette.subset(may))])


def background_index(sketch: Sketch, picture: Picture, palette: Palette) -> int:
    """Return the bead nearest to the picture's border.

    A motif drawn tight to its frame owns much of the border: of the colours that make up a fifth of
    it the commonest in the whole picture counts, and of nearly equal ones the lightest, as paper
    is mostly lighter than what is drawn on it.

    Where the border is transparent, the lightest bead that stands off from the motif.

    Parameters
    ----------
    sketch : Sketch
        Of the picture, of its own kind.
    picture : Picture
    palette : Palette
    """
    alpha = picture.alpha
    edge = np.zeros(alpha.shape, dtype=bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    solid = edge & (alpha >= 0.5)
    if solid.sum() >= 0.5 * edge.sum():
        if sketch.kind == "flat":
            tone = sketch.colours.linear[_flat_ground(sketch)]
        else:
            tone = _shaded_ground(picture, solid)
        return int(match_linear(tone[None], palette)[0])
    light = np.argsort(-palette.lab[:, 0], kind="stable")
    inside = picture.linear[alpha >= 0.5]
    if not len(inside):
        return int(light[0])
    step = max(1, len(inside) // 5000)
    apart = np.linalg.norm(linear_lab(inside[::step])[:, None] - palette.lab[None], axis=-1)
    # a twentieth of the motif may come near it, or a speck of white would rule white out
    stands_off = np.quantile(apart, 0.05, axis=0)
    clear = light[stands_off[light] >= 20.0]
    return int(clear[0] if len(clear) else np.argmax(stands_off))


def _flat_ground(sketch: Sketch) -> int:
    """Place of the flat colour that the ground of a sketch is."""
    everywhere = sketch.source.planes[..., 4:].sum(axis=(0, 1))
    return _likely_ground(sketch.at_edge, everywhere, sketch.colours.linear)


def ground_to_replace(sketch: Sketch, choice: BeadChoice) -> int | None:
    """Return the flat colour that is the ground of a sketch and would get another bead.

    Returns
    -------
    int or None
        None where the ground has that bead by its colour or is transparent, and where there is
        none: what has less than half of the border and is no paper may be a motif that touches
        its frame.
    """
    edge = sketch.at_edge
    if sketch.kind != "flat" or not edge.size:
        return None
    own = _flat_ground(sketch)
    area = sketch.source.planes[..., 4:].mean(axis=(0, 1))
    if 1 - edge.sum() >= SOME_OF_BORDER and 1 - area.sum() >= OFTEN * area[own]:
        return None
    paper = np.array([is_paper(lab) for lab in sketch.colours.lab])
    may = (edge > 0.5) | paper
    same = choice.nearest_beads(sketch.colours.linear) == choice.ground
    if not may[own] or (edge[may & same] >= SOME_OF_BORDER).any():
        return None
    return own


def _shaded_ground(picture: Picture, solid: Bools) -> Float32Array:
    """The same for a shaded picture, by its tones; `solid` is its border."""
    border = picture.linear[solid]
    tone, which, at_edge = np.unique(_tones(border), return_inverse=True, return_counts=True)
    step = max(1, max(picture.alpha.shape) // 300)
    thinned = _tones(picture.linear[::step, ::step][picture.alpha[::step, ::step] >= 0.5])
    place = np.minimum(np.searchsorted(tone, thinned), len(tone) - 1)
    everywhere = np.bincount(place[tone[place] == thinned], minlength=len(tone))
    sums = [np.bincount(which, border[:, channel]) for channel in range(3)]
    usual = (np.stack(sums, axis=1) / at_edge[:, None]).astype(np.float32)
    return np.asarray(usual[_likely_ground(at_edge, everywhere, usual)])


def _likely_ground(
    at_edge: npt.NDArray[Any], everywhere: npt.NDArray[Any], linear: Float32Array
) -> int:
    """Place of the colour that is the ground, by how much of the border and of all it has."""
    often = at_edge >= min(MUCH_OF_BORDER * at_edge.sum(), at_edge.max())
    usual = often & (everywhere >= OFTEN * everywhere[often].max())
    return int(np.argmax(np.where(usual, linear.sum(axis=1), -1)))


def _tones(linear: Float32Array) -> Ints:
    """Number the colours (..., 3) by tones that hardly differ."""
    steps = np.round(np.sqrt(linear) * 16).astype(np.intp)
    return np.asarray(steps @ np.array([1024, 32, 1]))
