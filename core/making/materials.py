"""What to buy for a design: beads with a spare allowance, grams, packets, cost, and the stock.

In a palette ``price`` is that of one packet (or tube) of a bead, ``packet`` the number of beads in
it, or ``grams`` their weight; ``per_gram`` is how many go to a gram, where that is not the usual
number for the size; ``stock`` is the number of beads at hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Ints
from ..bead import bead_sizes
from ..bounds import beyond
from ..errors import WrongUsage
from ..findings import Code, Finding
from .lengths import Cord, Lengths, cord

if TYPE_CHECKING:
    from ..bead import Bead, BeadSize
    from ..braid import Lattice
    from ..design import Design

SPARE = 0.10
"""Allowance for broken, odd and lost beads."""


@dataclass(frozen=True)
class Need:
    """What one bead of the palette comes to.

    Parameters
    ----------
    bead : Bead
    count : int
        In the braid.
    with_spare : int
        Spare allowance included, rounded up.
    grams : (float, float) or None
        Weight of `with_spare` beads, from their own or the usual beads per gram; None if not known.
    buy : int
        `with_spare` less the stock, not below 0.
    buy_grams : (float, float) or None
        Weight of `buy` beads, as `grams`.
    packets : int or None
        To buy, by the bead or counted with the heaviest usual one; None if weight or packet is not
        known.
    cost : float or None
        None if packets or price are not known.
    worth : float or None
        Price of the `count` beads alone, as their share of a packet; None if not known.
    """

    bead: Bead
    count: int
    with_spare: int
    grams: tuple[float, float] | None
    buy: int
    buy_grams: tuple[float, float] | None
    packets: int | None
    cost: float | None
    worth: float | None

    @property
    def short(self) -> bool:
        """Whether the stock is known and too small."""
        return self.bead.stock is not None and self.buy > 0

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines."""
        return {
            "code": self.bead.code,
            "name": self.bead.name,
            "count": self.count,
            "with_spare": self.with_spare,
            "grams": _rounded(self.grams),
            "stock": self.bead.stock,
            "buy": self.buy,
            "buy_grams": _rounded(self.buy_grams),
            "packets": self.packets,
            "cost": None if self.cost is None else round(self.cost, 2),
            "worth": None if self.worth is None else round(self.worth, 2),
        }


@dataclass(frozen=True)
class StockReach:
    """How far the stock goes.

    Parameters
    ----------
    first_out : Bead
        The bead that runs out first when the design is worked from its start, over and over.
    crossing : int
        0-based crossing that finds none left.
    rounds : int
        Even number of rounds that can be worked, the spare kept.
    length_mm : float
        Their beaded length.
    enough : bool
        Whether the stock allows the whole design.
    """

    first_out: Bead
    crossing: int
    rounds: int
    length_mm: float
    enough: bool


