"""From a picture to a design: place it, find where it reads best, give every bead its colour.

A motif that repeats is coloured once. Its tile is a whole number of the lattice's own returns to
the same face, so every repeat gets the same beads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from ..core.braid.lattice import FRONT_DEG, Lattice
from ..core.design.design import Design, Fit, PlacedPicture, Repeat, colours_rgb
from ..palette.colour import srgb_to_linear
from .fit import raster as sampling
from .fit.comparison import Likeness, bead_planes, linear_lab
from .fit.placement import Placement, fitting_width_mm, most_width_mm, turned_size
from .fit.search import Effort, Inks, Scene, seek
from .fit.strokes import Strokes, find_outlines, find_strokes
from .fit.tile import Tile, plan_tile
from .judge.judging import Judge, likeness_of
from .judge.notes import flat_notes, gain_note, kept_notes, shaded_notes, times_better, walk_notes
from .judge.verdict import UNRECOGNISED
from .read import sketch as colouring
from .read.flat_colours import Kind

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..palette.palette import Palette
    from .read.picture import Picture

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Pin = Literal["shift", "scale", "turn"]


@dataclass(frozen=True)
class ConvertOptions:
    """What the maker asked for.

    Parameters
    ----------
    rounds : int
        Beaded length, even.
    fit : 'wrap' or 'face'
    width_mm : float, optional
        Across the turned picture; half the circumference (wrap) or the front view (face) if None.
    rotate_deg : float
        Clockwise as seen.
    repeat : 'fill', 'once' or int
    gap_rounds : float
        At least this much between repeats.
    background : str, optional
        Code of the background bead; found from the picture if None.
    kind : 'flat' or 'shaded', optional
        Found from the picture if None.
    most : int, optional
        Use at most so many bead colours, the background among them.
    keep : tuple of str
        Codes that are among the `most` in any case.
    moved_mm : (float, float), optional
        Right and up from the middle, where the motif is to lie; pins its size and turn as well:
        who places it by hand means it as it lies.
    pin : tuple of 'shift', 'scale', 'turn'
        What the search leaves alone. A width that was asked for pins the scale.
    quick : bool
        A first look: a shorter search, for the shift only.
    seed : int
        Kept with the design; the conversion itself leaves nothing to chance.
    """

    rounds: int
    fit: Fit = "wrap"
    width_mm: float | None = None
    rotate_deg: float = 0.0
    repeat: int | Literal["fill", "once"] = "fill"
    gap_rounds: float = 1.0
    background: str | None = None
    kind: Kind | None = None
    most: int | None = None
    keep: tuple[str, ...] = ()
    moved_mm: tuple[float, float] | None = None
    pin: tuple[Pin, ...] = ()
    quick: bool = False
    seed: int = 0


@dataclass(frozen=True, eq=False)
class Conversion:
    """A design and how it came about.

    Parameters
    ----------
    design : Design
    placement : Placement
    drawn : Drawn
        One tile of the sketch as placed; the middle of the motif at x = 0.
    kind : 'flat' or 'shaded'
    found : Likeness
        Of this design.
    centred : Likeness, optional
        Of plain cell means centred on the front; not measured for a first look.
    moved_mm : (float, float)
        How far the search moved the motif: right, up.
    scale, turn_deg : float
        How much larger it made it, and how far it turned it clockwise.
    tile : Tile
    notes : tuple of str
    """

    design: Design
    placement: Placement
    drawn: sampling.Drawn
    kind: Kind
    found: Likeness
    centred: Likeness | None
    moved_mm: tuple[float, float]
    scale: float
    turn_deg: float
    tile: Tile
    notes: tuple[str, ...] = ()

    @property
    def owner(self) -> Ints:
        """Crossing (of the first repeat) that each pixel of the drawn sketch belongs to, (H, W)."""
        return self.drawn.raster.owner + self.tile.first

    def likeness(self, design: Design) -> Likeness:
        """Measure a design whose beads may have been changed since: its most changed motif."""
        linear = srgb_to_linear(colours_rgb(design))
        changed = (linear != srgb_to_linear(colours_rgb(self.design))).any(axis=1)
        number, place = self.tile.within(np.arange(len(linear)))
        own = (number >= 0) & (number < self.tile.count)
        if not changed[own].any():
            return self.found
        most = own & (number == np.bincount(number[own & changed]).argmax())
        ground = srgb_to_linear(np.array(design.palette[design.background].rgb, dtype=np.uint8))
        beads = np.repeat(ground[None], self.tile.beads, axis=0)
        beads[place[most]] = linear[most]
        return likeness_of(self.drawn, beads, ground)

    @property
    def unrecognised(self) -> str | None:
        """What the notes say if the motif can hardly be recognised."""
        return next((note for note in self.notes if note.startswith(UNRECOGNISED)), None)

    @property
    def gain(self) -> float | None:
        """How many times better than centred plain means it reads, if that was measured."""
        return None if self.centred is None else times_better(self.centred, self.found)


def convert_picture(
    picture: Picture,
    palette: Palette,
    lattice: Lattice,
    bead: BeadSize,
    options: ConvertOptions,
    settings: Mapping[str, Any] | None = None,
) -> Conversion:
    """Turn a picture into a design.

    Parameters
    ----------
    picture : Picture
    palette : Palette
    lattice : Lattice
    bead : BeadSize
    options : ConvertOptions
    settings : mapping, optional
        Written into the design.

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid, or a code is not in the palette.
    """
    turned = turned_size(picture.size_px, options.rotate_deg)
    px_per_mm = turned[0] / fitting_width_mm(options.width_mm, lattice, options.fit)
    size_mm = (turned[0] / px_per_mm, turned[1] / px_per_mm)
    right_mm, up_mm = options.moved_mm or (0.0, 0.0)
    tile = plan_tile(lattice, size_mm, options.rounds, options.repeat, options.gap_rounds, up_mm)
    sketch = colouring.read_sketch(picture, options.kind)
    background = background_index(picture, palette, options.background)
    # motifs that walk with a measured drift lie on both sides of the front alike
    ahead_deg = tile.shift.walk_deg * (tile.count - 1) / 2
    first_deg = float(FRONT_DEG - np.rad2deg(right_mm / lattice.radius_mm) - ahead_deg) % 360.0
    upright = Placement(
        options.fit,
        px_per_mm,
        options.rotate_deg,
        picture.size_px,
        lattice.radius_mm,
        first_deg,
        ((first_deg, tile.middle_mm),),
    )
    scene = _scene(sketch, palette, background, options, tile, upright)
    found = seek(scene, _effort(options, tile, size_mm))
    colours = scene.inks.bead[found.colours]
    placement = _repeated(found.placement(upright), tile)
    crossings = np.arange(options.rounds * lattice.braid.beads_per_round)
    azimuth, height = lattice.azimuth_deg(crossings), lattice.height_mm(crossings)
    # a tile closes on itself, the braid does not: nothing of a motif beyond its ends may show
    far = placement.margin_mm(azimuth, height) < -lattice.covering_radius_mm
    beads = np.where(far, background, colours[tile.within(crossings)[1]])
    design = Design(
        lattice,
        bead,
        palette.beads,
        beads,
        background,
        PlacedPicture(
            file=picture.name,
            sha256=picture.sha256,
            size_px=picture.size_px,
            fit=options.fit,
            px_per_mm=placement.px_per_mm,
            front_deg=(placement.front_deg + ahead_deg) % 360.0,
            where_px=placement.picture_px(azimuth, height),
            rotate_deg=placement.rotate_deg,
            centres=placement.centres,
        ),
        Repeat(tile.first, tile.shift.rounds, tile.shift.flip, tile.count)
        if tile.count > 1
        else None,
        settings or {},
    )
    colour = sampling.Source(sampling.coloured_planes(picture), picture.scale)
    judge = Judge(colour.reduced(px_per_mm / tile.fine_px_per_mm), palette, tile, background)
    drawn, after = judge.judged(placement, colours)
    before = None if options.quick else judge.plain(upright)
    put_mm = None if options.moved_mm is None else (options.moved_mm[0], tile.up_mm)
    gain = gain_note(found, before, after, put_mm)
    if sketch.kind == "flat":
        notes = flat_notes(scene, found, palette, None if options.quick else bead, gain)
    else:
        notes = [gain, *shaded_notes(scene, len(palette), options)]
    return Conversion(
        design,
        placement,
        drawn,
        sketch.kind,
        after,
        before,
        found.moved_mm,
        found.scale,
        found.turn_deg,
        tile,
        tuple(note for note in (*walk_notes(tile), *notes, *kept_notes(design, options)) if note),
    )


def background_index(picture: Picture, palette: Palette, code: str | None) -> int:
    """Return the background bead: the one asked for, or the one nearest to the picture's border.

    A motif drawn tight to its frame owns much of the border: of the colours that make up a fifth of
    it the commonest in the whole picture counts, and of nearly equal ones the lightest, as paper
    is mostly lighter than what is drawn on it.

    Where the border is transparent, the lightest bead that stands off from the motif.
    """
    if code is not None:
        return palette.index(code)
    alpha = picture.alpha
    edge = np.zeros(alpha.shape, dtype=bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    solid = edge & (alpha >= 0.5)
    if solid.sum() >= 0.5 * edge.sum():
        sketch = colouring.read_sketch(picture)
        tone = _plain_ground(sketch) if sketch.kind == "flat" else _shaded_ground(picture, solid)
        return int(colouring.match_linear(tone[None], palette)[0])
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


def _plain_ground(sketch: colouring.Sketch) -> npt.NDArray[np.float32]:
    """The plain colour of a flat sketch that its background is."""
    everywhere = sketch.source.planes[..., 4:].sum(axis=(0, 1))
    linear = sketch.colours.linear
    return np.asarray(linear[_likely_ground(sketch.at_edge, everywhere, linear)])


def _shaded_ground(picture: Picture, solid: npt.NDArray[np.bool_]) -> npt.NDArray[np.float32]:
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
    at_edge: npt.NDArray[Any], everywhere: npt.NDArray[Any], linear: npt.NDArray[np.float32]
) -> int:
    """Place of the colour that is the ground, by how much of the border and of all it has."""
    often = at_edge >= min(0.2 * at_edge.sum(), at_edge.max())
    usual = often & (everywhere >= 0.6 * everywhere[often].max())
    return int(np.argmax(np.where(usual, linear.sum(axis=1), -1)))


def _tones(linear: npt.NDArray[np.float32]) -> Ints:
    """Number the colours (..., 3) by tones that are hardly told apart."""
    steps = np.round(np.sqrt(linear) * 16).astype(np.intp)
    return np.asarray(steps @ np.array([1024, 32, 1]))


def _scene(
    sketch: colouring.Sketch,
    palette: Palette,
    background: int,
    options: ConvertOptions,
    tile: Tile,
    upright: Placement,
) -> Scene:
    """The sketch in terms of the beads that may be used, with its thin strokes."""
    px_per_pitch = upright.px_per_mm * tile.lattice.pitch_mm
    beads = srgb_to_linear(palette.rgb)
    bead = _allowed(sketch, palette, background, options)
    source = sketch.source.reduced(px_per_pitch / sampling.PX_PER_PITCH)
    planes, tones = source.planes, beads[bead]
    strokes, outlined = Strokes.none((1, 1), len(bead)), ()
    if sketch.kind == "flat":
        few = palette.subset(bead)
        matched = bead[colouring.match_linear(sketch.colours.linear, few)]
        bead, first, ink = np.unique(
            np.append(matched, background), return_index=True, return_inverse=True
        )
        tones = np.append(sketch.colours.linear, beads[[background]], axis=0)[first]
        shares = np.zeros((*planes.shape[:2], len(bead)), dtype=np.float32)
        for colour, number in enumerate(ink[:-1]):
            shares[..., number] += planes[..., 4 + colour]
        labels = colouring.ink_labels(shares, planes[..., 3], int(ink[-1]))
        scale_px = px_per_pitch * source.scale
        outline, without = find_outlines(labels, int(ink[-1]), scale_px)
        if outline.any():
            outlined = tuple(np.unique(labels[outline]).tolist())
            labels = without
            _leave_out(outline, labels, shares)
        strokes = find_strokes(labels, len(bead), int(ink[-1]), scale_px)
        planes = np.concatenate(
            [planes[..., :4], shares, strokes.lines, strokes.gaps[..., None]], axis=-1
        )
        source = replace(source, planes=planes)
    linear = beads[bead]
    ground = int(np.flatnonzero(bead == background)[0])
    inks = Inks(bead, bead_planes(linear), linear, linear_lab(linear), ground)
    return Scene(tile, upright, source, inks, beads[background], strokes, tones, beads, outlined)


def _leave_out(outline: npt.NDArray[np.bool_], labels: Ints, shares: npt.NDArray[Any]) -> None:
    """Give the shares of outlines, with their soft edges, to the colours beside them."""
    from scipy import ndimage

    soft = ndimage.binary_dilation(outline, np.ones((3, 3)), iterations=2)
    whole = shares[soft].sum(axis=-1)
    shares[soft] = 0
    shares[soft, labels[soft]] = whole


def _allowed(
    sketch: colouring.Sketch, palette: Palette, background: int, options: ConvertOptions
) -> Ints:
    """Places in the palette of the beads that may be used, ascending."""
    from ..palette.choose import choose_beads, grey_beads

    few = np.arange(len(palette))
    if sketch.kind == "flat" and options.most is None:
        return few
    keep = tuple(dict.fromkeys((palette.codes[background], *options.keep)))
    if sketch.kind == "flat":
        lab, weights = sketch.colours.lab, np.sqrt(sketch.colours.share)
    else:
        planes = sketch.source.reduced(max(sketch.source.planes.shape[:2]) / 24).planes
        solid = planes[..., 3] >= 0.5
        lab = linear_lab(planes[solid][:, :3] / planes[solid][:, 3:4])
        weights = np.ones(len(lab))
        if _colourless(lab):
            few = grey_beads(palette, keep)
    if options.most is None:
        return few
    return few[choose_beads(lab, palette.subset(few), options.most, weights, keep)]


def _colourless(lab: npt.NDArray[np.float32]) -> bool:
    """Whether a picture is but light and dark; paper and lamps may make it yellowish."""
    if not len(lab):
        return False
    across, yellow = np.median(lab[:, 1:], axis=0)
    apart = np.hypot(lab[:, 1] - across, lab[:, 2] - yellow)
    return bool(abs(across) < 8 and -6 < yellow < 22 and np.quantile(apart, 0.995) < 12)


def _effort(options: ConvertOptions, tile: Tile, size_mm: tuple[float, float]) -> Effort:
    """What the search may move, and how long it may look."""
    whole_round = options.fit == "wrap" and size_mm[0] > 0.95 * tile.lattice.circumference_mm
    pinned = set(options.pin)
    if options.width_mm is not None or whole_round:
        pinned.add("scale")
    if whole_round:
        pinned.add("turn")
    if options.moved_mm is not None:
        pinned |= {"shift", "scale", "turn"}
    if options.quick:
        pinned |= {"scale", "turn"}
    along_mm = tile.height_mm - options.gap_rounds * tile.lattice.rise_mm
    most_mm = most_width_mm(tile.lattice, options.fit)
    return Effort(
        shift="shift" not in pinned,
        scale="scale" not in pinned,
        turn="turn" not in pinned,
        most_scale=min(along_mm / size_mm[1], most_mm / size_mm[0]),
        quick=options.quick,
    )


def _repeated(placement: Placement, tile: Tile) -> Placement:
    """The placement with every repeat's centre."""
    azimuth, height = placement.centres[0]
    centres = tuple(
        (
            float((azimuth + tile.shift.walk_deg * number) % 360.0),
            float(height + number * tile.height_mm),
        )
        for number in range(tile.count)
    )
    return replace(placement, centres=centres)
