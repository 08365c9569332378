"""The usual cautions, in one place, as plain sentences for lists, sheets and plans."""

from __future__ import annotations

SMALL_PARTS = "Beads are small parts: keep them away from young children and from pets."
NEEDLES = "Beading needles are sharp: count them out and count them in."
CUTTERS = "Cut cord away from you, and keep blades and cutters out of children's reach."
GLUE = (
    "Glue the ends only where the air moves, keep glue off skin and eyes, and read its label "
    "before opening it."
)
NICKEL = (
    "Clasps and end caps lie on the skin: ask for nickel-safe metal if the wearer may be allergic."
)
DROPS = (
    "Drop beads stand out and can scratch skin and catch in cloth: keep them off the side that "
    "lies against the skin."
)
LOCAL_RULES = (
    "If you sell or give it away, the rules of the place where it is worn come first: small "
    "parts, metals in contact with the skin, children's jewellery."
)


def cautions(*, making: bool = True, fittings: bool = True, drops: bool = False) -> tuple[str, ...]:
    """Return the sentences that fit an output.

    Parameters
    ----------
    making : bool
        The output is worked from: needles and cutters are at hand, and glue for fittings.
    fittings : bool
        The output speaks of clasps or end caps.
    drops : bool
        The palette in use holds drop beads with a slanted hole.

    Returns
    -------
    tuple of str
        In the order of who meets them: maker, wearer, the law.
    """
    lines = [SMALL_PARTS]
    if making:
        lines += [NEEDLES, CUTTERS, *([GLUE] if fittings else [])]
    if drops:
        lines.append(DROPS)
    if fittings:
        lines.append(NICKEL)
    return (*lines, LOCAL_RULES)