@dataclass(frozen=True)
class Materials:
    """The shopping list of a design.

    Parameters
    ----------
    needs : tuple of Need
        The beads that occur, in the palette's order.
    spare : float
        Allowance, a share of the beads.
    total : int
        Beads in the braid.
    per_strand : int
        Most beads on a strand.
    cord : Cord
    reach : StockReach or None
        None without any stock.
    """

    needs: tuple[Need, ...]
    spare: float
    total: int
    per_strand: int
    cord: Cord
    reach: StockReach | None

    @property
    def cost(self) -> float | None:
        """Sum of the known costs; None if none is known."""
        known = [need.cost for need in self.needs if need.cost is not None]
        return sum(known) if known else None

    @property
    def cost_complete(self) -> bool:
        """Whether the cost of every bead to buy is known."""
        return all(need.cost is not None for need in self.needs if need.buy)

    @property
    def short(self) -> tuple[Need, ...]:
        """The beads of which there are too few at hand."""
        return tuple(need for need in self.needs if need.short)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """How far the stock goes, what the beads cost, and what is not known of them."""
        return (*self._stock(), *self._cost(), *_unknown(self.needs))

    def _cost(self) -> list[Finding]:
        """What packets to buy and the beads in the piece cost; nothing if no price is known."""
        bought = [need for need in self.needs if need.buy and need.cost is not None]
        worths = [need.worth for need in self.needs if need.worth is not None]
        if not bought and not worths:
            return []
        data = {
            "cost": round(sum(need.cost or 0.0 for need in bought), 2),
            "packets": [{"code": need.bead.code, "packets": need.packets} for need in bought],
            "without": [need.bead.code for need in self.needs if need.buy and need.cost is None],
            "worth": round(sum(worths), 2) if len(worths) == len(self.needs) else None,
        }
        return [Finding(Code.COST, data)]

    def _stock(self) -> list[Finding]:
        """What the stock allows, every bead named that is short; nothing without a stock."""
        reach = self.reach
        if reach is None:
            return []
        data: dict[str, Any] = {
            "length_mm": round(reach.length_mm, 2),
            "first_out": reach.first_out.code_and_name,
        }
        if reach.enough:
            return [Finding(Code.STOCK_ENOUGH, data)]
        data |= {
            "missing": [need.bead.code_and_name | {"count": need.buy} for need in self.short],
            "crossing": reach.crossing + 1,
            "rounds": reach.rounds,
        }
        return [Finding(Code.STOCK_SHORT, data)]

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines."""
        reach = self.reach
        return {
            "beads": self.total,
            "beads_per_strand": self.per_strand,
            "spare": self.spare,
            "needs": [need.as_dict() for need in self.needs],
            "cost": None if self.cost is None else round(self.cost, 2),
            "cost_complete": self.cost_complete,
            "cord": self.cord.as_dict(),
            "stock": None
            if reach is None
            else {
                "runs_out_first": reach.first_out.code,
                "at_crossing": reach.crossing + 1,
                "rounds": reach.rounds,
                "length_mm": round(reach.length_mm, 2),
                "enough": reach.enough,
                "short": {need.bead.code: need.buy for need in self.short},
            },
            "findings": [one.as_dict() for one in self.findings],
        }


def with_spare(count: int, spare: float) -> int:
    """Return a count with its allowance, rounded up (2 beads and 10 % are 3)."""
    return math.ceil(count * (1 + spare) - 1e-9)


def weight_g(count: int, size: BeadSize | None) -> tuple[float, float] | None:
    """Return the lightest and heaviest usual weight of beads, from beads per gram."""
    if size is None or size.beads_per_gram is None:
        return None
    fewest, most = size.beads_per_gram
    return count / most, count / fewest


def _rounded(grams: tuple[float, float] | None) -> list[float] | None:
    return None if grams is None else [round(end, 2) for end in grams]


def materials(
    design: Design,
    *,
    spare: float = SPARE,
    packet_g: float | None = None,
) -> Materials:
    """Return what a design takes: the cord by its finished length, or the beaded one and 2 cm.

    Parameters
    ----------
    design : Design
    spare : float
        Allowance, 0 to 1.
    packet_g : float, optional
        Weight of a packet where the palette does not say.

    Raises
    ------
    WrongUsage
        If spare or packet are out of range.
    """
    _check_packet(spare, packet_g)
    finished_mm = design.origin.finished_mm or design.length_mm + 20.0
    counts = np.bincount(design.beads, minlength=len(design.palette)).tolist()
    needs = tuple(
        _need(bead, count, spare, packet_g, _size_of(bead, design.bead))
        for bead, count in zip(design.palette, counts, strict=True)
        if count
    )
    return Materials(
        needs=needs,
        spare=spare,
        total=len(design.beads),
        per_strand=-(-len(design.beads) // design.braid.strands),
        cord=cord(design.lattice, design.bead, float(finished_mm)),
        reach=stock_reach(design, spare),
    )


def _unknown(needs: tuple[Need, ...]) -> list[Finding]:
    """What is not known of the beads, and why."""
    unweighed = [n for n in needs if n.grams is None]
    nameless = [n for n in unweighed if n.bead.size is None and n.bead.shape != "drop"]
    nameless = [n for n in nameless if n.bead.packet is None]
    rare = [n for n in unweighed if n.bead.packet is None and n not in nameless]
    bare = [n for n in needs if n.bead.price and n.packets is None and n.grams is not None]
    found = []
    if nameless:
        data = {"codes": _codes(nameless), "sizes": list(bead_sizes()), "priced": _priced(nameless)}
        found.append(Finding(Code.SIZE_NOT_GIVEN, data))
    if rare:
        kinds = [
            {
                "code": n.bead.code,
                "kind": "drop" if n.bead.shape == "drop" else n.bead.size,
                "with_spare": n.with_spare,
            }
            for n in rare
        ]
        data = {"beads": kinds, "priced": _priced(rare)}
        found.append(Finding(Code.WEIGHT_NOT_KNOWN, data))
    if bare:
        found.append(Finding(Code.PACKET_NOT_KNOWN, {"codes": _codes(bare)}))
    return found


def _codes(needs: list[Need]) -> list[str]:
    return [need.bead.code for need in needs]


def _priced(needs: list[Need]) -> bool:
    """Whether a cost is not known as the weight is not."""
    return any(need.bead.price and need.packets is None for need in needs)


def _check_packet(spare: float, packet_g: float | None) -> None:
    if problem := beyond("spare", spare):
        raise WrongUsage(f"spare {problem}; 0.1 is 10 %.", "spare")
    if packet_g is not None and (problem := beyond("grams", packet_g)):
        raise WrongUsage(f"packet {problem}; give its weight, such as 10.", "packet_g")


def _size_of(bead: Bead, main: BeadSize) -> BeadSize | None:
    """The size of a palette's bead, as far as known; drops are no round beads."""
    if bead.shape == "drop":
        return None
    return main if bead.size in (None, main.name) else bead_sizes().get(bead.size or "")


