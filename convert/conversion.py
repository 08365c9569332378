"""From a picture to a design: place it, find where it reads best, give every bead its colour.

A motif that repeats is coloured once. Its tile is a whole number of the lattice's own returns to
the same face, so every repeat gets the same beads; the tile closes on itself, so the search can
move the lattice under the sketch by rolling one small array.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from ..core.design import Design, Fit, PlacedPicture, Repeat
from ..core.errors import WrongUsage
from ..core.lattice import FRONT_DEG, FaceReturn, Lattice
from . import colouring, sampling
from .likeness import Comparison, Likeness
from .placement import Placement, turned_size

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..palette.palette import Palette
    from .picture import Picture

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


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
        Code of the background bead.
    kind : 'flat' or 'shaded', optional
        Found from the picture if None.
    quick : bool
        A first look: no search.
    seed : int
    """

    rounds: int
    fit: Fit = "wrap"
    width_mm: float | None = None
    rotate_deg: float = 0.0
    repeat: int | Literal["fill", "once"] = "fill"
    gap_rounds: float = 1.0
    background: str | None = None
    kind: colouring.Kind | None = None
    quick: bool = False
    seed: int = 0


@dataclass(frozen=True, eq=False)
class Conversion:
    """A design and how it came about.

    Parameters
    ----------
    design : Design
    placement : Placement
    raster : Raster
        One tile of the sketch, with the motif in its middle.
    owner : (H, W) int
        Crossing (of the first repeat) that each pixel of the raster belongs to.
    kind : 'flat' or 'shaded'
    centred, found : Likeness
        Before and after the search.
    moved_mm : (float, float)
        How far the search moved the motif: right, up.
    notes : tuple of str
    """

    design: Design
    placement: Placement
    raster: sampling.Raster
    owner: Ints
    kind: colouring.Kind
    centred: Likeness
    found: Likeness
    moved_mm: tuple[float, float]
    notes: tuple[str, ...] = ()

    @property
    def gain(self) -> float:
        """How many times better than centred it reads."""
        return self.centred.score / max(self.found.score, 1e-9)