def _need(
    bead: Bead, count: int, spare: float, packet_g: float | None, size: BeadSize | None
) -> Need:
    total = with_spare(count, spare)
    buy = max(0, total - (bead.stock or 0))
    buy_grams = _weight_of(bead, buy, size)
    weight = bead.grams if bead.grams is not None else packet_g
    packets = worth = None
    if buy == 0:
        packets = 0
    elif bead.packet:
        packets = -(-buy // bead.packet)
    elif weight and buy_grams is not None:
        packets = math.ceil(buy_grams[1] / weight - 1e-9)
    cost = None if packets is None or bead.price is None else packets * bead.price
    grams = _weight_of(bead, count, size)
    if bead.price is not None and bead.packet:
        worth = bead.price * count / bead.packet
    elif bead.price is not None and weight and grams is not None:
        worth = bead.price * sum(grams) / 2 / weight
    return Need(
        bead, count, total, _weight_of(bead, total, size), buy, buy_grams, packets, cost, worth
    )


def _weight_of(bead: Bead, count: int, size: BeadSize | None) -> tuple[float, float] | None:
    """Weight of beads by their own number to a gram, or by the usual one for their size."""
    if bead.per_gram is None:
        return weight_g(count, size)
    return count / bead.per_gram, count / bead.per_gram


def stock_reach(design: Design, spare: float = SPARE) -> StockReach | None:
    """Return how long a braid the stock allows, the spare kept back.

    The design is worked from its start, and from its start again when it ends. Beads without a
    stock are taken to be plenty.

    Returns
    -------
    StockReach or None
        None if no bead that occurs has a stock.
    """
    known = [
        index
        for index, bead in enumerate(design.palette)
        if bead.stock is not None and np.any(design.beads == index)
    ]
    if not known:
        return None
    total = len(design.beads)
    ends = [
        _first_without(design.beads, index, _usable(design.palette[index], spare))
        for index in known
    ]
    crossing = min(ends)
    first_out = design.palette[known[ends.index(crossing)]]
    per_round = design.braid.beads_per_round
    rounds = crossing // per_round // 2 * 2
    return StockReach(
        first_out=first_out,
        crossing=crossing,
        rounds=rounds,
        length_mm=rounds * design.lattice.rise_mm,
        enough=crossing >= total,
    )


def _usable(bead: Bead, spare: float) -> int:
    """Most beads that a stock allows with their spare: the largest n with n and spare in it."""
    stock = bead.stock or 0
    usable = math.floor(stock / (1 + spare) + 1e-9)
    while with_spare(usable, spare) > stock:
        usable -= 1
    return usable


def _first_without(beads: Ints, index: int, stock: int) -> int:
    """Crossing, counted on over repeated copies of a design, that finds none of a bead left."""
    where = np.flatnonzero(beads == index)
    copies, rest = divmod(stock, len(where))
    return int(copies * len(beads) + where[rest])


# -- without a design --------------------------------------------------------------------------


@dataclass(frozen=True)
class Plan:
    """A piece planned from a wrist or a length, before there is a design.

    Parameters
    ----------
    lengths : Lengths
    cord : Cord
    bead : BeadSize
    spare : float
    grams : (float, float) or None
        All beads with spare.
    packets : int or None
    """

    lengths: Lengths
    cord: Cord
    bead: BeadSize
    spare: float
    grams: tuple[float, float] | None
    packet_g: float | None = None

    @property
    def with_spare(self) -> int:
        """All beads, spare included."""
        return with_spare(self.lengths.beads, self.spare)

    @property
    def packets(self) -> int | None:
        """Packets of `packet_g` that hold all beads, if both weights are known."""
        if self.grams is None or self.packet_g is None:
            return None
        return math.ceil(self.grams[1] / self.packet_g - 1e-9)

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines."""
        return {
            "lengths": self.lengths.as_dict(),
            "bead": {
                "size": self.bead.name,
                "diameter_mm": self.bead.diameter_mm,
                "length_mm": self.bead.length_mm,
            },
            "spare": self.spare,
            "beads_with_spare": self.with_spare,
            "grams": _rounded(self.grams),
            "packets": self.packets,
            "cord": self.cord.as_dict(),
        }


def plan(
    lattice: Lattice,
    bead: BeadSize,
    planned: Lengths,
    *,
    spare: float = SPARE,
    packet_g: float | None = None,
) -> Plan:
    """Return beads, weight and cord for planned lengths (see `lengths.lengths`)."""
    _check_packet(spare, packet_g)
    total = with_spare(planned.beads, spare)
    return Plan(
        planned,
        cord(lattice, bead, planned.finished_mm),
        bead,
        spare,
        weight_g(total, bead),
        packet_g,
    )