@dataclass(frozen=True)
class Tile:
    """The piece of braid that holds one motif.

    Parameters
    ----------
    first : int
        Its first crossing; may lie before the braid's when a tile is longer than the braid.
    shift : FaceReturn
        From one tile to the next.
    count : int
    lattice : Lattice
    """

    first: int
    shift: FaceReturn
    count: int
    lattice: Lattice = field(repr=False)

    @property
    def beads(self) -> int:
        """Beads of one tile."""
        return self.shift.rounds * self.lattice.braid.beads_per_round

    @property
    def height_mm(self) -> float:
        """Height of one tile."""
        return self.shift.rounds * self.lattice.rise_mm

    @property
    def bottom_mm(self) -> float:
        """Height of the first tile's lower edge: half a step below its first beads."""
        return (self.first // 2 - 0.5) * self.lattice.step_mm

    @property
    def middle_mm(self) -> float:
        """Height of the first tile's middle."""
        return self.bottom_mm + self.height_mm / 2

    def within(self, crossings: Ints) -> tuple[Ints, Ints]:
        """Return the tile of each crossing, and its place in the first tile."""
        steps = self.shift.rounds * self.lattice.braid.axes
        number = (crossings // 2 - self.first // 2) // steps
        step, side = np.divmod(crossings, 2)
        side = side ^ (int(self.shift.flip) * number % 2)
        return number, 2 * (step - number * steps) + side - self.first


def plan_tile(lattice: Lattice, height_mm: float, options: ConvertOptions) -> Tile:
    """Choose the tile of a motif and how often it comes.

    Raises
    ------
    WrongUsage
        If the motif, or the wanted number of motifs, does not fit on the braid.
    """
    rise = lattice.rise_mm
    total_mm = options.rounds * rise
    if height_mm > total_mm + 1e-6:
        raise WrongUsage(
            f"the motif is {height_mm:.0f} mm long, the beaded braid {total_mm:.0f} mm: make the "
            "motif smaller with --width, or the braid longer with --wrist or --length."
        )
    needed = height_mm / rise + max(0.0, options.gap_rounds)
    times = 1
    while lattice.face_return(times).rounds < needed - 1e-9:
        times += 1
    shift = lattice.face_return(times)
    fits = max(1, options.rounds // shift.rounds)
    count = {"fill": fits, "once": 1}.get(str(options.repeat)) or int(options.repeat)
    if count > fits:
        raise WrongUsage(
            f"{count} motifs need {count * shift.rounds * rise:.0f} mm ({shift.rounds} rounds "
            f"each); the beaded braid has {total_mm:.0f} mm, room for {fits}. Ask for fewer, or "
            "make the motif smaller with --width or the gap smaller with --gap."
        )
    spare = options.rounds - count * shift.rounds
    return Tile(lattice.braid.beads_per_round * (spare // 2), shift, count, lattice)


def tile_owner(tile: Tile, shape: tuple[int, int]) -> Ints:
    """Return the place in the tile of the nearest bead for every pixel, (H, W).

    The tile closes on itself: below it lies the tile before, above it the next.
    """
    lattice = tile.lattice
    x, y = sampling.grid_mm(lattice, shape, tile.bottom_mm, tile.bottom_mm + tile.height_mm)
    # look at a tile far enough up that beads lie all round it
    up = 2 + max(0, -(tile.first // tile.beads))
    across = x - np.deg2rad(tile.shift.walk_deg * up) * lattice.radius_mm
    count = tile.first + (up + 3) * tile.beads
    owner = lattice.owner(across[None, :], (y + up * tile.height_mm)[:, None], count)
    return tile.within(owner)[1]


def default_width_mm(lattice: Lattice, fit: Fit) -> float:
    """Half the circumference, or all of the front view."""
    return np.pi * lattice.radius_mm if fit == "wrap" else 2 * lattice.radius_mm


def background_index(
    picture: Picture, palette: Palette, flat: colouring.FlatColours, options: ConvertOptions
) -> int:
    """Return the background bead: the one asked for, or the one the picture's border suggests.

    A motif drawn tight to its frame touches the border too, so of the flat colours that make up a
    good part of the border the lightest is taken: paper is light, unless it is dark all round.
    """
    if options.background is not None:
        return palette.index(options.background)
    edge = np.zeros(picture.alpha.shape, dtype=bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    if (picture.alpha[edge] < 0.5).mean() > 0.5:
        return int(np.argmax(palette.lab[:, 0]))
    border = picture.linear[edge & (picture.alpha >= 0.5)]
    if not flat.flat:
        return int(np.bincount(colouring.match_linear(border, palette)).argmax())
    labels = colouring.label_flat(border, flat.linear)
    share = np.bincount(labels, minlength=len(flat.linear)) / len(labels)
    often = np.flatnonzero(share >= min(0.2, share.max()))
    lightest = often[np.argmax(flat.linear[often].sum(axis=1))]
    return int(colouring.match_linear(flat.linear[[lightest]], palette)[0])


def convert_picture(
    picture: Picture,
    palette: Palette,
    lattice: Lattice,
    bead: BeadSize,
    options: ConvertOptions,
    settings: dict[str, Any] | None = None,
) -> Conversion:
    """Turn a picture into a design.

    Parameters
    ----------
    picture : Picture
    palette : Palette
    lattice : Lattice
    bead : BeadSize
    options : ConvertOptions
    settings : dict, optional
        Written into the design.

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid, or a code is not in the palette.
    """
    wide_px, _ = turned_size(picture.size_px, options.rotate_deg)
    width_mm = options.width_mm or default_width_mm(lattice, options.fit)
    px_per_mm = wide_px / width_mm
    high_mm = turned_size(picture.size_px, options.rotate_deg)[1] / px_per_mm
    tile = plan_tile(lattice, high_mm, options)
    flat = colouring.flat_colours(picture)
    background = background_index(picture, palette, flat, options)
    centred = _placement(picture, lattice, tile, px_per_mm, options, (0.0, 0.0))
    raster = sampling.unroll(
        picture,
        Placement(**{**vars(centred), "centres": centred.centres[:1]}),
        lattice,
        tile.bottom_mm,
        tile.bottom_mm + tile.height_mm,
        sampling.PX_PER_PITCH / lattice.pitch_mm,
        palette.rgb[background],
    )
    painter = _Painter(flat, palette, raster, tile, background, options)
    shift = (0, 0) if options.quick else _best_shift(painter, lattice)
    colours = painter.colour(shift)
    row_mm, column_mm = tile.height_mm / raster.shape[0], 1 / raster.px_per_mm
    moved = (shift[1] * column_mm, -shift[0] * row_mm)
    placement = _placement(picture, lattice, tile, px_per_mm, options, moved)
    crossings = np.arange(options.rounds * lattice.braid.beads_per_round)
    number, place = tile.within(crossings)
    beads = np.where((number >= 0) & (number < tile.count), colours[place], background)
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
            px_per_mm=px_per_mm,
            front_deg=placement.front_deg,
            where_px=placement.picture_px(
                lattice.azimuth_deg(crossings), lattice.height_mm(crossings)
            ),
            rotate_deg=options.rotate_deg,
            centres=placement.centres,
        ),
        Repeat(max(0, tile.first), tile.shift.rounds, tile.shift.flip, tile.count)
        if tile.count > 1
        else None,
        settings or {},
    )
    return Conversion(
        design,
        placement,
        raster,
        painter.owner_at(shift) + tile.first,
        painter.kind,
        painter.judge((0, 0)),
        painter.judge(shift),
        moved,
        tuple(_notes(tile)),
    )


def _placement(
    picture: Picture,
    lattice: Lattice,
    tile: Tile,
    px_per_mm: float,
    options: ConvertOptions,
    moved_mm: tuple[float, float],
) -> Placement:
    """Place the motif in the middle of each tile, moved right and up."""
    front = FRONT_DEG - np.rad2deg(moved_mm[0] / lattice.radius_mm)
    centres = tuple(
        (
            float((front + tile.shift.walk_deg * number) % 360.0),
            float(tile.middle_mm + moved_mm[1] + number * tile.height_mm),
        )
        for number in range(tile.count)
    )
    return Placement(
        options.fit,
        px_per_mm,
        options.rotate_deg,
        picture.size_px,
        lattice.radius_mm,
        float(front),
        centres,
    )


def _notes(tile: Tile) -> list[str]:
    if tile.count < 2 or tile.shift.walk_deg == 0:
        return []
    way = "clockwise" if tile.shift.walk_deg > 0 else "counter-clockwise"
    return [
        f"With your measured drift each motif sits {abs(tile.shift.walk_deg):.1f}° further round "
        f"({way} from above) than the one before."
    ]


class _Painter:
    """Colours one tile for any shift of the lattice under the sketch, and judges it.

    A shift (rows, columns) moves the sketch down and right over the lattice; the lattice's owner
    map is rolled the other way, so that the sketch, and all that is known of it, stays put.
    """

    def __init__(
        self,
        flat: colouring.FlatColours,
        palette: Palette,
        raster: sampling.Raster,
        tile: Tile,
        background: int,
        options: ConvertOptions,
    ) -> None:
        self.raster, self.tile, self.palette = raster, tile, palette
        self._owner = tile_owner(tile, raster.shape)
        self.kind: colouring.Kind = options.kind or ("flat" if flat.flat else "shaded")
        if self.kind == "flat" and len(flat.linear):
            self._bead_of = np.append(colouring.match_linear(flat.linear, palette), background)
            labels = colouring.label_flat(raster.linear, flat.linear)
            self._labels = np.where(raster.cover < 0.5, len(flat.linear), labels)
        from ..palette.colour import srgb_to_linear

        self._linear = srgb_to_linear(palette.rgb)
        pitch = sampling.PX_PER_PITCH
        self._comparison = Comparison(raster.linear, (pitch, pitch), raster.cover > 0.5)

    def owner_at(self, shift: tuple[int, int]) -> Ints:
        """Return the owner map as it lies under the unmoved sketch."""
        return np.roll(self._owner, (-shift[0], -shift[1]), axis=(0, 1))

    def colour(self, shift: tuple[int, int]) -> Ints:
        """Return the palette index of every bead of the tile."""
        owner = self.owner_at(shift)
        if self.kind == "flat":
            kinds = len(self._bead_of)
            return np.asarray(
                self._bead_of[colouring.vote(owner, self._labels, self.tile.beads, kinds)]
            )
        means = colouring.cell_means(owner, self.raster.linear, self.tile.beads)
        return colouring.match_linear(means, self.palette)

    def drawn(self, shift: tuple[int, int]) -> npt.NDArray[np.float32]:
        """Return the beads as cells, (H, W, 3) linear light, under the unmoved sketch."""
        cells: npt.NDArray[np.float32] = self._linear[self.colour(shift)][self.owner_at(shift)]
        return cells

    def judge(self, shift: tuple[int, int]) -> Likeness:
        """Judge the colouring at a shift."""
        return self._comparison.measure(self.drawn(shift))


SEARCH_STEPS = 6
"""The lattice's cell is searched on this many by this many places, then around the best."""


def _best_shift(painter: _Painter, lattice: Lattice) -> tuple[int, int]:
    """Search one cell of the lattice for the shift that reads best."""
    right, up = lattice.offsets_mm[0], lattice.offsets_mm[1]
    per_mm = painter.raster.px_per_mm
    tried: dict[tuple[int, int], float] = {}

    def rank(shift: tuple[int, int]) -> float:
        if shift not in tried:
            tried[shift] = painter.judge(shift).score
        return tried[shift]

    rank((0, 0))
    parts = (np.arange(SEARCH_STEPS) / SEARCH_STEPS) - 0.5
    for i in parts:
        for j in parts:
            x, y = i * right + j * up
            rank((round(-y * per_mm), round(x * per_mm)))
    for row, column in sorted(tried, key=lambda s: (tried[s], s))[:3]:
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                rank((row + i, column + j))
    return min(tried, key=lambda s: (tried[s], s))
